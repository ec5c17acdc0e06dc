"""The forecast against closed forms, cases worked by hand and properties that must hold."""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from scipy import stats

from readiness.engine import ENGINE_VERSION
from readiness.engine.calendar import grid_of
from readiness.engine.estimates import Lognormal, Pert
from readiness.engine.forecast import forecast
from readiness.engine.params import Params
from readiness.engine.plan_policy import Plan, PlanRow
from readiness.engine.sampling import draw, quantile, remaining_hours
from readiness.engine.workshop import (
    Delivery,
    Discovery,
    Estimate,
    Place,
    Tool,
    WorkDay,
    Workshop,
    WorkshopError,
)
from tests.readiness.engine.workshops import NOW, at, day, full_days, goal, hand, random_workshop, work

CALM = Params(common_sigma=0.0)
N = 4000


def shop(hands, works, goals=(), *, days=10, params=CALM, **more) -> Workshop:
    return Workshop(
        now=NOW,
        horizon=at(days),
        hands=tuple(hands),
        works=tuple(works),
        goals=tuple(goals),
        params=params,
        **more,
    )


def edge(day_offset: int, hour: float) -> int:
    """Slot edge of a wall time; now is 08:00."""
    return int(day_offset * 96 + (hour - 8) * 4)


# --- worked by hand ---------------------------------------------------------------------------------------


def test_a_day_with_no_uncertainty_worked_by_hand():
    """A works 10 to 16 without a break. J1 3 h, J2 2 h, then J3 2 h, of which only 1 h is left that day."""
    works = [work("J1", 3.0, rank=1), work("J2", 2.0, rank=2), work("J3", 2.0, rank=3)]
    goals = [goal(("J1", "J2"), at(0, 7)), goal(("J3",), at(0, 8), "S2"), goal(("J3",), at(1, 3), "S3")]
    answer = forecast(shop([hand("A", full_days(3))], works, goals), samples=10)
    assert {uid: edges.tolist() for uid, edges in answer.finish.items()} == {
        "J1": [edge(0, 13)] * 10,
        "J2": [edge(0, 15)] * 10,
        "J3": [edge(1, 11)] * 10,
    }
    first, second, third = (answer.goals[uid] for uid in ("S1", "S2", "S3"))
    assert (first.chance, first.error, first.percent) == (1.0, 0.0, 100)
    assert first.even == first.eight_in_ten == NOW.replace(hour=15)
    assert first.float_hours == 0.0
    assert (second.chance, second.float_hours) == (0.0, -19.0)
    assert third.chance == 1.0
    assert (answer.version, answer.seed, answer.samples, answer.policy) == (ENGINE_VERSION, 0, 10, "dispatch")


def test_the_default_day_gives_four_bench_hours():
    """16 worked quarter hours from 10 to 16: four hours take the whole day, one more quarter the next."""
    days = tuple(WorkDay.on(NOW.date() + timedelta(days=k)) for k in range(2))
    answer = forecast(shop([hand("A", days)], [work("J1", 4.0)]), samples=1)
    assert answer.finish["J1"].tolist() == [edge(0, 16)]
    answer = forecast(shop([hand("A", days)], [work("J1", 4.25)]), samples=1)
    # The first worked quarter hour of an even 2 in 3 is the second slot of the day.
    assert answer.finish["J1"].tolist() == [edge(1, 10.5)]


def test_two_people_work_only_while_both_are_there():
    early = hand("A", (day(0, start=10, end=13, worked=12), day(1, start=10, end=13, worked=12)))
    late = hand("B", (day(0, start=12, end=16, worked=16), day(1, start=12, end=16, worked=16)))
    answer = forecast(shop([early, late], [work("J1", 1.5, persons=2)]), samples=1)
    assert answer.finish["J1"].tolist() == [edge(1, 12.5)]


def test_a_trainee_counts_half_and_never_leads():
    learner = hand("T", full_days(2), trainee=True)
    answer = forecast(shop([learner], [work("J1", 1.0)]), samples=1)
    assert answer.impossible == {"J1": "Job J1: nobody here has the skill (any)"}
    answer = forecast(shop([learner, hand("A", full_days(2))], [work("J1", 3.0, persons=2)]), samples=1)
    assert answer.finish["J1"].tolist() == [edge(0, 14)]  # 3 h x 2 people / 1.5


