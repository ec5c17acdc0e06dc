"""Services of the programme: who may, what is refused, what is written down, and two editors at once."""

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from fleet.errors import Conflict
from fleet.models import Act
from maintenance.models import DeferralLimit
from readiness.models import Crew, Entry, Event, LimitTick, Slot
from readiness.services import entries, events
from readiness.services.entries import CrewLine
from tests.factories import DefectFactory, DeferralFactory, VehicleFactory
from tests.readiness.programme.stage import FREEZE, SATURDAY, SUNDAY, at, event_of, slot_of

pytestmark = pytest.mark.django_db


def acts_of(row) -> list[str]:
    rows = Act.objects.filter(subject_kind=row._meta.label_lower, subject_id=str(row.pk))
    return list(rows.order_by("pk").values_list("act", flat=True))


def test_an_event_asks_to_be_assessed_in_the_same_breath(event: Event, coordinator) -> None:
    event.refresh_from_db()
    assert event.wanted_at is not None
    assert acts_of(event) == ["event.add"]


@pytest.mark.parametrize("role", ["driver", "mechanic", "lead", "curator", "administrator"])
def test_only_coordinator_and_manager_plan(museum, clock, cast, role: str) -> None:
    with pytest.raises(PermissionDenied):
        event_of(getattr(cast, role))
    assert Event.objects.count() == 0
    assert event_of(cast.manager).pk


def test_the_second_of_two_editors_is_told_what_the_first_did(event: Event, coordinator, manager) -> None:
    first_read = event.version
    events.event_change(by=manager, event=event, version=first_read, name="Tollmarsh Summer Days")
    with pytest.raises(Conflict) as told:
        events.event_change(by=coordinator, event=event, version=first_read, place="Lower field")
    assert len(told.value.changed) == 1
    assert "Dagny Moss changed the event" in told.value.changed[0]
    assert "name: Tollmarsh Running Days to Tollmarsh Summer Days" in told.value.changed[0]
    event.refresh_from_db()
    assert (event.name, event.place) == ("Tollmarsh Summer Days", "")


def test_an_edit_that_moves_nothing_writes_nothing(event: Event, coordinator) -> None:
    before = event.version
    assert events.event_change(by=coordinator, event=event, version=before, name=event.name).version == before
    assert acts_of(event) == ["event.add"]


def test_a_day_with_slots_on_it_is_not_taken_away(event: Event, coordinator) -> None:
    slot_of(coordinator, event, day=SUNDAY)
    with pytest.raises(ValidationError, match="would lie outside"):
        events.event_change(by=coordinator, event=event, last_day=SATURDAY)


def test_the_freeze_moves_with_a_reason(event: Event, coordinator) -> None:
    earlier = FREEZE - dt.timedelta(days=1)
    with pytest.raises(ValidationError, match="why"):
        events.freeze_move(by=coordinator, event=event, freeze_at=earlier, reason=" ")
    moved = events.freeze_move(by=coordinator, event=event, freeze_at=earlier, reason="No crew on Thursday")
    assert moved.freeze_at == earlier
    act = Act.objects.get(act="freeze.move")
    assert act.detail["freeze"] == ["2027-06-03 18:00", "2027-06-02 18:00"]
    assert act.detail["reason"] == "No crew on Thursday"


def test_a_slot_on_each_day_keeps_its_hours_over_a_change_of_the_clocks(museum, clock, coordinator) -> None:
    saturday, sunday = dt.date(2027, 10, 30), dt.date(2027, 10, 31)
    event = event_of(
        coordinator, first_day=saturday, last_day=sunday, freeze_at=at(dt.date(2027, 10, 28), 18)
    )
    made = events.slot_add(
        by=coordinator, event=event, code="S1", name="Rides", role="rides", starts_at=at(saturday, 10),
        ends_at=at(saturday, 16), each_day=True,
    )  # fmt: skip
    assert [s.starts_at for s in made] == [at(saturday, 10), at(sunday, 10)]
    assert made[1].starts_at.timestamp() - made[0].starts_at.timestamp() == 25 * 3600


def test_a_slot_outside_the_event_is_refused(event: Event, coordinator) -> None:
    with pytest.raises(ValidationError, match="not of the event"):
        slot_of(coordinator, event, day=SUNDAY + dt.timedelta(days=1))


