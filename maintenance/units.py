"""The one place where units are converted, exactly.

Every factor is a fraction of whole numbers, so a reading that equals its limit in another unit equals it
after conversion too. Sources: International yard and pound agreement (1959) for inch, foot, mile and pound;
standard gravity 9.80665 m/s^2 (3rd General Conference on Weights and Measures, 1901); imperial gallon
4.54609 L (UK Units of Measurement Regulations 1995); US gallon 231 cubic inches.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType

Number = Decimal | Fraction | int


class UnitError(ValueError):
    """A unit is unknown, or two units measure different things."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One unit.

    Attributes:
        symbol: as it is written on a card.
        quantity: what it measures; only units of one quantity convert.
        factor: value in base units = (value + offset) x factor.
        offset: for temperatures only.
    """

    symbol: str
    quantity: str
    factor: Fraction
    offset: Fraction = Fraction(0)


def _f(text: str) -> Fraction:
    return Fraction(text)


_INCH = _f("0.0254")
_POUND = _f("0.45359237")
_POUND_FORCE = _POUND * _f("9.80665")
_PSI = _POUND_FORCE / (_INCH * _INCH)
_GALLON = _f("4.54609")
_US_GALLON = 231 * (_f("2.54") ** 3) / 1000

# quantity -> symbol -> factor to the base unit of that quantity (first in each row has factor 1).
_TABLE: Mapping[str, Mapping[str, Fraction]] = {
    "pressure": {
        "Pa": _f("1"),
        "kPa": _f("1000"),
        "MPa": _f("1000000"),
        "mbar": _f("100"),
        "bar": _f("100000"),
        "psi": _PSI,
        "inHg": _f("3386.389"),  # conventional inch of mercury, ISO 80000-4 value to its printed figures
    },
    "length": {
        "m": _f("1"),
        "mm": _f("0.001"),
        "cm": _f("0.01"),
        "km": _f("1000"),
        "in": _INCH,
        "thou": _INCH / 1000,
        "ft": 12 * _INCH,
        "yd": 36 * _INCH,
        "mile": 63360 * _INCH,
    },
    "mass": {
        "kg": _f("1"),
        "g": _f("0.001"),
        "t": _f("1000"),
        "lb": _POUND,
        "oz": _POUND / 16,
        "cwt": 112 * _POUND,
    },
    "force": {"N": _f("1"), "kN": _f("1000"), "lbf": _POUND_FORCE, "kgf": _f("9.80665")},
    "torque": {
        "Nm": _f("1"),
        "lbf ft": _POUND_FORCE * 12 * _INCH,
        "lbf in": _POUND_FORCE * _INCH,
        "kgf m": _f("9.80665"),
    },
    "volume": {
        "L": _f("1"),
        "mL": _f("0.001"),
        "gal": _GALLON,
        "pt": _GALLON / 8,
        "US gal": _US_GALLON,
        "US qt": _US_GALLON / 4,
    },
    "time": {"s": _f("1"), "min": _f("60"), "h": _f("3600"), "d": _f("86400")},
    "speed": {"m/s": _f("1"), "km/h": Fraction(1000, 3600), "mph": 63360 * _INCH / 3600},
    "turning speed": {"rev/min": _f("1"), "rev/s": _f("60")},
    "angle": {"°": _f("1"), "turn": _f("360")},
    "voltage": {"V": _f("1"), "mV": _f("0.001"), "kV": _f("1000")},
    "current": {"A": _f("1"), "mA": _f("0.001")},
    "resistance": {"ohm": _f("1"), "kohm": _f("1000"), "Mohm": _f("1000000")},
    "power": {"W": _f("1"), "kW": _f("1000"), "hp": 550 * _POUND_FORCE * 12 * _INCH},
    "density": {"kg/L": _f("1"), "g/mL": _f("1"), "SG": _f("1")},
    "flow": {"L/min": _f("1"), "mL/30 s": _f("0.002"), "gal/min": _GALLON, "L/h": Fraction(1, 60)},
    "pressure rate": {"bar/min": _f("1"), "mbar/min": _f("0.001"), "bar/3 min": Fraction(1, 3)},
    "oil use": {"L/10 h": _f("1"), "mL/h": _f("0.01")},
    "share": {"%": _f("1")},
    "concentration": {"ppm": _f("1")},
    "count": {"": _f("1"), "drips/min": _f("1"), "wires": _f("1")},
}

_SCALES = (
    Unit(symbol="K", quantity="temperature", factor=_f("1")),
    Unit(symbol="°C", quantity="temperature", factor=_f("1"), offset=_f("273.15")),
    Unit(symbol="°F", quantity="temperature", factor=Fraction(5, 9), offset=_f("459.67")),
)

UNITS: Mapping[str, Unit] = MappingProxyType(
    {
        symbol: Unit(symbol=symbol, quantity=quantity, factor=factor)
        for quantity, row in _TABLE.items()
        for symbol, factor in row.items()
    }
    | {unit.symbol: unit for unit in _SCALES}
)


def unit(symbol: str) -> Unit:
    """The unit of this symbol, or a UnitError."""
    found = UNITS.get(symbol)
    if found is None:
        raise UnitError(f"Unknown unit {symbol!r}.")
    return found


def exact(value: Number | str) -> Fraction:
    """A number as a fraction, without loss.

    Raises:
        TypeError: a binary float, which is already rounded, or a bool.
        ValueError: text that is no number, or a number that is not finite.
    """
    if isinstance(value, bool | float):
        raise TypeError("A reading is a decimal, never a binary fraction: give a Decimal or text.")
    if isinstance(value, str):
        try:
            value = Decimal(value.strip())
        except ArithmeticError as error:
            raise ValueError(f"{value!r} is not a number.") from error
    if isinstance(value, Decimal) and not value.is_finite():
        raise ValueError("A reading must be a finite number.")
    return Fraction(value)


def _pair(symbol: str, to: str) -> tuple[Unit, Unit]:
    start, end = unit(symbol), unit(to)
    if start.quantity != end.quantity:
        raise UnitError(f"{symbol or 'a count'} measures {start.quantity}, {to or 'a count'} {end.quantity}.")
    return start, end


def convert(value: Number | str, symbol: str, to: str) -> Fraction:
    """``value`` in ``symbol`` as a figure in ``to``, exactly.

    Raises:
        UnitError: unknown unit, or the two measure different things.
    """
    start, end = _pair(symbol, to)
    return (exact(value) + start.offset) * start.factor / end.factor - end.offset


def convert_difference(value: Number | str, symbol: str, to: str) -> Fraction:
    """A difference of two figures: as ``convert``, but a temperature scale's zero plays no part."""
    start, end = _pair(symbol, to)
    return exact(value) * start.factor / end.factor


def rounded(value: Fraction, places: int) -> Decimal:
    """Rounded half away from zero to ``places`` decimals, as a person rounds, without trailing zeros."""
    whole = (abs(value) * 10**places + Fraction(1, 2)).__floor__()
    digits = str(whole).rjust(places + 1, "0")
    text = f"{digits[:-places]}.{digits[-places:]}" if places else digits
    return trimmed(Decimal(f"-{text}" if value < 0 and whole else text))


def trimmed(value: Decimal) -> Decimal:
    """Without trailing zeros behind the point and without an exponent, no digit lost."""
    text = format(value, "f")
    return Decimal(text.rstrip("0").rstrip(".") if "." in text else text)