def test_one_late_part_holds_nobodys_list():
    parts = (
        Delivery(
            uid="D", name="Hose", state="on_order", ordered=at(-1), promised=at(2), ratios=((1.0, 1.0),)
        ),
    )
    works = [work("J1", 1.0, parts=("D",), rank=1), work("J2", 1.0, rank=2)]
    answer = forecast(shop([hand("A", full_days(5))], works, deliveries=parts), samples=1)
    assert answer.finish["J2"].tolist() == [edge(0, 11)]
    assert answer.finish["J1"].tolist() == [edge(2, 11)]


def test_a_place_is_held_from_opening_to_refit_while_a_found_part_is_awaited():
    found = Discovery(
        chance=1.0,
        extra=Estimate.three(1, 1, 1),
        part=Delivery(uid="X", name="Stud", state="not_ordered", lead_days=1.0, ratios=((1.0, 1.0),)),
    )
    works = [work("J1", 1.0, place="pit", discovery=found, rank=1), work("J2", 1.0, place="pit", rank=2)]
    answer = forecast(
        shop([hand("A", full_days(5))], works, places=(Place(uid="pit", name="Pit"),)), samples=1
    )
    assert answer.finish["J1"].tolist() == [edge(1, 12)]
    assert answer.finish["J2"].tolist() == [edge(1, 13)]


def test_a_group_pays_its_opening_and_closing_once():
    access = {"open_hours": Estimate.three(1, 1, 1), "close_hours": Estimate.three(1, 1, 1)}
    alone = [work(u, 1.0, **access) for u in ("J1", "J2")]
    shared = [replace(w, group="pack") for w in alone]
    one = hand("A", full_days(3))
    assert forecast(shop([one], alone), samples=1).finish["J2"].tolist() == [edge(0, 16)]
    both = forecast(shop([one], shared), samples=1).finish
    assert (both["J1"].tolist(), both["J2"].tolist()) == ([edge(0, 14)], [edge(0, 14)])


def test_curing_is_calendar_time_without_hands():
    glued = work("J1", 1.0, cure_hours=20.0, functional_hours=0.5)
    answer = forecast(shop([hand("A", full_days(3))], [glued, work("J2", 2.0, rank=1)]), samples=1)
    assert answer.finish["J2"].tolist() == [edge(0, 13)]
    assert answer.finish["J1"].tolist() == [edge(1, 10.5)]


def test_who_did_the_work_does_not_sign_for_it():
    both = [hand(u, full_days(3), signs=frozenset({"stop"})) for u in ("A", "B")]
    answer = forecast(shop(both, [work("J1", 1.0, persons=1, second_signature="stop")]), samples=1)
    assert answer.finish["J1"].tolist() == [edge(0, 11.5)]
    answer = forecast(shop(both, [work("J1", 1.0, persons=2, second_signature="stop")]), samples=1)
    assert answer.impossible == {"J1": "Job J1: the only person who may sign is needed to do the work"}
    assert answer.finish["J1"].tolist() == [answer.grid.never]
    answer = forecast(shop([hand("A", full_days(1))], [work("J1", second_signature="stop")]), samples=1)
    assert answer.impossible == {"J1": "Job J1: nobody may give the second signature for stop"}


def test_a_visit_happens_on_its_day_or_never():
    visit = work("J2", None, after=("J1",), fixed=at(1, 4))
    one = hand("A", full_days(4))
    assert forecast(shop([one], [work("J1", 6.0), visit]), samples=1).finish["J2"].tolist() == [edge(1, 12)]
    answer = forecast(shop([one], [work("J1", 11.0), visit]), samples=1)
    assert answer.finish["J2"].tolist() == [answer.grid.never]


def test_after_if_done_binds_only_where_the_other_gets_done():
    one = hand("A", full_days(4))
    other = work("J1", 2.0, rank=2)
    soft = work("J2", 1.0, after_if_done=("J1",), rank=1)
    assert forecast(shop([one], [other, soft]), samples=1).finish["J2"].tolist() == [edge(0, 13)]
    for gone in (replace(other, booked=False), replace(other, skills=frozenset({"steam"}))):
        assert forecast(shop([one], [gone, soft]), samples=1).finish["J2"].tolist() == [edge(0, 11)]