def test_a_slot_is_copied_with_vehicles_and_people_but_not_with_limits_read(
    event, coordinator, driver, vehicle
) -> None:
    slot = slot_of(coordinator, event, notes="Bring ramps")
    limit = limit_in_words(vehicle)
    entry = entries.entry_add(
        by=coordinator,
        slot=slot,
        vehicle=vehicle,
        crew=[CrewLine(duty="driver", person=driver)],
        ticks=[limit],
    )
    entries.crew_set(
        by=coordinator, slot=slot, crew=[CrewLine(duty="marshal", borrowed="from the rally club")]
    )
    assert entry.ticks.count() == 1
    (copy,) = events.slot_copy(by=coordinator, slot=slot)
    assert (copy.day, copy.notes, copy.starts_at) == (SUNDAY, "Bring ramps", at(SUNDAY, 11))
    twin = copy.entries.get()
    assert [(c.duty, c.person) for c in twin.crew.all()] == [("driver", driver)]
    assert [c.borrowed for c in copy.crew.filter(entry=None)] == ["from the rally club"]
    assert twin.ticks.count() == 0
    assert events.slot_copy(by=coordinator, slot=slot) == []


def test_a_dropped_slot_says_which_vehicles_went_with_it(event: Event, coordinator, vehicle) -> None:
    slot = slot_of(coordinator, event)
    entries.entry_add(by=coordinator, slot=slot, vehicle=vehicle)
    slot.refresh_from_db()
    events.slot_drop(by=coordinator, slot=slot, version=slot.version)
    assert not Slot.objects.exists()
    assert str(vehicle) in Act.objects.get(act="slot.drop").detail["vehicles"]


def test_a_vehicle_is_entered_once_a_slot(event: Event, coordinator, vehicle) -> None:
    slot = slot_of(coordinator, event)
    entries.entry_add(by=coordinator, slot=slot, vehicle=vehicle)
    with pytest.raises(ValidationError, match="in this slot already"):
        entries.entry_add(by=coordinator, slot=slot, vehicle=vehicle)
    assert Entry.objects.count() == 1


def test_only_a_standby_stands_in_and_not_for_itself(event: Event, coordinator, vehicle) -> None:
    other = VehicleFactory()
    arena, standby = (
        slot_of(coordinator, event),
        slot_of(coordinator, event, code="S9", role="standby", hour=9),
    )
    with pytest.raises(ValidationError, match="standby slot"):
        entries.entry_add(by=coordinator, slot=arena, vehicle=vehicle, covers=other)
    with pytest.raises(ValidationError, match="itself"):
        entries.entry_add(by=coordinator, slot=standby, vehicle=vehicle, covers=vehicle)
    made = entries.entry_add(by=coordinator, slot=standby, vehicle=vehicle, covers=other, ready_minutes=20)
    assert (made.covers, made.ready_minutes) == (other, 20)
    with pytest.raises(ValidationError, match="stand by"):
        events.slot_change(by=coordinator, slot=standby, role="arena")


def test_a_swap_keeps_the_people_and_forgets_what_was_the_old_vehicles(
    event, coordinator, driver, vehicle
) -> None:
    slot = slot_of(coordinator, event)
    limit = limit_in_words(vehicle)
    entry = entries.entry_add(
        by=coordinator, slot=slot, vehicle=vehicle, crew=[CrewLine(duty="driver", person=driver)], ticks=[limit],
        hours=Decimal("1.5"),
    )  # fmt: skip
    other = VehicleFactory()
    swapped = entries.entry_swap(by=coordinator, entry=entry, vehicle=other, version=entry.version)
    assert (swapped.vehicle, swapped.hours) == (other, None)
    assert swapped.crew.get().person == driver
    assert not LimitTick.objects.exists()
    act = Act.objects.get(act="entry.swap")
    assert act.detail["swapped"] == [str(vehicle), str(other)]


def test_crew_is_written_whole_or_not_at_all(event: Event, coordinator, driver, mechanic, vehicle) -> None:
    slot = slot_of(coordinator, event)
    entry = entries.entry_add(by=coordinator, slot=slot, vehicle=vehicle)
    entries.crew_set(by=coordinator, slot=slot, entry=entry, crew=[CrewLine(duty="driver", person=driver)])
    twice = [CrewLine(duty="crew", person=mechanic), CrewLine(duty="crew", person=mechanic)]
    with pytest.raises(ValidationError, match="named twice"):
        entries.crew_set(by=coordinator, slot=slot, entry=entry, crew=twice)
    with pytest.raises(ValidationError, match="borrowed"):
        entries.crew_set(by=coordinator, slot=slot, entry=entry, crew=[CrewLine(duty="crew")])
    assert [(c.duty, c.person) for c in Crew.objects.all()] == [("driver", driver)]


