"""Brakes, tracks and gearing."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from maintenance.reckoning import gearing, tracks
from maintenance.reckoning.brakes import efficiency, efficiency_from_stop, judge_efficiency, judge_imbalance


def test_efficiency_is_effort_over_weight():
    assert efficiency(["2.0", "1.3", "1.5", "1.2"], "12") == Decimal(50)


@pytest.mark.parametrize(
    ("effort", "word", "by"), [("58", "within", "0"), ("57.9", "past", "0.1"), ("60", "within", "2")]
)
def test_the_service_brake_of_a_modern_car(effort, word, by):
    # UK roadworthiness: 58 % for cars from 1 September 2010.
    found = judge_efficiency(
        [effort], 100, least=Decimal(58), source="UK roadworthiness, cars from 2010-09-01"
    )
    assert (found.word, str(found.by)) == (word, by)


def test_an_endless_decimal_does_not_slip_over_the_edge():
    third = judge_efficiency(["1"], 3, least=Decimal("33.3333333333334"), source="x")
    assert third.word == "past"
    assert judge_efficiency(["1"], 3, least=Decimal("33.3333333333"), source="x").word == "within"


def test_the_published_imbalance():
    # UK roadworthiness: 2.0 and 1.3 give 35 %; over 30 % fails.
    found = judge_imbalance(["2.0", "1.3"])
    assert (found.word, str(found.by), found.flagged) == ("past", "5", (1,))
    assert found.sentence == "Offside: past the limit by 5%"
    assert judge_imbalance(["1.4", "2.0"]).word == "within"
    with pytest.raises(ValueError, match="two wheels"):
        judge_imbalance(["1", "1", "1"])


def test_a_stop():
    # v^2 / (2 g d): 36 km/h is 10 m/s; 10.2 m gives 50 %.
    assert efficiency_from_stop(36, "10.197") == Decimal(50)
    assert efficiency_from_stop("32", "8") == Decimal("50.4")


@pytest.mark.parametrize(
    "call",
    [
        lambda: efficiency([], 1),
        lambda: efficiency(["-1"], 1),
        lambda: efficiency(["1"], 0),
        lambda: efficiency_from_stop(0, 1),
        lambda: tracks.slack(100, 30),
        lambda: tracks.slack(0, 0),
        lambda: tracks.sag_for(1, -1),
        lambda: tracks.stretch(0, 1),
        lambda: gearing.rolling(0),
        lambda: gearing.rolling(100, 0.5),
        lambda: gearing.speed_kmh(-1, 2, 1),
        lambda: gearing.speed_kmh(1000, 2),
        lambda: gearing.speed_kmh(1000, 2, 0),
        lambda: gearing.true_speed(30, 0, 2),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(ValueError):
        call()


@given(st.floats(100, 3000), st.floats(0.001, 0.08))
def test_slack_is_the_arc_of_the_parabola(span, share):
    sag = span * share
    # Arc of y = 4 sag x (span - x) / span^2, by quadrature.
    arc, _ = integrate.quad(lambda x: (1 + (4 * sag * (span - 2 * x) / span**2) ** 2) ** 0.5, 0, span)
    assert tracks.slack(span, sag) == pytest.approx(arc - span, rel=0.03)
    assert tracks.sag_for(span, tracks.slack(span, sag)) == pytest.approx(sag)


def test_both_sides_of_a_track():
    one, both = tracks.judge_sag("30", "45", low=Decimal(25), high=Decimal(45), apart=Decimal(10), source="x")
    assert (one.word, one.sentence) == ("within", "At the limit, which passes")
    assert (both.word, both.sentence) == ("past", "Left, right: past the limit by 5 mm")


def test_worn_pins():
    assert tracks.stretch("1545", "1500") == Decimal(3)
    assert tracks.judge_stretch("1545", "1500").word == "within"
    assert tracks.judge_stretch("1545.1", "1500").word == "past"


def test_road_speed():
    # 900 mm steel wheel, 1000 rev/min, 5 to 1 and 4 to 1: 50 turns a minute of 2.827 m.
    assert gearing.speed_kmh(1000, gearing.rolling(900), 5, 4) == pytest.approx(8.4823, abs=1e-4)
    assert gearing.rolling(900, 0.03) == pytest.approx(gearing.rolling(900) * 0.97)
    assert gearing.true_speed(40, 2.2, 2.0) == pytest.approx(44)


@given(st.floats(100, 4000), st.floats(0.5, 5), st.lists(st.floats(0.2, 10), min_size=1, max_size=4))
def test_speed_and_back(rpm, around, ratios):
    assert gearing.engine_rpm(gearing.speed_kmh(rpm, around, *ratios), around, *ratios) == pytest.approx(rpm)
