"""The robust line by hand, by brute force and on made-up wear with known truth."""

import itertools
import statistics
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.trend import Meeting, Refusal, fit, meets, meets_on

WEAR = [(0, 10.0), (100, 9.0), (200, 8.0), (300, 7.0), (400, 6.0)]


def test_a_clean_line_meets_its_limit_where_it_must():
    found = meets(WEAR, low=3.0)
    assert found.code == "meets"
    assert found.at == pytest.approx(700)
    assert found.soonest == pytest.approx(700)
    assert found.latest == pytest.approx(700)
    assert (found.line.slope, found.line.scatter, found.line.count) == (pytest.approx(-0.01), 0, 5)
    assert found.line.at(250) == pytest.approx(7.5)


def test_one_bad_reading_moves_it_little():
    spoilt = [*WEAR[:2], (200, 2.0), *WEAR[3:]]
    assert meets(spoilt, low=3.0).at == pytest.approx(700, abs=1)


def test_a_rising_reading_and_its_upper_limit():
    rising = [(x, 20 - y) for x, y in WEAR]
    assert meets(rising, high=17.0).at == pytest.approx(meets(WEAR, low=3.0).at)


points = st.lists(
    st.tuples(st.integers(0, 500), st.integers(0, 100)), min_size=4, max_size=9, unique_by=lambda p: p[0]
)


@given(points)
def test_the_slope_is_the_middle_of_all_slopes(history):
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in itertools.combinations(history, 2)]
    line = fit(history)
    assert line.slope == pytest.approx(statistics.median(slopes))
    assert line.slope_low <= line.slope <= line.slope_high
    assert fit(list(reversed(history))) == line


@given(points, st.integers(-50, 150))
def test_the_band_holds_the_line_and_nothing_lies_before_now(history, limit):
    found = meets(history, high=limit)
    now = max(x for x, _ in history)
    assert found.at is None or found.at >= now
    if found.at is not None:
        assert found.soonest is not None
        assert now <= found.soonest <= found.at + 1e-6
        assert found.latest is None or found.latest >= found.at - 1e-6


def test_the_band_holds_the_truth_about_as_often_as_it_should():
    rng = np.random.default_rng(4)
    held = 0
    for _ in range(300):
        x = np.arange(0, 1000, 100.0)
        y = 10 - 0.006 * x + rng.normal(0, 0.3, size=10)
        found = meets(list(zip(x, y, strict=True)), low=2.0)
        truth = 8 / 0.006
        held += found.soonest <= truth and (found.latest is None or truth <= found.latest)
    assert held / 300 >= 0.8


def test_a_line_that_runs_away_is_not_in_sight():
    found = meets([(x, y) for x, y in WEAR], high=12.0)
    assert (found.code, found.at, found.latest) == ("not-in-sight", None, None)
    flat = meets([(x, 5.0) for x in range(6)], low=4.0)
    assert (flat.code, flat.at, flat.soonest) == ("not-in-sight", None, None)


def test_a_wavering_history_has_an_open_latest():
    wavering = [(0, 5.0), (1, 7.0), (2, 4.0), (3, 7.5), (4, 5.5), (5, 6.5)]
    found = meets(wavering, high=9.0)
    assert found.latest is None
    assert found.soonest is not None


def test_already_past():
    found = meets(WEAR, low=6.5)
    assert found == Meeting(code="already-past", at=400, soonest=400, latest=400, line=found.line)
    exactly = meets([(0, 4.0), (1, 3.0), (2, 2.0), (3, 1.0)], low=1.0)
    assert (exactly.code, exactly.at) == ("meets", 3)


def test_a_flat_scattered_history_near_its_limit_may_meet_it_now():
    flat = [(0, 5.0), (1, 5.2), (2, 4.8), (3, 5.0), (4, 5.2), (5, 4.8)]
    found = meets(flat, high=5.2)
    assert found.soonest == 5


def test_by_date():
    days = [(date(2031, 1, 1 + 10 * i), 10.0 - i) for i in range(3)] + [(date(2031, 1, 31), 7.0)]
    found = meets_on(days, low=5.0)
    assert (found.code, found.on) == ("meets", date(2031, 2, 20))
    assert found.soonest <= found.on
    slow = [(date(2031, 1, 1 + i), 10.0 - i * 1e-6) for i in range(4)]
    far = meets_on(slow, low=0.0)
    assert (far.code, far.on) == ("meets", None)
    assert isinstance(meets_on(days[:2], low=5.0), Refusal)


def test_too_few_readings_are_refused_with_a_reason():
    assert meets(WEAR[:3], low=1.0) == Refusal(
        code="too-few", sentence="Too few readings for a line: 3 of 4."
    )
    same = fit([(1, 2.0), (1, 2.0), (1, 3.0), (2, 1.0)])
    assert (same.code, same.sentence) == (
        "no-span",
        "Too few different days or meter figures for a line: 2 of 4.",
    )


@pytest.mark.parametrize(
    "call",
    [
        lambda: meets(WEAR),
        lambda: meets(WEAR, low=1.0, high=2.0),
        lambda: fit(WEAR, level=1.0),
        lambda: fit([*WEAR, (500, float("nan"))]),
    ],
)
def test_bad_questions_are_refused(call):
    with pytest.raises(ValueError):
        call()


def test_the_band_takes_slope_and_scatter_by_hand():
    # Slopes of these five: middle 1.0; heights at x = 2: 2.0, 2.3, 1.7, 2.3, 2.0, so middle 2.0, and the
    # distances from it 0, .3, .3, .3, 0, so scatter 1.4826 x .3.
    found = meets([(0, 0.0), (1, 1.3), (2, 1.7), (3, 3.3), (4, 4.0)], high=20.0)
    line = found.line
    assert line.slope == pytest.approx(1.0)
    assert (line.middle_x, line.middle_y) == (2, pytest.approx(2.0))
    assert line.scatter == pytest.approx(1.4826 * 0.3)
    assert found.at == pytest.approx(20)
    assert found.soonest == pytest.approx(2 + (18 - 0.44478) / line.slope_high)
    assert found.latest == pytest.approx(2 + (18 + 0.44478) / line.slope_low)
    assert line.slope_low < 1 < line.slope_high