def test_two_editors_of_one_entry(event: Event, coordinator, manager, driver, vehicle) -> None:
    entry = entries.entry_add(by=coordinator, slot=slot_of(coordinator, event), vehicle=vehicle)
    read = entry.version
    entries.crew_set(
        by=manager, slot=entry.slot, entry=entry, crew=[CrewLine(duty="driver", person=driver)], version=read
    )
    with pytest.raises(Conflict) as told:
        entries.entry_save(
            by=coordinator, entry=entry, vehicle=vehicle, crew=[], ticks=[], version=read, note="x"
        )
    assert "Dagny Moss named the crew of an entry" in told.value.changed[0]
    assert Crew.objects.get().person == driver


def test_a_row_that_is_gone_is_a_conflict_not_a_crash(event: Event, coordinator, vehicle) -> None:
    entry = entries.entry_add(by=coordinator, slot=slot_of(coordinator, event), vehicle=vehicle)
    entries.entry_drop(by=coordinator, entry=Entry.objects.get())
    with pytest.raises(Conflict, match="dropped by another"):
        entries.entry_change(by=coordinator, entry=entry, note="late")


def limit_in_words(vehicle, words: str = "drip tray under it") -> DeferralLimit:
    deferral = DeferralFactory(
        defect=DefectFactory(vehicle=vehicle, state="assessed", severity=3, probability="C")
    )
    return DeferralLimit.objects.create(deferral=deferral, kind="free text", text=words)


def test_a_limit_in_words_is_read_with_name_and_time(
    event: Event, coordinator, lead, driver, vehicle
) -> None:
    entry = entries.entry_add(by=coordinator, slot=slot_of(coordinator, event), vehicle=vehicle)
    limit = limit_in_words(vehicle)
    with pytest.raises(PermissionDenied):
        entries.limit_tick(by=driver, entry=entry, limit=limit)
    tick = entries.limit_tick(by=lead, entry=entry, limit=limit)
    assert (tick.by, tick.at.date()) == (lead, dt.date(2027, 5, 3))
    assert entries.limit_tick(by=coordinator, entry=entry, limit=limit).by == lead
    assert list(Act.objects.filter(act="entry.tick").values_list("by_name", flat=True)) == ["Berit Holm"]
    entries.limit_untick(by=coordinator, entry=entry, limit=limit)
    assert not LimitTick.objects.exists()


def test_a_limit_of_another_vehicle_or_one_for_the_machine_is_not_ticked(event, coordinator, vehicle) -> None:
    entry = entries.entry_add(by=coordinator, slot=slot_of(coordinator, event), vehicle=vehicle)
    foreign = limit_in_words(VehicleFactory())
    speed = DeferralLimit.objects.create(
        deferral=limit_in_words(vehicle).deferral, kind="max speed", value=Decimal(20)
    )
    for limit in (foreign, speed):
        with pytest.raises(ValidationError, match="not in force"):
            entries.limit_tick(by=coordinator, entry=entry, limit=limit)
    assert not LimitTick.objects.exists()


def test_a_rehearsal_is_planned_and_dropped(event: Event, coordinator, vehicle) -> None:
    with pytest.raises(ValidationError, match="how many"):
        events.rehearsal_add(by=coordinator, event=event, vehicle=vehicle, day=SATURDAY)
    row = events.rehearsal_add(
        by=coordinator, event=event, vehicle=vehicle, day=dt.date(2027, 5, 29), km=Decimal(12)
    )
    events.rehearsal_drop(by=coordinator, rehearsal=row)
    assert event.rehearsals.count() == 0
    assert list(
        Act.objects.filter(act__startswith="rehearsal").order_by("pk").values_list("act", flat=True)
    ) == [
        "rehearsal.add",
        "rehearsal.drop",
    ]


def test_called_off_and_planned_again(event: Event, coordinator) -> None:
    with pytest.raises(ValidationError, match="why"):
        events.event_call_off(by=coordinator, event=event, reason="")
    assert events.event_call_off(by=coordinator, event=event, reason="Flooded").state == "called off"
    assert events.event_plan_again(by=coordinator, event=event).state == "planned"
    assert events.event_over(by=coordinator, event=event).state == "over"


def test_daylight_of_a_day(event: Event, coordinator) -> None:
    with pytest.raises(ValidationError, match="before sunrise"):
        events.event_day_light(
            by=coordinator, event=event, day=SATURDAY, sunrise=dt.time(21), sunset=dt.time(5)
        )
    row = events.event_day_light(
        by=coordinator, event=event, day=SATURDAY, sunrise=dt.time(4, 50), sunset=dt.time(21, 10)
    )
    assert row.sunset == dt.time(21, 10)
    with pytest.raises(ValidationError, match="not of the event"):
        events.event_day_light(
            by=coordinator, event=event, day=dt.date(2027, 6, 9), sunrise=None, sunset=None
        )
