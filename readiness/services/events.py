"""Events and their slots: added, changed, moved, copied to every day, called off."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Person, Vehicle
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from readiness.enums import EventState
from readiness.models import Crew, Entry, Event, EventDay, Rehearsal, Slot
from readiness.services.base import bump, change, lock, written

EVENT_FIELDS = frozenset({"name", "place", "first_day", "last_day", "weight", "site_notes"})
SLOT_FIELDS = frozenset(
    {
        "code", "name", "role", "starts_at", "ends_at", "place", "speed_kmh", "distance_km", "hours", "runs", "also_asks",
        "at_least", "notes",
    }
)  # fmt: skip


@transaction.atomic
def event_add(
    *, by: Person, code: str, name: str, first_day: dt.date, last_day: dt.date, freeze_at: dt.datetime, place: str = "",
    weight: int = 1, site_notes: dict[str, str] | None = None,
) -> Event:  # fmt: skip
    """Plan an event: its days and the freeze, after which nothing is opened."""
    permit(by, "event.add")
    event = Event(
        code=code, name=name, first_day=first_day, last_day=last_day, freeze_at=freeze_at, place=place, weight=weight,
        site_notes=site_notes or {},
    )  # fmt: skip
    save_clean(event)
    written(act="event.add", by=by, subject=event)
    return event


@transaction.atomic
def event_change(*, by: Person, event: Event, version: int | None = None, **changes: Any) -> Event:
    """Change name, place, days, weight or site notes. A day with slots on it is not taken away."""
    permit(by, "programme.change")
    row = lock(event, version)
    first, last = changes.get("first_day", row.first_day), changes.get("last_day", row.last_day)
    outside = [s for s in row.slots.all() if not first <= s.day <= last]
    if outside:
        raise ValidationError(
            {
                "last_day": f"{outside[0]} on {outside[0].day:%a} {outside[0].day.day} {outside[0].day:%B} would lie outside. Move or drop it first."
            }
        )
    moved = change(row, changes, EVENT_FIELDS)
    if moved:
        written(act="event.change", by=by, subject=row, detail=moved)
    return row


@transaction.atomic
def freeze_move(
    *, by: Person, event: Event, freeze_at: dt.datetime, reason: str, version: int | None = None
) -> Event:
    """Move the moment after which nothing is opened; always with the reason."""
    permit(by, "programme.change")
    if not reason.strip():
        raise ValidationError({"reason": "Say why the freeze moves."})
    row = lock(event, version)
    before = row.freeze_at
    row.freeze_at = freeze_at
    row.full_clean()
    if before == freeze_at:
        return row
    row.version += 1
    row.save(update_fields=["freeze_at", "version"])
    written(act="freeze.move", by=by, subject=row, detail={"reason": reason.strip(), "freeze": [_clock(before), _clock(freeze_at)]})  # fmt: skip
    return row


def _clock(moment: dt.datetime) -> str:
    return f"{timezone.localtime(moment):%Y-%m-%d %H:%M}"


def event_over(*, by: Person, event: Event, version: int | None = None) -> Event:
    """It has run: it leaves the board, its record stays."""
    return _state(by=by, event=event, version=version, state=EventState.OVER, act="event.over")


def event_call_off(*, by: Person, event: Event, reason: str, version: int | None = None) -> Event:
    """It will not run. Slots and entries are kept."""
    if not reason.strip():
        raise ValidationError({"reason": "Say why it is called off."})
    return _state(
        by=by, event=event, version=version, state=EventState.CALLED_OFF, act="event.call_off", reason=reason.strip()
    )  # fmt: skip


def event_plan_again(*, by: Person, event: Event, version: int | None = None) -> Event:
    return _state(by=by, event=event, version=version, state=EventState.PLANNED, act="event.plan_again")


@transaction.atomic
def _state(*, by: Person, event: Event, version: int | None, state: str, act: str, **detail: Any) -> Event:
    permit(by, "programme.change")
    row = lock(event, version)
    if row.state == state:
        return row
    row.state = state
    row.version += 1
    row.save(update_fields=["state", "version"])
    written(act=act, by=by, subject=row, detail=detail)
    return row


@transaction.atomic
def event_day_light(
    *, by: Person, event: Event, day: dt.date, sunrise: dt.time | None, sunset: dt.time | None
) -> EventDay:
    """The hours of daylight of one day; a daylight-only limit is compared with them."""
    permit(by, "programme.change")
    if not event.first_day <= day <= event.last_day:
        raise ValidationError({"day": "That day is not of the event."})
    if sunrise and sunset and sunset <= sunrise:
        raise ValidationError({"sunset": "Sunset lies before sunrise."})
    event = lock(event, None)
    row = EventDay.objects.filter(event=event, day=day).first() or EventDay(event=event, day=day)
    row.sunrise, row.sunset = sunrise, sunset
    save_clean(row)
    bump(event)
    written(act="event.light", by=by, subject=event, detail={"day": day.isoformat(), "sunrise": str(sunrise or ""), "sunset": str(sunset or "")})  # fmt: skip
    return row


# ---- slots ----
def _check_day(event: Event, slot: Slot) -> None:
    if not event.first_day <= slot.day <= event.last_day:
        raise ValidationError({"starts_at": "That day is not of the event."})


@transaction.atomic
def slot_add(
    *, by: Person, event: Event, code: str, name: str, role: str, starts_at: dt.datetime, ends_at: dt.datetime,
    each_day: bool = False, **fields: Any,
) -> list[Slot]:  # fmt: skip
    """Add a slot; with `each_day` one at the same times on every day of the event. Returns them by day."""
    permit(by, "programme.change")
    unknown = sorted(set(fields) - SLOT_FIELDS)
    if unknown:
        raise ValidationError(f"These cannot be set here: {', '.join(unknown)}.")
    event = lock(event, None)
    days = event.days if each_day else [timezone.localdate(starts_at)]
    added = []
    for day in days:
        start, end = _on(day, starts_at, ends_at)
        slot = Slot(event=event, code=code, name=name, role=role, starts_at=start, ends_at=end, **fields)
        _check_day(event, slot)
        save_clean(slot)
        written(act="slot.add", by=by, subject=slot, detail={"event": event.code})
        added.append(slot)
    return added


def _on(day: dt.date, starts_at: dt.datetime, ends_at: dt.datetime) -> tuple[dt.datetime, dt.datetime]:
    """The same wall-clock times on another day, whatever the clocks did in between."""
    start, end = timezone.localtime(starts_at), timezone.localtime(ends_at)
    shift = day - start.date()
    zone = timezone.get_current_timezone()
    return (
        dt.datetime.combine(day, start.time(), tzinfo=zone),
        dt.datetime.combine(end.date() + shift, end.time(), tzinfo=zone),
    )


@transaction.atomic
def slot_change(*, by: Person, slot: Slot, version: int | None = None, **changes: Any) -> Slot:
    permit(by, "programme.change")
    row = lock(slot, version)
    if changes.get("role", row.role) != "standby" and row.entries.exclude(covers=None).exists():
        raise ValidationError(
            {"role": "Vehicles stand by in this slot. Take them out first, or keep it a standby."}
        )
    moved = change(row, changes, SLOT_FIELDS)
    _check_day(row.event, row)
    if moved:
        written(act="slot.change", by=by, subject=row, detail={"event": row.event.code, **moved})
    return row


@transaction.atomic
def slot_drop(*, by: Person, slot: Slot, version: int | None = None) -> None:
    """Take a slot off the programme, with what was entered in it."""
    permit(by, "programme.change")
    row = lock(slot, version)
    vehicles = ", ".join(str(e.vehicle) for e in row.entries.select_related("vehicle"))
    written(act="slot.drop", by=by, subject=row, detail={"event": row.event.code, "vehicles": vehicles, "starts": _clock(row.starts_at)})  # fmt: skip
    row.delete()


@transaction.atomic
def slot_copy(*, by: Person, slot: Slot, with_entries: bool = True) -> list[Slot]:
    """Copy a slot, its vehicles and its people to every other day that has no slot of this code at this time."""
    permit(by, "programme.change")
    row = lock(slot, None)
    made = []
    for day in row.event.days:
        start, end = _on(day, row.starts_at, row.ends_at)
        if row.event.slots.filter(code=row.code, starts_at=start).exists():
            continue
        copy = Slot(
            event=row.event, starts_at=start, ends_at=end,
            **{f: getattr(row, f) for f in SLOT_FIELDS - {"starts_at", "ends_at"}},
        )  # fmt: skip
        save_clean(copy)
        if with_entries:
            _copy_entries(row, copy, by)
        made.append(copy)
        written(
            act="slot.copy", by=by, subject=copy, detail={"event": row.event.code, "day": day.isoformat()}
        )
    return made


def _copy_entries(source: Slot, copy: Slot, by: Person) -> None:
    """Limits in words are not copied: whoever enters a vehicle reads them for that day."""
    for duty in source.crew.filter(entry=None):
        save_clean(Crew(slot=copy, duty=duty.duty, person=duty.person, borrowed=duty.borrowed))
    for entry in source.entries.all():
        row = Entry(
            slot=copy, vehicle=entry.vehicle, covers=entry.covers, ready_minutes=entry.ready_minutes,
            distance_km=entry.distance_km, hours=entry.hours, crewed_inside=entry.crewed_inside, note=entry.note,
            entered_by=by,
        )  # fmt: skip
        save_clean(row)
        for duty in entry.crew.all():
            save_clean(Crew(slot=copy, entry=row, duty=duty.duty, person=duty.person, borrowed=duty.borrowed))


# ---- rehearsals ----
@transaction.atomic
def rehearsal_add(
    *, by: Person, event: Event, vehicle: Vehicle, day: dt.date, hours: Decimal = Decimal(0), km: Decimal = Decimal(0),
    note: str = "",
) -> Rehearsal:  # fmt: skip
    """Plan use before the event; it counts in the meter forecast."""
    permit(by, "programme.change")
    if not hours and not km:
        raise ValidationError({"hours": "Say how many hours or kilometres."})
    if day > event.last_day:
        raise ValidationError({"day": "A rehearsal comes before the event ends."})
    row = Rehearsal(event=event, vehicle=vehicle, day=day, hours=hours, km=km, note=note)
    save_clean(row)
    written(act="rehearsal.add", by=by, subject=row, vehicle=vehicle, detail={"event": event.code, "day": day.isoformat(), "hours": str(hours), "km": str(km)})  # fmt: skip
    return row


@transaction.atomic
def rehearsal_drop(*, by: Person, rehearsal: Rehearsal) -> None:
    permit(by, "programme.change")
    row = Rehearsal.objects.select_for_update(of=("self",)).get(pk=rehearsal.pk)
    written(act="rehearsal.drop", by=by, subject=row, vehicle=row.vehicle, detail={"event": row.event.code, "day": row.day.isoformat()})  # fmt: skip
    row.delete()
