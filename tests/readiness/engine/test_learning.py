"""Learning from the record: shrinkage by hand, censoring by brute force, beta beliefs, calibration."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

from readiness.engine.learning import (
    DISCOVERY,
    STAFF,
    VOLUNTEER,
    Chance,
    Spent,
    habit,
    habits,
    lead_ratios,
    record,
    scatter,
    turn_ups,
)


def done(estimate, actual):
    return Spent(estimate=estimate, actual=actual)


def still(estimate, actual):
    return Spent(estimate=estimate, actual=actual, open=True)


def test_without_a_record_the_workshop_speaks():
    empty = habit([], workshop=0.2)
    assert (empty.log_factor, empty.weight) == (0.2, 0)
    assert empty.sentence == "x 1.22: no own record yet, the workshop's figure is used."


def test_finished_jobs_are_shrunk_by_the_formula():
    jobs = [done(4, 6), done(10, 12), done(2, 5)]
    r = [math.log(1.5), math.log(1.2), math.log(2.5)]
    w = 3 / (3 + 0.4**2 / 0.25**2)
    found = habit(jobs, workshop=0.1)
    assert found.weight == pytest.approx(w)
    assert found.log_factor == pytest.approx(w * sum(r) / 3 + (1 - w) * 0.1)
    assert found.factor == pytest.approx(math.exp(found.log_factor))
    assert found.sentence == f"x {found.factor:.2f} from 3 jobs; the own record counts 54%."
    assert "from 1 job, 1 of them still open" in habit([still(2, 3)]).sentence


def test_each_group_is_drawn_toward_the_workshop_and_the_workshop_toward_its_estimates():
    groups = {"a": [done(2, 4), done(3, 6)], "b": [done(5, 5)], "c": []}
    whole, each = habits(groups)
    # Three jobs, mean of ln(actual / estimate) 2 ln 2 / 3, shrunk toward 0: the same formula, by hand.
    weight = 3 / (3 + (0.4**2 + 0.25**2) / 0.4**2)
    assert whole.log_factor == pytest.approx(weight * 2 * math.log(2) / 3)
    own = 2 / (2 + 0.4**2 / 0.25**2)
    assert each["a"].log_factor == pytest.approx(own * math.log(2) + (1 - own) * whole.log_factor)
    assert each["c"].log_factor == pytest.approx(whole.log_factor)
    assert each["b"].log_factor < whole.log_factor < each["a"].log_factor
    nothing, none = habits({"a": []})
    assert nothing.log_factor == none["a"].log_factor == 0


def test_open_jobs_are_censored_by_brute_force():
    jobs = [done(4, 5), done(4, 3), still(4, 9), still(2, 3)]

    def loss(mean):
        total = 0.5 * (mean - 0.05) ** 2 / 0.3**2
        for job in jobs:
            z = (job.log_ratio - mean) / 0.5
            total -= stats.norm.logsf(z) if job.open else stats.norm.logpdf(z)
        return total

    best = optimize.minimize_scalar(loss, bounds=(-3, 3), method="bounded", options={"xatol": 1e-10})
    found = habit(jobs, workshop=0.05, scatter=0.5, between=0.3)
    assert found.log_factor == pytest.approx(best.x, abs=1e-6)
    assert (found.finished, found.unfinished) == (2, 2)


def test_an_open_job_that_has_hardly_begun_moves_nothing():
    finished = [done(4, 5), done(3, 5)]
    assert habit([*finished, still(40, 0.01)]).log_factor == pytest.approx(
        habit(finished).log_factor, abs=1e-9
    )


def test_leaving_open_overruns_out_would_be_too_hopeful():
    finished = [done(4, 4), done(4, 4)]
    assert habit([*finished, still(4, 12)]).factor > habit([*finished, done(4, 12)]).factor > 1


@given(st.lists(st.floats(0.2, 5), min_size=1, max_size=8), st.floats(0.2, 5))
def test_more_hours_never_lower_the_factor(ratios, last):
    jobs = [done(1, ratio) for ratio in ratios]
    assert habit([*jobs, done(1, last * 1.1)]).factor >= habit([*jobs, done(1, last)]).factor
    assert habit([*jobs, still(1, last * 1.1)]).factor >= habit([*jobs, still(1, last)]).factor - 1e-9


def test_the_two_scatters_are_found_again():
    rng = np.random.default_rng(6)
    groups = []
    for _ in range(600):
        mean = rng.normal(0.2, 0.3)
        groups.append([done(1, float(np.exp(r))) for r in rng.normal(mean, 0.5, size=rng.integers(1, 9))])
    found = scatter(groups)
    assert found.within == pytest.approx(0.5, rel=0.05)
    assert found.between == pytest.approx(0.3, rel=0.15)
    assert found.mean == pytest.approx(0.2, abs=0.05)


def test_scatter_needs_something_to_compare():
    assert scatter([]) is None
    assert scatter([[done(1, 2), done(1, 3)]]) is None
    assert scatter([[done(1, 2)], [done(1, 3)]]) is None
    assert scatter([[done(1, 2), done(1, 3)], [still(1, 3)]]) is None
    alike = scatter([[done(1, 2), done(1, 4)], [done(1, 4), done(1, 2)]])
    assert alike.between == 0
    assert alike.within == pytest.approx(math.log(2) / math.sqrt(2))


def test_turn_up_is_a_beta_belief():
    assert (VOLUNTEER.mean, STAFF.mean, DISCOVERY.mean) == pytest.approx((0.75, 0.97, 0.10))
    known = VOLUNTEER.update(3, 5)
    assert known.mean == pytest.approx((6 + 3) / 16)
    low, high = known.interval(0.8)
    assert stats.beta.cdf([low, high], 9, 7) == pytest.approx([0.1, 0.9])
    assert Chance.before(1.0).interval() == (1, 1)
    assert Chance.before(0.0, worth=2).update(1, 1).mean == 0.25


@given(st.integers(0, 50), st.integers(0, 50))
def test_order_of_sign_ins_changes_nothing(yes, no):
    assert VOLUNTEER.update(yes, 0).update(0, no) == VOLUNTEER.update(yes, no)
    assert VOLUNTEER.update(yes + 1, no).mean > VOLUNTEER.update(yes, no).mean


def test_lead_times_move_from_the_belief_to_the_record():
    assert dict(lead_ratios([])) == pytest.approx({1.0: 0.5, 1.3: 0.3, 2.0: 0.2})
    found = lead_ratios([1.0, 3.0], worth=2)
    assert [ratio for ratio, _ in found] == [1.0, 1.3, 2.0, 3.0]
    assert [chance for _, chance in found] == pytest.approx([0.5, 0.15, 0.1, 0.25])


def test_the_record_of_forecasts():
    found = record([0.8, 0.8, 0.8, 0.8, 0.3, 1.0], [True, True, True, False, False, True])
    assert found.brier == pytest.approx((3 * 0.04 + 0.64 + 0.09 + 0) / 6)
    assert [(t.low, t.count, t.came_true) for t in found.tenths] == [(0.3, 1, 0), (0.8, 4, 0.75), (0.9, 1, 1)]
    assert found.tenths[1].said == pytest.approx(0.8)
    assert found.tenths[1].error == pytest.approx(0.2)
    assert record([0.5, 0.5], [True, False]).brier == 0.25


@pytest.mark.parametrize(
    "call",
    [
        lambda: done(0, 1),
        lambda: done(1, 0),
        lambda: done(math.inf, 1),
        lambda: habit([], scatter=0),
        lambda: habit([], between=-1),
        lambda: Chance(yes=0, no=0),
        lambda: Chance(yes=-1, no=2),
        lambda: Chance.before(1.2),
        lambda: Chance.before(0.5, worth=0),
        lambda: VOLUNTEER.update(-1, 0),
        lambda: VOLUNTEER.interval(1),
        lambda: lead_ratios([0]),
        lambda: lead_ratios([], worth=0),
        lambda: lead_ratios([], before=[(1.0, 0.4)]),
        lambda: record([], []),
        lambda: record([0.5], [True, False]),
        lambda: record([1.5], [True]),
    ],
)
def test_bad_records_are_refused(call):
    with pytest.raises(ValueError):
        call()


def test_a_delivery_still_waited_for_weighs_on_what_lies_beyond():
    assert dict(lead_ratios([], waiting=[1.1])) == pytest.approx(
        {1.0: 3 / 7, 1.3: 1.8 * (1 + 1 / 3) / 7, 2.0: 1.2 * (1 + 1 / 3) / 7}
    )
    assert dict(lead_ratios([], waiting=[2.5]))[2.5] == pytest.approx(1 / 7)
    found = lead_ratios([1.0, 1.5], waiting=[0.2, 1.4, 3.0])
    assert sum(chance for _, chance in found) == pytest.approx(1)
    # Hardly begun: nothing moves but the belief's worth.
    early = dict(lead_ratios([], waiting=[0.1]))
    assert early == pytest.approx({1.0: 0.5, 1.3: 0.3, 2.0: 0.2})
    with pytest.raises(ValueError):
        lead_ratios([], waiting=[0])


def test_a_newcomer_is_believed_as_the_others_have_shown():
    """Default .75 worth 40; others came 5 of 10: 35 / 50 = .7. Own 0 of 8 on it: .7 x 8 / 16 = .35."""
    found = turn_ups({"A": (5, 5), "B": (0, 0), "C": (0, 8)}, 0.75)
    assert found["B"] == pytest.approx((30 + 5) / 58)
    assert found["C"] == pytest.approx(8 * 0.7 / 16)
    assert found["A"] == pytest.approx((8 * (30 / 48) + 5) / 18)  # without A's own days
    assert turn_ups({"A": (0, 0)}, 0.97) == {"A": 0.97}  # to the last bit: without a record nothing moves
    with pytest.raises(ValueError, match="between 0 and 1"):
        turn_ups({"A": (1, 0)}, 1.5)