def test_what_never_comes_is_never_done_and_is_said():
    parts = tuple(Delivery(uid=s, name=s.title(), state=s) for s in ("on_order", "not_ordered", "unknown"))  # type: ignore[arg-type]
    works = [work(f"J{p.uid}", 1.0, parts=(p.uid,)) for p in parts]
    works.append(work("J4", 1.0, tools=("jack",)))
    tools = (Tool(uid="jack", name="Jack", missing=True),)
    goals = [goal((w.uid,), at(5), w.uid) for w in works]
    answer = forecast(shop([hand("A", full_days(5))], works, goals, deliveries=parts, tools=tools), samples=5)
    assert {g.chance for g in answer.goals.values()} == {0.0}
    assert [(f.code, f.subject) for f in answer.flags] == [
        ("part-no-date", "on_order"),
        ("part-not-ordered", "not_ordered"),
        ("part-unknown", "unknown"),
    ]
    held = {uid: [(h.kind, h.subject, h.share) for h in g.holds] for uid, g in answer.goals.items()}
    assert held["Junknown"] == [("waiting", "unknown", 1.0)]
    assert held["J4"] == [("waiting", "jack", 1.0)]


# --- closed forms -----------------------------------------------------------------------------------------


def near(found: float, expected: float, samples: int = N) -> bool:
    return abs(found - expected) <= 3 * math.sqrt(expected * (1 - expected) / samples) + 1e-12


@pytest.mark.parametrize("hours", [8, 9, 11, 12])
def test_one_job_meets_the_beta_pert_distribution(hours):
    """P(done within k quarter hours) = P(X <= (k + 1/2) / 4), X beta-PERT (5, 8, 17)."""
    around_the_clock = tuple(
        WorkDay(start=NOW + timedelta(days=k), end=NOW + timedelta(days=k + 1), worked_slots=96)
        for k in range(3)
    )
    works, goals = [work("J1", (5.0, 8.0, 17.0))], [goal(("J1",), at(0, hours))]
    answer = forecast(shop([hand("A", around_the_clock)], works, goals, days=3), samples=N, seed=11)
    expected = stats.beta(2, 4, loc=5, scale=12).cdf(hours + 0.125)
    assert near(answer.goals["S1"].chance, expected)


def test_a_chain_meets_the_sum_of_its_jobs():
    """Three jobs in turn: mean and variance add (exact beta variance), the sum nearly normal."""
    around = tuple(
        WorkDay(start=NOW + timedelta(days=k), end=NOW + timedelta(days=k + 1), worked_slots=96)
        for k in range(4)
    )
    three = [(5.0, 8.0, 17.0), (2.0, 7.0, 10.0), (3.0, 4.0, 11.0)]
    works = [work(f"J{i}", e, after=(f"J{i - 1}",) if i else ()) for i, e in enumerate(three)]
    answer = forecast(shop([hand("A", around), hand("B", around)], works, days=4), samples=N, seed=5)
    hours = answer.finish["J2"] / 4
    mean, variance = 9 + 20 / 3 + 5, 4.571429 + 2.222222 + 1.714286  # published table, exact variances
    assert abs(hours.mean() - mean) < 3 * math.sqrt(variance / N)
    assert abs(hours.var() / variance - 1) < 3 * math.sqrt(2 / N) * 1.2


@pytest.mark.parametrize("days", [1, 2, 4])
def test_no_shows_are_drawn_by_the_day(days):
    """A job that needs one whole day, k days to do it: 1 - (1 - p)^k."""
    works, goals = [work("J1", 6.0)], [goal(("J1",), at(days))]
    answer = forecast(shop([hand("A", full_days(days), turn_up=0.7)], works, goals), samples=N, seed=2)
    assert near(answer.goals["S1"].chance, 1 - 0.3**days)


def test_the_common_factor_moves_the_whole_fleet_and_has_mean_one():
    days = tuple(WorkDay(start=at(k), end=at(k + 1), worked_slots=96) for k in range(9))
    works = [work(f"J{i}", 40.0) for i in range(2)]
    hands = [hand("A", days), hand("B", days)]
    answer = forecast(shop(hands, works, params=Params()), samples=N, seed=1)
    first, second = answer.finish["J0"] / 4, answer.finish["J1"] / 4
    assert np.array_equal(first, second)
    assert abs(first.mean() - 40) < 3 * 40 * math.sqrt(math.expm1(0.04) / N)
    assert abs(np.log(first).std() - 0.2) < 0.01


