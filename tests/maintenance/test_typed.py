"""A figure typed in the unit of the gauge, kept in the unit of the reading, exact at the edges."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.typed import also, figure_in
from maintenance.units import UNITS, convert


@pytest.mark.parametrize(
    ("text", "symbol", "figure", "typed"),
    [
        ("2.1", "bar", "2.1", ""),
        (" 2,1 ", "bar", "2.1", ""),
        ("2,1 bar", "bar", "2.1", ""),
        ("2,1 BAR", "bar", "2.1", ""),
        (
            "30 psi",
            "bar",
            "2.068427",
            "30 psi",
        ),  # 1 psi = 6894.757293 Pa (pound and inch of 1959, standard gravity)
        ("1 mile", "km", "1.609344", "1 mile"),  # international mile, exact
        ("86 F", "°C", "30", "86 °F"),
        ("1 in", "mm", "25.4", "1 in"),  # exact since 1959
        ("-4,5", "mm", "-4.5", ""),
        ("12", "", "12", ""),
    ],
)
def test_read_as_it_was_typed(text, symbol, figure, typed):
    assert figure_in(text, symbol) == (figure, typed)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("wet", "not a number"),
        ("", "not a number"),
        ("3 lb", "lb measures mass"),
        ("3 furlong", "Unknown unit"),
        ("1e3", "Unknown unit"),
        ("1.2.3", "Unknown"),
    ],
)
def test_refused_with_what_is_wrong(text, words):
    with pytest.raises(ValueError, match=words):
        figure_in(text, "bar")


@given(st.decimals(0, 10_000, places=2), st.sampled_from(["psi", "kPa", "mbar"]))
def test_never_further_off_than_its_last_place(value, symbol):
    there, _ = figure_in(f"{value} {symbol}", "bar")
    assert abs(Decimal(there) - Decimal(float(convert(value, symbol, "bar")))) < Decimal("0.000001")


def test_the_museums_own_unit_beside_it():
    assert also(Decimal("2.1"), "bar", "psi") == "30.5 psi"
    assert also(Decimal("0.7"), "bar", "psi") == "10.2 psi"
    assert also(Decimal(400), "bar", "psi") == "5802 psi"
    assert (
        also(Decimal("2.1"), "bar", "bar") == also(None, "bar", "psi") == also(Decimal(1), "mm", "psi") == ""
    )
    assert set(UNITS)
