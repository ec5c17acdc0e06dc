"""The two bounds of a crank without a rod, and the published spreads of a battery's cells."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.reckoning.battery import judge_cells
from maintenance.reckoning.ignition import (
    degrees_bounds,
    degrees_from_travel,
    travel_bounds,
    travel_from_degrees,
)


@pytest.mark.parametrize(
    ("degrees", "true"),
    # Stroke 100, rod 200 by the slider-crank formula.
    [(5, 0.238), (10, 0.948), (15, 2.123), (20, 3.748), (25, 5.804), (30, 8.267), (45, 17.794), (90, 56.351)],
)
def test_the_true_travel_lies_between_the_bounds(degrees, true):
    low, high = travel_bounds(degrees, 100)
    assert low < true < high


def test_the_long_rod_is_the_sine_curve():
    # r (1 - cos) at 60 and 90 degrees: a quarter and half of the stroke.
    assert travel_bounds(60, 100)[0] == pytest.approx(25)
    assert travel_bounds(90, 100)[0] == pytest.approx(50)
    assert degrees_bounds(25, 100)[0] == pytest.approx(60)


@given(st.floats(0.5, 179), st.floats(20, 300), st.floats(1.4, 4))
def test_any_rod_from_1_4_strokes_on_lies_between(degrees, stroke, share):
    low, high = travel_bounds(degrees, stroke)
    travel = travel_from_degrees(degrees, stroke, share * stroke)
    assert low - 1e-9 <= travel <= high + 1e-9
    late, early = degrees_bounds(travel, stroke)
    assert early - 1e-4 <= degrees_from_travel(travel, stroke, share * stroke) <= late + 1e-4


@pytest.mark.parametrize("bad", [(-1, 100), (101, 100)])
def test_no_travel_outside_the_stroke(bad):
    with pytest.raises(ValueError):
        degrees_bounds(*bad)


def test_one_spread_passes_one_manual_and_fails_the_other():
    # TM 9-6140-200-14: above .025 unserviceable; TM 5-3805-281-24-2: .050.
    words = [one.word for one in judge_cells(["1.260", "1.230", "1.255"])]
    assert words == ["past", "within"]
    assert [one.word for one in judge_cells(["1.260", "1.235"])] == ["within", "within"]
    assert judge_cells(["1.260", "1.230", "1.255"])[0].flagged == (1,)
