"""Unit conversion is exact; factors are those of the published definitions."""

from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.units import UNITS, UnitError, convert, convert_difference, exact, rounded, trimmed

# Definitions: inch 25.4 mm, pound .45359237 kg, standard gravity 9.80665 m/s^2, imperial gallon 4.54609 L.
DEFINED = [
    ("1", "in", "mm", "25.4"),
    ("1", "thou", "mm", "0.0254"),
    ("1", "mile", "km", "1.609344"),
    ("1", "lb", "kg", "0.45359237"),
    ("1", "cwt", "lb", "112"),
    ("1", "gal", "L", "4.54609"),
    ("8", "pt", "gal", "1"),
    ("1", "US gal", "L", "3.785411784"),
    ("32", "°F", "°C", "0"),
    ("212", "°F", "°C", "100"),
    ("-40", "°C", "°F", "-40"),
    ("0", "°C", "K", "273.15"),
    ("60", "mph", "km/h", "96.56064"),
    ("1", "bar", "kPa", "100"),
    ("1000", "mbar", "bar", "1"),
    ("1.5", "turn", "°", "540"),
    ("400", "mL/30 s", "L/min", "0.8"),
    ("0.3", "bar/3 min", "mbar/min", "100"),
    ("1", "kgf m", "Nm", "9.80665"),
]


@pytest.mark.parametrize(("value", "start", "to", "expected"), DEFINED)
def test_defined_factors(value, start, to, expected):
    assert convert(value, start, to) == Fraction(expected)


@pytest.mark.parametrize(
    ("symbol", "to", "known"),
    [
        ("psi", "bar", "psi"),
        ("lbf ft", "Nm", "force_pound * foot"),
        ("hp", "W", "horsepower"),
        ("lbf", "N", "force_pound"),
        ("yd", "m", "yard"),
        ("oz", "g", "ounce"),
    ],
)
def test_the_table_agrees_with_an_independent_registry(symbol, to, known):
    registry = pint.UnitRegistry()
    target = {"Nm": "newton * meter"}.get(to, to)
    assert float(convert(1, symbol, to)) == pytest.approx(
        registry.Quantity(1, known).to(target).magnitude, rel=1e-9
    )


same_kind = st.sampled_from(sorted(UNITS)).flatmap(
    lambda a: st.tuples(
        st.just(a), st.sampled_from(sorted(s for s, u in UNITS.items() if u.quantity == UNITS[a].quantity))
    )
)
decimals = st.decimals(-10_000, 10_000, places=3)


@given(same_kind, decimals)
def test_there_and_back_is_exactly_the_same(pair, value):
    start, to = pair
    assert convert(convert(value, start, to), to, start) == Fraction(value)
    assert convert_difference(convert_difference(value, start, to), to, start) == Fraction(value)


def test_a_difference_of_temperature_has_no_zero():
    assert convert_difference("9", "°F", "°C") == 5
    assert convert_difference("5", "°C", "K") == 5


def test_different_things_do_not_convert():
    with pytest.raises(UnitError, match="bar measures pressure, mm length"):
        convert(1, "bar", "mm")
    with pytest.raises(UnitError, match="a count"):
        convert(1, "", "mm")
    with pytest.raises(UnitError, match="Unknown unit 'furlong'"):
        convert(1, "furlong", "mm")


@pytest.mark.parametrize("bad", [0.1, True])
def test_binary_fractions_are_refused(bad):
    with pytest.raises(TypeError, match="binary"):
        exact(bad)


@pytest.mark.parametrize("bad", ["", "ten", Decimal("NaN"), "Infinity"])
def test_what_is_no_number_is_refused(bad):
    with pytest.raises(ValueError, match="number"):
        exact(bad)


@pytest.mark.parametrize(
    ("value", "places", "shown"),
    [
        (Fraction(1, 2), 0, "1"),
        (Fraction(-1, 2), 0, "-1"),
        (Fraction(5, 4), 1, "1.3"),
        (Fraction(1, 3), 3, "0.333"),
        (Fraction(4, 10), 3, "0.4"),
        (Fraction(1200), 1, "1200"),
        (Fraction(-1, 100000), 3, "0"),
        (Fraction(10**40 + 1, 10), 1, str(10**39) + ".1"),
    ],
)
def test_rounding_as_a_person_rounds(value, places, shown):
    assert str(rounded(value, places)) == shown


def test_trimming():
    assert [str(trimmed(Decimal(x))) for x in ("1.50", "100", "1E+2", "0.00")] == ["1.5", "100", "100", "0"]
