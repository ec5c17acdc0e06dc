"""A figure as it was typed, with or without a unit of its own, in the unit of what is measured.

A gauge shows what it shows: 30 psi may be typed into a reading that is kept in bar. It is converted exactly
(maintenance/units.py) and rounded once, to six places, far finer than any gauge.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

from maintenance.units import UNITS, UnitError, convert, rounded, unit

PLACES = 6
_TYPED = re.compile(r"^\s*([+-]?\d+(?:[.,]\d+)?|[+-]?[.,]\d+)\s*(\S.*?)?\s*$")
SHORT = {
    "deg": "°",
    "degrees": "°",
    "c": "°C",
    "f": "°F",
    '"': "in",
    "l": "L",
    "ml": "mL",
    "nm": "Nm",
    "lb ft": "lbf ft",
}
_BY_FOLD = {symbol.casefold(): symbol for symbol in UNITS if symbol}


def parted(text: str) -> tuple[str, str]:
    """The figure and the unit behind it as this program writes it; the unit is empty where none was typed.

    Raises:
        ValueError: no figure, or a unit that is not known.
    """
    match = _TYPED.match(text)
    if match is None:
        raise ValueError(
            f"{text.strip() or 'nothing'} is not a number. Write one such as 2.4, or 35 psi with its unit."
        )
    number, given = match.group(1).replace(",", "."), match.group(2) or ""
    return number, _BY_FOLD.get(given.casefold()) or SHORT.get(given.casefold(), given)


def exact_in(text: str, symbol: str) -> Fraction:
    """The typed figure in the unit `symbol`, without any rounding; errors as `figure_in`."""
    number, named = parted(text)
    if not named or named == symbol:
        return Fraction(number)
    try:
        unit(named)
        return convert(Decimal(number), named, symbol)
    except UnitError as trouble:
        raise ValueError(f"{named} cannot be read in {symbol or 'a count'}. {trouble}") from trouble


def figure_in(text: str, symbol: str) -> tuple[str, str]:
    """The figure of `text` in the unit `symbol`, and what was typed where that was another unit (else empty).

    Raises:
        ValueError: no figure, an unknown unit, or one that measures something else; the sentence says which.
    """
    number, named = parted(text)
    if not named or named == symbol:
        return format(Decimal(number), "f"), ""
    return format(rounded(exact_in(text, symbol), PLACES), "f"), f"{number} {named}"


def also(value: Decimal | None, symbol: str, preferred: str) -> str:
    """The same figure in the museum's own unit, to three figures at most; empty where there is nothing to add."""
    if value is None or symbol == preferred or symbol not in UNITS or preferred not in UNITS:
        return ""
    if UNITS[symbol].quantity != UNITS[preferred].quantity:
        return ""
    there = convert(value, symbol, preferred)
    whole = len(str(abs(int(there)))) if int(there) else 0
    return f"{rounded(there, max(0, 3 - whole)):f} {preferred}"
