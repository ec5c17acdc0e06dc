"""Batteries, mixing and torque."""

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from maintenance.reckoning.battery import charge, density_at_80f
from maintenance.reckoning.mixing import Exchange, blend, oil_for, strengthen
from maintenance.reckoning.torque import at_the_nut, setting


@pytest.mark.parametrize(
    ("volts", "percent"),
    # TM 5-3805-262-20, and half way between two rows.
    [
        ("11.0", 0),
        ("11.7", 0),
        ("12.0", 25),
        ("12.2", 50),
        ("12.4", 75),
        ("12.6", 100),
        ("12.9", 100),
        ("12.3", 63),
    ],
)
def test_charge(volts, percent):
    assert charge(volts) == percent
    assert charge(Decimal(volts) / 2, nominal=6) == percent
    assert charge(Decimal(volts) * 2, nominal=24) == percent


def test_other_batteries_are_not_known():
    with pytest.raises(ValueError, match="6, 12 or 24"):
        charge("12", nominal=8)


@given(st.decimals(11, 13, places=2), st.decimals(0, 1, places=2))
def test_more_volts_never_less_charge(volts, more):
    assert charge(volts + more) >= charge(volts)


@pytest.mark.parametrize(
    ("density", "degrees", "unit", "at_80"),
    # Service manual page: 1.250 at 90 F is 1.254, at 70 F 1.246.
    [
        ("1.250", 90, "°F", "1.254"),
        ("1.250", 70, "°F", "1.246"),
        ("1.250", 80, "°F", "1.25"),
        ("1.250", 20, "°C", "1.245"),
    ],
)
def test_density(density, degrees, unit, at_80):
    assert density_at_80f(density, degrees, unit) == Decimal(at_80)


def test_oil_in_fuel():
    assert oil_for(5, 25) == Fraction("0.2")
    assert oil_for("0", 16) == 0


def test_coolant():
    # 10 L at 20 %: exchange 3.75 L for neat to have 50 %.
    assert strengthen(10, 20, 50) == Exchange(drain=Fraction("3.75"), fill=Fraction("3.75"))
    assert strengthen(10, 50, 25, fill=0).drain == 5
    assert strengthen(10, 33, 33).drain == 0
    assert strengthen(10, 20, 100).drain == 10


shares = st.integers(0, 100)


@given(st.integers(1, 60), shares, shares, shares)
def test_the_exchange_gives_the_strength_asked_for(volume, now, wanted, fill):
    assume(now != fill and min(now, fill) <= wanted <= max(now, fill))
    part = strengthen(volume, now, wanted, fill)
    total, strength = blend([(Fraction(volume) - part.drain, now), (part.fill, fill)])
    assert (total, strength) == (volume, wanted)


@pytest.mark.parametrize(
    "call",
    [
        lambda: oil_for(-1, 25),
        lambda: oil_for(1, 0),
        lambda: strengthen(0, 20, 50),
        lambda: strengthen(10, 20, 101),
        lambda: strengthen(10, 20, 50, fill=40),
        lambda: strengthen(10, 20, 10),
        lambda: strengthen(10, 20, 50, fill=20),
        lambda: blend([]),
        lambda: blend([(-1, 50)]),
        lambda: setting(0, 1, 1),
        lambda: setting(1, 1, -1),
        lambda: setting(1, 1, 1, 180),
        lambda: setting(math.inf, 1, 1),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(ValueError):
        call()


def test_a_longer_spanner():
    # 100 x 400 / (400 + 100) = 80.
    assert setting(100, 400, 100) == pytest.approx(80)
    assert setting(100, 400, 100, 90) == pytest.approx(100)
    assert setting(100, 400, 100, 180) == pytest.approx(100 * 400 / 300)
    assert setting(100, 400, 0) == 100


@given(st.floats(1, 500), st.floats(50, 1500), st.floats(0, 500), st.floats(-80, 80))
def test_the_nut_gets_what_was_wanted(wanted, spanner, extension, degrees):
    assert at_the_nut(
        setting(wanted, spanner, extension, degrees), spanner, extension, degrees
    ) == pytest.approx(wanted)