def test_late_parts_follow_their_record_given_that_they_are_not_here():
    """Promised 10 days, ordered 11 days ago: ratio 1.0 is out, 1.3 and 2.0 remain as .3 to .2."""
    part = Delivery(uid="D", name="Hose", state="on_order", ordered=at(-11), promised=at(-1))
    there = hand("A", tuple(day(k, start=0, end=24, worked=96) for k in range(1, 10)))
    answer = forecast(
        shop([there], [work("J1", 0.25, parts=("D",))], [goal(("J1",), at(3))], deliveries=(part,)),
        samples=N,
        seed=4,
    )
    assert near(answer.goals["S1"].chance, 0.6)
    assert set(np.unique(answer.finish["J1"])) == {2 * 96 + 1, 9 * 96 + 1}


def test_a_delivery_later_than_any_on_record_takes_half_its_lead_time_again():
    part = Delivery(uid="D", name="Hose", state="on_order", ordered=at(-40), promised=at(-36))
    there = hand("A", tuple(day(k, start=0, end=24, worked=96) for k in range(1, 10)))
    answer = forecast(shop([there], [work("J1", 0.25, parts=("D",))], deliveries=(part,)), samples=3)
    assert answer.finish["J1"].tolist() == [2 * 96 + 1] * 3


def test_a_running_job_is_drawn_given_that_it_is_not_finished():
    spread = Pert(2.0, 4.0, 8.0)
    u = (np.arange(20000) + 0.5) / 20000
    left = remaining_hours(Estimate.three(2, 4, 8), 5.0, np.ones_like(u), u, CALM)
    x = np.linspace(5, 8, 200001)
    survival = 1 - spread.cdf(x)
    expected = survival.sum() * (x[1] - x[0]) / survival[0]
    assert left.mean() == pytest.approx(expected, rel=2e-3)
    assert left.min() >= 0
    assert left.max() <= 3.0


def test_an_overrun_estimate_becomes_a_guess():
    u = (np.arange(20000) + 0.5) / 20000
    left = remaining_hours(Estimate.three(1, 2, 3), 4.0, np.ones_like(u), u, CALM)
    guess = stats.lognorm(0.6, scale=2.0)
    median = guess.ppf(guess.cdf(4.0) + 0.5 * guess.sf(4.0)) - 4.0
    assert np.median(left) == pytest.approx(median, rel=1e-3)


@pytest.mark.parametrize("shape", [(1, 4, 7), (5, 8, 17), (2, 7, 10), (3, 4, 11), (0, 0, 1), (0, 1, 1)])
def test_the_quantile_table_is_within_a_ten_thousandth_of_the_range(shape):
    spread = Pert(*map(float, shape))
    u = np.random.default_rng(3).random(20000)
    assert np.abs(quantile(spread, u) - spread.ppf(u)).max() < 1e-4 * (spread.high - spread.low)


def test_a_guess_and_an_expert_scatter_as_set():
    params = Params(guess_sigma=0.6, expert_sigma=0.5)
    assert Estimate.guess(3.0).spread(params) == Lognormal(3.0, 0.6)
    assert Estimate.expert(3.0).spread(params) == Lognormal(3.0, 0.5)
    answer = forecast(
        shop([hand("A", full_days(1))], [work("J1", None, estimate=Estimate.guess(1.0))]), samples=1
    )
    assert [(f.code, f.subject) for f in answer.flags] == [("guess", "J1")]


def test_discovery_comes_as_often_as_said():
    found = Discovery(chance=0.35, extra=Estimate.three(1, 1, 1))
    works, goals = [work("J1", 6.0, discovery=found)], [goal(("J1",), at(0, 8))]
    answer = forecast(shop([hand("A", full_days(2))], works, goals), samples=N, seed=9)
    assert near(answer.goals["S1"].chance, 0.65)


# --- properties -------------------------------------------------------------------------------------------


def test_no_network_is_likelier_than_any_of_its_paths():
    """P(all by T) <= P(any one path by T) on the same draws."""
    for seed in range(20):
        workshop = random_workshop(seed)
        try:
            answer = forecast(workshop, samples=200, seed=seed)
        except WorkshopError:
            continue
        for entry in workshop.goals:
            clear = answer.goals[entry.uid].clear
            limit = answer.grid.edge_at_or_before(entry.deadline)
            for uid in entry.needs:
                assert not (clear & (answer.finish[uid] > limit)).any()


