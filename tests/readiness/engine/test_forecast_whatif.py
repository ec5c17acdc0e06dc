"""What would change it: paired differences on common draws."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from readiness.engine.forecast import forecast
from readiness.engine.whatif import (
    BroughtForward,
    DayAdded,
    FreezeMoved,
    JobBooked,
    JobDropped,
    PartDate,
    PartOrdered,
    PersonAdded,
    PersonAway,
    VehicleStoodDown,
    altered,
    best_acts,
    candidates,
    closure,
    what_if,
)
from readiness.engine.workshop import Delivery, Workshop, WorkshopError
from tests.readiness.engine.workshops import NOW, at, day, full_days, goal, hand, work


def museum() -> Workshop:
    """Two vehicles with a hand each, a third that both work on."""
    brakes, engine = frozenset({"brakes"}), frozenset({"engine"})
    hands = (
        hand("A", full_days(3), skills=brakes, turn_up=0.6),
        hand("B", full_days(3), skills=engine, turn_up=0.6),
    )
    works = (
        work("J1", (2.0, 4.0, 9.0), skills=brakes, rank=1),
        work("J2", (2.0, 4.0, 9.0), skills=engine, vehicle="Gannet", rank=1),
        work("J3", (2.0, 4.0, 9.0), skills=engine, vehicle="Gannet", rank=2),
        work("J4", 1.0, skills=brakes, vehicle="Wren", rank=3, booked=False),
        work("J5", 1.0, skills=engine, vehicle="Pip", rank=3, parts=("D",)),
    )
    goals = (
        goal(("J1",), at(2)),
        goal(("J2", "J3"), at(3), "S2", vehicle="Gannet"),
        goal(("J4",), at(3), "S3", vehicle="Wren"),
        goal(("J5",), at(3), "S4", vehicle="Pip"),
    )
    part = Delivery(uid="D", name="Seal", state="not_ordered", lead_days=1.0)
    return Workshop(now=NOW, horizon=at(4), hands=hands, works=works, goals=goals, deliveries=(part,))


def test_what_a_change_does_not_touch_does_not_move_at_all():
    answer = what_if(museum(), [PersonAway(hand="B")], samples=500)
    assert [m.goal for m in answer.moved] == ["S2"]
    assert answer.still == ("S1", "S3", "S4")
    assert np.array_equal(answer.before.finish["J1"], answer.after.finish["J1"])
    assert answer.moved[0].after == 0.0


def test_the_difference_is_paired_and_its_error_small():
    answer = what_if(
        museum(), [DayAdded(hand="A", day=day(0, start=17, end=20, worked=12))], samples=800, seed=3
    )
    (moved,) = answer.moved
    old, new = answer.before.goals["S1"], answer.after.goals["S1"]
    change = new.clear.astype(int) - old.clear
    assert moved.difference == pytest.approx(new.chance - old.chance)
    assert moved.error == pytest.approx(np.std(change) / math.sqrt(800))
    assert moved.error < math.hypot(old.error, new.error)
    assert (moved.before, moved.after) == (old.chance, new.chance)
    assert moved.difference > 0


def test_a_forecast_at_hand_is_used_and_must_match():
    before = forecast(museum(), samples=200, seed=5)
    answer = what_if(museum(), [PersonAway(hand="A", day=NOW.date())], samples=200, seed=5, before=before)
    assert answer.before is before
    assert [m.goal for m in answer.moved] == ["S1"]
    with pytest.raises(ValueError, match="same samples"):
        what_if(museum(), [], samples=100, seed=5, before=before)


@pytest.mark.parametrize(
    ("change", "moved", "gone"),
    [
        (PersonAdded(hand=hand("C", full_days(2), skills=frozenset({"brakes"}))), {"S1"}, ()),
        (PartDate(delivery="D", promised=at(0.5)), {"S2", "S4"}, ()),
        (PartOrdered(delivery="D", lead_days=0.1), {"S2", "S4"}, ()),
        (JobDropped(work="J1"), {"S1"}, ()),
        (JobDropped(work="J5"), {"S4"}, ()),
        (JobBooked(work="J4"), {"S3"}, ()),
        (BroughtForward(works=("J3",)), set(), ()),
        (VehicleStoodDown(vehicle="Gannet"), set(), ("S2",)),
        (FreezeMoved(deadline=at(1)), {"S1", "S2"}, ()),
        (FreezeMoved(deadline=at(1), goals=("S1",)), {"S1"}, ()),
    ],
)
def test_each_change_moves_what_it_should(change, moved, gone):
    answer = what_if(museum(), [change], samples=400)
    found = {m.goal for m in answer.moved}
    assert found == moved or (isinstance(change, PartDate | PartOrdered) and found == {"S4"})
    assert answer.gone == gone


def test_dropping_a_job_takes_it_out_of_every_need():
    workshop = replace(museum(), works=(*museum().works, work("J6", after=("J1",), after_if_done=("J2",))))
    changed = altered(workshop, [JobDropped(work="J1"), VehicleStoodDown(vehicle="Gannet")])
    last = next(w for w in changed.works if w.uid == "J6")
    assert (last.after, last.after_if_done) == ((), ())
    assert changed.goals[0].needs == ()
    assert {w.uid for w in changed.works} == {"J4", "J5", "J6"}


def test_what_is_brought_forward_takes_its_needs_along():
    workshop = replace(museum(), works=(*museum().works, work("J6", after=("J5",), rank=9)))
    ranks = {w.uid: w.rank for w in altered(workshop, [BroughtForward(works=("J6",))]).works}
    assert max(ranks["J5"], ranks["J6"]) < min(ranks[u] for u in ("J1", "J2", "J3", "J4"))
    assert ranks["J5"] < ranks["J6"]


@pytest.mark.parametrize(
    "change",
    [
        PersonAway(hand="Z"),
        JobDropped(work="Z"),
        JobBooked(work="Z"),
        BroughtForward(works=("Z",)),
        PartDate(delivery="Z", promised=at(1)),
        FreezeMoved(deadline=at(1), goals=("Z",)),
    ],
)
def test_a_change_of_what_is_not_there_is_refused(change):
    with pytest.raises(WorkshopError, match="Nothing here is called Z"):
        what_if(museum(), [change], samples=1)


def test_a_part_without_a_lead_time_cannot_be_ordered():
    part = Delivery(uid="D", name="Seal", state="unknown")
    with pytest.raises(WorkshopError, match="how long Seal takes"):
        altered(replace(museum(), deliveries=(part,)), [PartOrdered(delivery="D")])


def test_the_best_act_is_found_for_each_trouble():
    assert best_acts(museum(), "S3", samples=300)[0].change == JobBooked(work="J4")
    first = best_acts(museum(), "S4", samples=300)[0]
    assert first.change == PartOrdered(delivery="D")
    assert first.difference > 3 * first.error
    fewer = altered(museum(), [PersonAway(hand="A", day=at(1).date())])
    acts = best_acts(fewer, "S1", samples=300, most=2)
    assert acts[0].change == DayAdded(hand="A", day=day(1, worked=24))
    assert [act.difference for act in acts] == sorted((act.difference for act in acts), reverse=True)


def test_acts_that_do_not_help_are_left_out():
    useless = [PersonAway(hand="A"), JobBooked(work="J4"), FreezeMoved(deadline=at(2, 1), goals=("S1",))]
    assert best_acts(museum(), "S1", useless, samples=200) == ()
    with pytest.raises(WorkshopError):
        best_acts(museum(), "S9", samples=10)


def test_somebody_who_never_comes_is_not_asked_for_a_day():
    """And an entry that needs nothing has nothing to bring forward."""
    idle = replace(
        museum(), hands=(hand("A"), hand("B", full_days(1))), works=(), goals=(goal((), at(0, 1)),)
    )
    before = forecast(idle, samples=1)
    assert candidates(idle, before, idle.goals[0]) == []


def test_needs_that_join_again_are_counted_once():
    works = (work("J1"), work("J2", after=("J1",)), work("J3", after=("J1", "J2")))
    assert closure(replace(museum(), works=works), ("J3", "J9")) == {"J1", "J2", "J3"}
