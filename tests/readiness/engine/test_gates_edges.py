"""The rarer edges of the gates, people, limits and intervals (*common practice*; the ladder is the museum's own)."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from readiness.engine import gates, intervals, state
from readiness.engine.crew import judge_crew
from readiness.engine.forecast import what_if
from readiness.engine.put_off import last_day
from readiness.engine.whatif import JobDropped
from readiness.engine.workshop import WorkshopError
from tests.readiness.engine.cases import (
    at,
    codes,
    day,
    defect,
    deferral,
    entry,
    event,
    inspections,
    job,
    judge,
    limit,
    museum,
    slot,
    vehicle,
)  # fmt: skip
from tests.readiness.engine.workshops import random_workshop

MARSHALS = (state.CrewDuty(duty="marshal", borrowed="A"), state.CrewDuty(duty="marshal", borrowed="B"))


def test_steam_is_asked_of_steam_vehicles_only() -> None:
    lost = defect("lost", "STEAM")
    assert judge(vehicle(defects=(lost,))).standing == "fit"
    boiler = state.Inspection(uid="b", kind="boiler", name="boiler", valid_through=day(60))
    engine = vehicle(defects=(lost,), steam=True, inspections=(*inspections(), boiler))
    assert judge(engine).standing == "open"


def test_gas_is_not_asked_where_nobody_sits_inside() -> None:
    leak = vehicle(defects=(defect("lost", "BREATHE"),))
    assert judge(leak, entry(slot("running"), crewed_inside=False)).standing == "fit"
    assert judge(leak, entry(slot("running"))).standing == "open"


def test_a_slot_may_ask_more_than_its_role() -> None:
    gear = vehicle(defects=(defect("lost", "WORK"),))
    assert judge(gear, entry(slot("arena"))).standing == "fit"
    assert judge(gear, entry(slot("arena", also_asks=frozenset({"WORK"})))).standing == "open"


def test_recovery_counts_no_hours_by_itself_and_gear_hours_where_it_works() -> None:
    assert entry(slot("recovery")).use.hours == 0
    assert entry(slot("recovery", hours=Decimal(2))).use.hours == 2
    assert entry(slot("arena", also_asks=frozenset({"WORK"}))).use.gear_hours == 1
    assert entry(slot("standby")).use.starts == 0


def test_a_stripped_card_not_meant_for_before_the_event_is_open_without_work() -> None:
    verdict = judge(vehicle(jobs=(job(stripped=True, before_event=False),)))
    assert (verdict.standing, verdict.impossible, codes(verdict, "open")) == (
        "open",
        True,
        ["stripped-not-refitted"],
    )


def test_an_open_gate_without_a_chance_is_only_open() -> None:
    verdict = judge(vehicle(defects=(defect("lost", jobs=("J1",)),), jobs=(job(),)))
    assert gates.with_chance(verdict, None) == "open"
    assert gates.with_chance(judge(vehicle()), None) == "fit"


def test_a_standby_that_does_not_say_how_soon_is_noted() -> None:
    covered = entry(slot("road", uid="road"), uid="E2", vehicle="V2")
    mine = entry(slot("standby", "09:00", "17:00", uid="stand"), covers="V2")
    ev = event(mine, covered)
    verdict = gates.judge(museum(vehicle(), vehicle(uid="V2"), the_event=ev), ev, mine)
    assert (verdict.standing, codes(verdict)) == ("fit", ["standby-readiness-not-said"])


@pytest.mark.parametrize(
    ("kind", "change", "standing"),
    [
        ("named driver", {}, "limits"),
        ("named driver", {"crew": (state.CrewDuty(duty="driver", person="P1"),)}, "limits"),
        ("named driver", {"crew": (state.CrewDuty(duty="driver", person="P2"),)}, "barred"),
        ("max speed", {}, "unjudged"),  # a limit without its figure cannot be compared
    ],
)
def test_drivers_and_figures(kind: str, change: dict[str, object], standing: str) -> None:
    carried = defect("reduced", "TELL", deferrals=(deferral(limit(kind, driver="P1")),))
    assert judge(vehicle(defects=(carried,)), entry(slot("road"), **change)).standing == standing


def test_a_limit_that_a_card_lifts_in_time_leaves_the_gate_open() -> None:
    carried = defect("reduced", "TELL", deferrals=(deferral(limit("no road")),), jobs=("J1",))
    verdict = judge(vehicle(defects=(carried,), jobs=(job(),)), entry(slot("road")))
    assert (verdict.standing, "limit-forbids-slot" in codes(verdict, "open")) == ("open", True)


def test_serious_without_an_event_on_file_holds_as_long_as_medium() -> None:
    serious = deferral(
        limit("arena only"),
        severity_without=2,
        severity_with=2,
        probability_with="C",
        ends_on=day(400),
        signed_on=day(0),
    )
    assert last_day(serious, vehicle(), ()) == day(90)
    assert last_day(serious, vehicle(), (day(1),)) == day(1)


def test_the_best_of_several_deferrals_counts_and_one_signed_later_does_not_reach_back() -> None:
    lapsed, good = (
        deferral(limit("arena only"), uid="old", ends_on=day(-5)),
        deferral(limit("arena only"), uid="new", signed_on=day(-3)),
    )
    assert judge(vehicle(defects=(defect("reduced", deferrals=(good, lapsed)),))).standing == "limits"
    broken = deferral(limit("arena only"), uid="later", signed_on=day(-2), signers=())
    assert judge(vehicle(defects=(defect("reduced", deferrals=(good, broken)),))).standing == "limits"
    tomorrow = deferral(limit("arena only"), signed_on=day(1), ends_on=day(9))
    assert judge(vehicle(defects=(defect("reduced", deferrals=(tomorrow,)),))).standing == "open"


def test_lapsed_by_meter_in_hours_says_no_run() -> None:
    oil = state.Inspection(uid="oil", kind="service", name="oil", meter="hours", valid_meter=Decimal(100))
    meter = state.MeterState(kind="hours", total=Decimal(100), read_at=at(-35, "07:00"))
    verdict = judge(vehicle(inspections=(*inspections(), oil), meters=(meter,)))
    assert "run" not in verdict.reasons[0].words
    km = replace(oil, meter="km")
    whole = judge(
        vehicle(inspections=(*inspections(), km), meters=(replace(meter, kind="km", total=Decimal(101)),))
    )
    assert "falls due" not in whole.reasons[0].words  # the slot is not in runs


def test_voided_says_since_when() -> None:
    rows = (replace(inspections()[0], voided=True, voided_why="job 26/001"), *inspections()[1:])
    assert "26/001" in judge(vehicle(inspections=rows)).reasons[0].words


def test_due_dates_by_date_alone_and_never_within_sight() -> None:
    by_date = state.Inspection(uid="i", kind="annual", name="i", valid_through=day(5))
    assert intervals.falling_due(by_date, vehicle(), day(0)) == intervals.DueDate(
        by="date", early=day(5), expected=day(5), late=day(5)
    )
    meter = state.MeterState(kind="hours", total=Decimal(1), read_at=at(-35, "07:00"))
    far = state.Inspection(uid="i", kind="service", name="i", meter="hours", valid_meter=Decimal(99))
    assert intervals.falling_due(far, vehicle(meters=(meter,)), day(0), days_ahead=30).expected is None
    assert intervals.still_helps(far, [], day(-2)) == (None, day(-2))


def people(*away: int) -> tuple[state.Person, ...]:
    drive = state.Competence(kind="drive", vehicle="V1")
    fireman = state.Competence(kind="fireman", vehicle="V1")
    return (
        state.Person(uid="P1", name="One", competences=(drive,)),
        state.Person(uid="P2", name="Two", competences=(fireman,), away=frozenset(day(n) for n in away)),
        state.Person(uid="P3", name="Three"),
    )


@pytest.mark.parametrize(
    ("crew", "away", "said"),
    [
        ((state.CrewDuty(duty="driver", borrowed="A friend"),), (), []),
        ((state.CrewDuty(duty="driver", person="P1"), state.CrewDuty(duty="fireman", person="P2")), (), []),
        ((state.CrewDuty(duty="driver", person="P1"), state.CrewDuty(duty="fireman", person="P2")), (0,), ["crew-away"]),
        ((state.CrewDuty(duty="driver", person="P1"), state.CrewDuty(duty="fireman", person="P3")), (), ["crew-not-qualified"]),
        ((state.CrewDuty(duty="driver", person="P1"), state.CrewDuty(duty="crew", person="P3")), (), []),
    ],
)  # fmt: skip
def test_the_rest_of_the_crew(
    crew: tuple[state.CrewDuty, ...], away: tuple[int, ...], said: list[str]
) -> None:
    the_event = event(entry(slot(crew=MARSHALS), crew=crew))
    assert [
        str(f.code)
        for f in judge_crew(museum(vehicle(), the_event=the_event, people=people(*away)), the_event)
    ] == said


def test_a_marshal_who_is_away_and_a_slot_without_vehicles() -> None:
    with_two = slot(crew=(state.CrewDuty(duty="marshal", person="P2"), *MARSHALS))
    the_event = event(entry(with_two, crew=(state.CrewDuty(duty="driver", person="P1"),)))
    whole = museum(vehicle(), the_event=the_event, people=people(0))
    assert [str(f.code) for f in judge_crew(whole, the_event)] == ["crew-away"]
    empty = event(slots=(slot(),))
    assert judge_crew(museum(vehicle(), the_event=empty), empty) == ()


def test_a_clash_with_another_event_is_told_here_only_of_what_is_here() -> None:
    driver = (state.CrewDuty(duty="driver", person="P1"),)
    here = event(entry(slot(crew=MARSHALS), crew=driver))
    there = event(
        entry(slot(uid="elsewhere", code="X1", crew=MARSHALS), uid="E9", crew=driver),
        uid="OTHER",
        code="OTHER",
    )
    whole = museum(vehicle(), the_event=here, people=people())
    both = replace(whole, events=(here, there))
    flags = judge_crew(both, here)
    assert {(f.slot, str(f.code)) for f in flags} == {(here.slots[0].uid, "vehicle-clash")} | {
        (here.slots[0].uid, str(f.code)) for f in flags
    }
    assert all(f.slot == here.slots[0].uid for f in flags)
    assert {str(f.code) for f in flags} >= {"vehicle-clash"}


def test_what_if_stands_beside_the_forecast() -> None:
    workshop = random_workshop(3)
    dropped = workshop.works[0].uid
    assert what_if(workshop, [JobDropped(work=dropped)], samples=10, seed=1).before.samples == 10
    with pytest.raises(WorkshopError):
        what_if(workshop, [JobDropped(work="nobody")], samples=10)