def test_row_order_does_not_matter():
    for seed in range(12):
        workshop = random_workshop(seed)
        r = random.Random(seed)
        mixed = {}
        for name in ("hands", "places", "tools", "deliveries", "works", "goals"):
            rows = list(getattr(workshop, name))
            r.shuffle(rows)
            mixed[name] = tuple(rows)
        try:
            first = forecast(workshop, samples=50, seed=1)
        except WorkshopError:
            continue
        second = forecast(replace(workshop, **mixed), samples=50, seed=1)
        assert all(np.array_equal(first.finish[uid], second.finish[uid]) for uid in first.finish)
        assert {u: g.holds for u, g in first.goals.items()} == {u: g.holds for u, g in second.goals.items()}
        assert first.flags == second.flags


def test_same_seed_same_answer_other_seed_another():
    workshop = random_workshop(3)
    first, again, other = (forecast(workshop, samples=200, seed=s) for s in (1, 1, 2))
    assert all(np.array_equal(first.finish[u], again.finish[u]) for u in first.finish)
    assert any(not np.array_equal(first.finish[u], other.finish[u]) for u in first.finish)


def test_a_later_part_never_ends_a_single_job_sooner():
    def finish(days: float):
        part = Delivery(uid="D", name="Hose", state="on_order", ordered=at(-1), promised=at(days))
        one = hand("A", full_days(10), turn_up=0.7)
        return forecast(
            shop([one], [work("J1", (1.0, 2.0, 6.0), parts=("D",))], deliveries=(part,)), samples=300
        ).finish["J1"]

    edges = [finish(days) for days in (0.5, 1, 2, 4)]
    for sooner, later in itertools.pairwise(edges):
        assert (sooner <= later).all()
    assert (edges[0] < edges[-1]).any()


def test_one_more_hand_never_delays_a_short_job_of_the_highest_rank():
    """Not true of every job (list scheduling has its anomalies); true of the first if it fits into a day."""
    works = [work("J1", (0.5, 1.0, 3.0), rank=1), work("J2", (1.0, 2.0, 4.0), rank=2)]
    one, two = hand("B", full_days(4), turn_up=0.6), hand("A", full_days(4), turn_up=0.6)
    alone = forecast(shop([one], works), samples=300).finish["J1"]
    joined = forecast(shop([one, two], works), samples=300).finish["J1"]
    assert (joined <= alone).all()
    assert (joined < alone).any()


def test_samples_past_the_horizon_are_kept():
    works, goals = [work("J1", (5.0, 8.0, 17.0))], [goal(("J1",), at(2))]
    answer = forecast(shop([hand("A", full_days(9), turn_up=0.5)], works, goals, days=2), samples=500)
    entry = answer.goals["S1"]
    assert len(answer.finish["J1"]) == 500
    assert (answer.finish["J1"] == answer.grid.never).sum() == 500 - entry.clear.sum() > 0
    assert entry.eight_in_ten is None


def test_a_deadline_past_the_horizon_moves_the_horizon():
    works, goals = [work("J1", 8.0)], [goal(("J1",), at(4))]
    assert (
        forecast(shop([hand("A", full_days(4))], works, goals, days=0.5), samples=1).goals["S1"].chance == 1.0
    )


def test_an_entry_without_needs_is_clear_and_an_impossible_one_is_not():
    goals = [goal((), at(1)), goal((), at(1), "S2", impossible=True)]
    answer = forecast(shop([hand("A", full_days(1))], [], goals), samples=4)
    assert [(g.percent, g.holds) for g in answer.goals.values()] == [(100, ()), (0, ())]


def test_percent_rounds_halves_up():
    works, goals = [work("J1", 6.0)], [goal(("J1",), at(1))]
    for samples in (8, 40, 200):
        answer = forecast(shop([hand("A", full_days(1), turn_up=0.5)], works, goals), samples=samples, seed=8)
        entry = answer.goals["S1"]
        assert entry.percent == math.floor(100 * entry.clear.sum() / samples + 0.5)


def test_nobody_at_all_is_no_crash():
    answer = forecast(shop([], [work("J1")], [goal(("J1",), at(1))]), samples=3)
    assert answer.goals["S1"].chance == 0.0
    assert answer.impossible == {"J1": "Job J1: nobody here has the skill (any)"}


# --- holds ------------------------------------------------------------------------------------------------


