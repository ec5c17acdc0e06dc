"""People in slots: present, current, qualified, not in two places (*common practice*; change-over 15 minutes by setting)."""

from __future__ import annotations

import datetime as dt

import pytest

from readiness.engine import state
from readiness.engine.crew import Flag, judge_crew
from tests.readiness.engine.cases import T, at, day, entry, event, museum, slot, vehicle

MARSHALS = (state.CrewDuty(duty="marshal", borrowed="A"), state.CrewDuty(duty="marshal", borrowed="B"))


def person(uid: str = "P1", *competences: state.Competence, away: tuple[dt.date, ...] = ()) -> state.Person:
    return state.Person(uid=uid, name=f"Name {uid}", competences=competences, away=frozenset(away))


def drives(vehicle_uid: str = "V1", through: int = 30) -> state.Competence:
    return state.Competence(kind="drive", vehicle=vehicle_uid, valid_through=day(through))


def driver(uid: str = "P1") -> tuple[state.CrewDuty, ...]:
    return (state.CrewDuty(duty="driver", person=uid),)


def flags(*entries: state.Entry, people: tuple[state.Person, ...], tracked: bool = False) -> list[Flag]:
    the_event = event(*entries)
    vehicles = [vehicle(tracked=tracked), vehicle(uid="V2", name="Other"), vehicle(uid="V3", name="Third")]
    return list(judge_crew(museum(*vehicles, the_event=the_event, people=people), the_event))


def said(found: list[Flag]) -> list[tuple[str, str]]:
    return [(f.flag, str(f.code)) for f in found]


def test_a_current_driver_and_two_marshals_leave_nothing_to_say() -> None:
    one = entry(slot(crew=MARSHALS), crew=driver())
    assert flags(one, people=(person("P1", drives()),)) == []


@pytest.mark.parametrize(("through", "short"), [(0, False), (-1, True)])
def test_currency_is_valid_through_its_day(through: int, short: bool) -> None:
    one = entry(slot(crew=MARSHALS), crew=driver())
    found = flags(one, people=(person("P1", drives(through=through)),))
    assert said(found) == ([("crew short", "crew-not-current")] if short else [])


def test_no_driver_suggests_who_is_current_and_free() -> None:
    found = flags(entry(slot(crew=MARSHALS)), people=(person("P1", drives()), person("P2", drives("V2"))))
    assert said(found) == [("crew short", "crew-missing")]
    assert found[0].act == "ask Name P1"


def test_one_marshal_short() -> None:
    one = entry(slot(crew=MARSHALS[:1]), crew=driver())
    found = flags(one, people=(person("P1", drives()),))
    assert [(f.flag, f.words) for f in found] == [("crew short", "1 marshal missing")]


def test_tracked_in_the_arena_needs_its_commander() -> None:
    people = (person("P1", drives()), person("P2", state.Competence(kind="command")))
    assert said(flags(entry(slot(crew=MARSHALS), crew=driver()), people=people, tracked=True)) == [
        ("crew short", "crew-missing")
    ]
    both = (*driver(), state.CrewDuty(duty="commander", person="P2"))
    assert flags(entry(slot(crew=MARSHALS), crew=both), people=people, tracked=True) == []


def test_away_is_short() -> None:
    one = entry(slot(crew=MARSHALS), crew=driver())
    assert said(flags(one, people=(person("P1", drives(), away=(T,)),))) == [("crew short", "crew-away")]


def test_rides_need_a_passenger_service_driver() -> None:
    crew = (state.CrewDuty(duty="conductor", borrowed="C"), *MARSHALS)
    one = entry(slot("rides", crew=crew), crew=driver())
    assert said(flags(one, people=(person("P1", drives()),))) == [("crew short", "crew-not-qualified")]
    able = person("P1", drives(), state.Competence(kind="passenger"))
    assert flags(one, people=(able,)) == []


@pytest.mark.parametrize(("start", "clash"), [("12:15", False), ("12:14", True), ("12:00", True)])
def test_change_over_of_exactly_fifteen_minutes_is_enough(start: str, clash: bool) -> None:
    one = entry(slot(uid="a", crew=MARSHALS), uid="Ea", crew=driver())
    other = entry(
        slot(uid="b", start=start, end="13:00", crew=MARSHALS), uid="Eb", vehicle="V2", crew=driver()
    )
    found = flags(one, other, people=(person("P1", drives(), drives("V2")),))
    assert {f.entry for f in found if f.flag == "time clash"} == (
        {"Ea", "Eb"} if clash else set()
    )  # both are told


def test_staying_with_the_vehicle_needs_no_change_over() -> None:
    one = entry(slot(uid="a", crew=MARSHALS), uid="Ea", crew=driver())
    other = entry(slot(uid="b", start="12:00", end="13:00", crew=MARSHALS), uid="Eb", crew=driver())
    assert flags(one, other, people=(person("P1", drives()),)) == []


def test_twice_in_one_slot_is_a_clash_and_leaves_it_short() -> None:
    the_slot = slot(crew=MARSHALS)
    one = entry(the_slot, uid="Ea", crew=driver())
    other = entry(the_slot, uid="Eb", vehicle="V2", crew=driver())
    found = flags(one, other, people=(person("P1", drives(), drives("V2")),))
    assert {(f.entry, f.flag) for f in found} == {
        (e, x) for e in ("Ea", "Eb") for x in ("time clash", "crew short")
    }


def test_one_vehicle_in_two_overlapping_slots_clashes_but_touching_and_static_with_running_do_not() -> None:
    people = (person("P1", drives()),)
    over = entry(slot(uid="b", start="11:30", end="12:30", crew=MARSHALS), uid="Eb")
    assert [f.code for f in flags(entry(), over, people=people) if f.flag == "time clash"] == [
        "vehicle-clash",
        "vehicle-clash",
    ]
    touching = entry(slot(uid="b", start="12:00", end="12:30", crew=MARSHALS), uid="Eb")
    assert [f for f in flags(entry(), touching, people=people) if f.flag == "time clash"] == []
    static, running = slot("static", "10:00", "16:00", uid="s"), slot("running", "10:30", "10:45", uid="r")
    assert [
        f for f in flags(entry(static), entry(running, uid="Eb"), people=people) if f.flag == "time clash"
    ] == []


def test_an_own_slot_inside_its_standby_window_clashes() -> None:
    stand = entry(slot("standby", "09:00", "17:00", uid="s"), uid="Es", covers="V2")
    found = flags(stand, entry(), people=())
    assert [f.entry for f in found if f.code == "vehicle-clash"] == ["E1", "Es"]


def test_slot_past_midnight_asks_for_people_by_its_starting_day() -> None:
    late = slot(start="23:00", ends=at(1, "00:30"), crew=MARSHALS)
    assert flags(entry(late, crew=driver()), people=(person("P1", drives(through=0)),)) == []


def test_crew_never_alters_a_standing() -> None:
    from readiness.engine import gates

    alone = event(entry())
    crewed = event(entry(slot(crew=MARSHALS), crew=driver()))
    people = (person("P1", drives()),)
    one = gates.judge(museum(vehicle(), the_event=alone, people=people), alone, alone.entries[0])
    other = gates.judge(museum(vehicle(), the_event=crewed, people=people), crewed, crewed.entries[0])
    assert one == other