def test_holds_cut_the_time_into_own_waiting_and_behind():
    """J1 of another vehicle 10-12, then J2 12-13: 2 h nobody there, 2 h behind, 1 h own."""
    works = [work("J1", 2.0, vehicle="Gannet", rank=1), work("J2", 1.0, rank=2)]
    answer = forecast(shop([hand("A", full_days(1))], works, [goal(("J2",), at(1))]), samples=7)
    assert [(h.kind, h.subject, h.share) for h in answer.goals["S1"].holds] == [
        ("behind", "J1", 0.4),
        ("waiting", "A", 0.4),
        ("own", "J2", 0.2),
    ]


def test_holds_name_the_place_through_who_holds_it_and_the_part():
    part = Delivery(
        uid="D", name="Hose", state="on_order", ordered=at(-1), promised=at(1), ratios=((1.0, 1.0),)
    )
    works = [
        work("J1", 4.0, vehicle="Gannet", place="pit", parts=("D",), rank=1, prefers="A"),
        work("J2", 1.0, place="pit", not_before=at(1, 3), rank=2),
    ]
    hands = [hand("A", full_days(2)), hand("B", full_days(2))]
    places = (Place(uid="pit", name="Pit"),)
    answer = forecast(
        shop(hands, works, [goal(("J2",), at(3))], deliveries=(part,), places=places), samples=3
    )
    # 24 h until the part, 2 h until 10:00, 4 h behind J1, 1 h own.
    assert [(h.kind, h.subject, round(h.share * 31, 6)) for h in answer.goals["S1"].holds] == [
        ("waiting", "D", 24.0),
        ("behind", "J1", 4.0),
        ("waiting", "skill:any work", 2.0),
        ("own", "J2", 1.0),
    ]


def test_holds_name_consent_and_the_tool_that_comes_back():
    tools = (Tool(uid="jack", name="Jack", back=at(0, 4)),)
    works = [work("J1", 1.0, tools=("jack",), hold_until=at(0, 3), hold_for="the curator")]
    answer = forecast(shop([hand("A", full_days(1))], works, [goal(("J1",), at(1))], tools=tools), samples=2)
    assert [(h.subject, h.label, round(h.share * 5, 6)) for h in answer.goals["S1"].holds] == [
        ("J1", "Job J1: the curator", 3.0),
        ("J1", "Job J1", 1.0),
        ("jack", "Jack", 1.0),
    ]


def test_shares_add_up_to_one():
    for seed in range(15):
        try:
            answer = forecast(random_workshop(seed), samples=100, seed=seed)
        except WorkshopError:
            continue
        for entry in answer.goals.values():
            if entry.holds:
                assert sum(h.share for h in entry.holds) == pytest.approx(1.0)


def test_holds_name_the_day_of_a_visit():
    works = [work("J1", None, fixed=at(1))]
    answer = forecast(shop([], works, [goal(("J1",), at(2))]), samples=2)
    assert [(h.kind, h.label, h.share) for h in answer.goals["S1"].holds] == [
        ("waiting", "Job J1: the day of the visit", 1.0)
    ]
    assert answer.done_by("J1", 0.5) == at(1)


def test_a_promise_without_an_order_date_counts_from_now_and_a_find_may_never_come():
    part = Delivery(uid="D", name="Hose", state="on_order", promised=at(1), ratios=((1.0, 0.5), (2.0, 0.5)))
    there = hand("A", tuple(day(k, start=0, end=24, worked=96) for k in range(1, 4)))
    answer = forecast(shop([there], [work("J1", 0.25, parts=("D",))], deliveries=(part,)), samples=200)
    assert set(np.unique(answer.finish["J1"])) == {97, 193}
    lost = Discovery(
        chance=1.0, extra=Estimate.three(1, 1, 1), part=Delivery(uid="X", name="Stud", state="unknown")
    )
    entry = [goal(("J1",), at(2))]
    answer = forecast(shop([there], [work("J1", 0.25, discovery=lost)], entry), samples=2)
    assert answer.goals["S1"].chance == 0.0


# --- what cannot be forecast ------------------------------------------------------------------------------


def test_a_ring_of_jobs_is_named():
    works = [
        work("J1", after=("J3",)),
        work("J2", after=("J1",)),
        work("J3", after_if_done=("J2",)),
        work("J4"),
    ]
    with pytest.raises(WorkshopError, match="wait for each other") as error:
        forecast(shop([hand("A", full_days(1))], works), samples=1)
    assert error.value.problems == ("These jobs wait for each other: Job J1, Job J2, Job J3",)


def test_unknown_names_are_all_listed():
    works = [work("J1", after=("J9",), place="loft", tools=("awl",), parts=("D9",), persons=9), work("J1")]
    with pytest.raises(WorkshopError) as error:
        forecast(shop([hand("A", full_days(1))], works, [goal(("J8",), at(1))]), samples=1)
    assert error.value.problems == (
        "work J1 is given twice",
        "Job J1 names work J9, which does not exist",
        "Job J1 names place loft, which does not exist",
        "Job J1 names tool awl, which does not exist",
        "Job J1 names part D9, which does not exist",
        "Job J1 asks for more than 8 people at once",
        "Entry S1 needs work J8, which does not exist",
    )


def test_a_group_stays_on_one_vehicle():
    works = [work("J1", group="pack"), work("J2", group="pack", vehicle="Gannet")]
    with pytest.raises(WorkshopError, match="different vehicles"):
        forecast(shop([], works), samples=1)


def test_arguments_are_checked():
    with pytest.raises(ValueError, match="sample"):
        forecast(shop([], []), samples=0)
    with pytest.raises(ValueError, match="needs a plan"):
        forecast(shop([], []), policy="plan")


# --- plans ------------------------------------------------------------------------------------------------


def test_a_plan_fixes_people_and_order():
    works = [work("J1", 1.0, rank=1), work("J2", 2.0, rank=2)]
    plan = Plan(rows=(PlanRow(work="J2", hands=("A",)), PlanRow(work="J1", hands=("A",))))
    hands = [hand("A", full_days(1)), hand("B", full_days(1))]
    answer = forecast(shop(hands, works), samples=2, policy="plan", plan=plan)
    assert (answer.finish["J2"].tolist(), answer.finish["J1"].tolist()) == (
        [edge(0, 12)] * 2,
        [edge(0, 13)] * 2,
    )
    assert answer.policy == "plan"


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([("J9", ("A",))], "is no booked work"),
        ([("J1", ("Z",))], "The plan gives J1 to Z"),
        ([("J1", ())], "nobody"),
        ([("J1", ("B", "A"))], "B may not lead it"),
        ([("J1", ("A",))], "needs 2 people, the plan gives 1"),
        ([("J2", ("A",)), ("J1", ("A", "B"))], "before Job J1, which it needs"),
        ([("J1", ("A", "B")), ("J1", ("A", "B"))], "twice"),
        ([("J3", ("A", "B"))], "a helper without the skill"),
    ],
)
def test_a_plan_that_contradicts_the_work_is_refused(rows, words):
    brakes = frozenset({"brakes"})
    works = [
        work("J1", persons=2, skills=brakes),
        work("J2", after=("J1",)),
        work("J3", persons=2, skills=brakes, helper_any=False),
    ]
    hands = [hand("A", full_days(1), skills=frozenset({"brakes"})), hand("B", full_days(1))]
    plan = Plan(rows=tuple(PlanRow(work=w, hands=h) for w, h in rows))
    with pytest.raises(WorkshopError, match=words):
        forecast(shop(hands, works), samples=1, policy="plan", plan=plan)


def test_the_signer_of_a_plan_did_none_of_the_work():
    signs = frozenset({"stop"})
    hands = [hand(u, full_days(1), signs=signs) for u in ("A", "B")]
    works = [work("J1", 1.0, second_signature="stop")]
    good = Plan(rows=(PlanRow(work="J1", hands=("A",), signer="B"),))
    assert forecast(shop(hands, works), samples=1, policy="plan", plan=good).finish["J1"].tolist() == [
        edge(0, 11.5)
    ]
    bad = Plan(rows=(PlanRow(work="J1", hands=("A",), signer="A"),))
    with pytest.raises(WorkshopError, match="may not sign"):
        forecast(shop(hands, works), samples=1, policy="plan", plan=bad)


def test_draws_hang_on_names_not_on_content():
    workshop = random_workshop(5)
    grid = grid_of(workshop)
    before = draw(workshop, grid, samples=50, seed=6)
    fewer = replace(workshop, works=workshop.works[1:], hands=workshop.hands[1:])
    after = draw(fewer, grid, samples=50, seed=6)
    assert all(
        np.array_equal(before.hours[key], after.hours[key]) for key in after.hours if "group" not in key[0]
    )
    assert all(np.array_equal(before.present[uid], after.present[uid]) for uid in after.present)
