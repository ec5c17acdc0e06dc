"""Vehicles entered in slots, their people, and limits in words that somebody has read for a slot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.models import Person, Vehicle
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from maintenance.enums import DefectState, LimitKind
from maintenance.models import DeferralLimit
from readiness.enums import Duty, Role
from readiness.models import Crew, Entry, LimitTick, Slot
from readiness.services.base import bump, change, lock, written

ENTRY_FIELDS = frozenset({"covers", "ready_minutes", "distance_km", "hours", "crewed_inside", "note"})
TICKED = frozenset({LimitKind.FREE_TEXT, LimitKind.EQUIPMENT_LOCKED})
"""Limits that no machine compares with a slot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewLine:
    """One duty: one of our people, or the name of a borrowed one."""

    duty: str
    person: Person | None = None
    borrowed: str = ""


def _check_cover(slot: Slot, vehicle: Vehicle, covers: Vehicle | None) -> None:
    if covers is None:
        return
    if slot.role != Role.STANDBY:
        raise ValidationError({"covers": "Only in a standby slot does a vehicle stand in for another."})
    if covers.pk == vehicle.pk:
        raise ValidationError({"covers": "A vehicle cannot stand in for itself."})


@transaction.atomic
def entry_add(
    *,
    by: Person,
    slot: Slot,
    vehicle: Vehicle,
    covers: Vehicle | None = None,
    crew: Sequence[CrewLine] = (),
    ticks: Sequence[DeferralLimit] = (),
    **fields: Any,
) -> Entry:
    """Enter a vehicle in a slot. One that is barred there is entered all the same, and the board says so."""
    permit(by, "entry.enter")
    unknown = sorted(set(fields) - ENTRY_FIELDS)
    if unknown:
        raise ValidationError(f"These cannot be set here: {', '.join(unknown)}.")
    slot = lock(slot, None)
    _check_cover(slot, vehicle, covers)
    if Entry.objects.filter(slot=slot, vehicle=vehicle).exists():
        raise ValidationError({"vehicle": f"{vehicle} is in this slot already."})
    entry = Entry(slot=slot, vehicle=vehicle, covers=covers, entered_by=by, **fields)
    save_clean(entry)
    _crew_write(slot, entry, crew)
    written(act="entry.enter", by=by, subject=entry, vehicle=vehicle, detail={"crew": _told(crew)})
    for limit in ticks:
        limit_tick(by=by, entry=entry, limit=limit)
    return entry


@transaction.atomic
def entry_save(
    *,
    by: Person,
    entry: Entry,
    vehicle: Vehicle,
    crew: Sequence[CrewLine],
    ticks: Sequence[DeferralLimit],
    version: int | None = None,
    **changes: Any,
) -> Entry:
    """A whole entry as it was filled in: vehicle, particulars, people and limits read. All of it, or nothing."""
    permit(by, "entry.enter")
    row = lock(entry, version)
    row = entry_swap(by=by, entry=row, vehicle=vehicle)
    row = entry_change(by=by, entry=row, **changes)
    there = [
        CrewLine(duty=c.duty, person=c.person, borrowed=c.borrowed) for c in row.crew.select_related("person")
    ]
    if sorted(map(_key, there)) != sorted(map(_key, crew)):
        crew_set(by=by, slot=row.slot, entry=row, crew=crew)
    ticks_set(by=by, entry=row, ticks=ticks)
    row.refresh_from_db()
    return row


def _key(line: CrewLine) -> tuple[str, int, str]:
    return line.duty, line.person.pk if line.person else 0, line.borrowed


@transaction.atomic
def ticks_set(*, by: Person, entry: Entry, ticks: Sequence[DeferralLimit]) -> None:
    """Exactly these limits count as read for this entry; those that were read before keep their name and time."""
    permit(by, "entry.tick")
    there = {t.limit_id: t.limit for t in entry.ticks.select_related("limit")}
    wanted = {x.pk: x for x in ticks}
    for pk, limit in wanted.items():
        if pk not in there:
            limit_tick(by=by, entry=entry, limit=limit)
    for pk, limit in there.items():
        if pk not in wanted:
            limit_untick(by=by, entry=entry, limit=limit)


@transaction.atomic
def entry_change(*, by: Person, entry: Entry, version: int | None = None, **changes: Any) -> Entry:
    permit(by, "entry.enter")
    row = lock(entry, version)
    if "covers" in changes:
        _check_cover(row.slot, row.vehicle, changes["covers"])
    moved = change(row, changes, ENTRY_FIELDS)
    if moved:
        written(act="entry.change", by=by, subject=row, vehicle=row.vehicle, detail=moved)
    return row


@transaction.atomic
def entry_swap(*, by: Person, entry: Entry, vehicle: Vehicle, version: int | None = None) -> Entry:
    """Another vehicle takes the place. The people stay; limits read for the old vehicle say nothing of the new one."""
    permit(by, "entry.enter")
    row = lock(entry, version)
    old = row.vehicle
    if old.pk == vehicle.pk:
        return row
    _check_cover(row.slot, vehicle, row.covers)
    if Entry.objects.filter(slot=row.slot, vehicle=vehicle).exists():
        raise ValidationError({"vehicle": f"{vehicle} is in this slot already."})
    row.vehicle, row.entered_by = vehicle, by
    # Figures of the old vehicle's own; the slot's hold for the new one.
    row.distance_km = row.hours = None
    row.version += 1
    row.full_clean()
    row.save(update_fields=["vehicle", "entered_by", "distance_km", "hours", "version"])
    row.ticks.all().delete()
    written(
        act="entry.swap", by=by, subject=row, vehicle=vehicle, detail={"swapped": [str(old), str(vehicle)]}
    )
    return row


@transaction.atomic
def entry_drop(*, by: Person, entry: Entry, version: int | None = None) -> None:
    """Take a vehicle out of a slot."""
    permit(by, "entry.enter")
    row = lock(entry, version)
    written(act="entry.drop", by=by, subject=row, vehicle=row.vehicle)
    row.delete()


@transaction.atomic
def crew_set(
    *,
    by: Person,
    slot: Slot,
    crew: Sequence[CrewLine],
    entry: Entry | None = None,
    version: int | None = None,
) -> list[Crew]:
    """Write the people of one entry, or with no entry those of the whole slot, in place of what stood there.

    `version` is the entry's, or the slot's where there is no entry.
    """
    permit(by, "entry.enter")
    if entry is not None:
        row = lock(entry, version)
        if row.slot_id != slot.pk:
            raise ValidationError("That entry belongs to another slot.")
        made = _crew_write(row.slot, row, crew)
        bump(row)
        written(act="entry.crew", by=by, subject=row, vehicle=row.vehicle, detail={"crew": _told(crew)})
        return made
    whole = lock(slot, version)
    made = _crew_write(whole, None, crew)
    bump(whole)
    written(act="slot.crew", by=by, subject=whole, detail={"crew": _told(crew)})
    return made


def _crew_write(slot: Slot, entry: Entry | None, crew: Sequence[CrewLine]) -> list[Crew]:
    seen: set[tuple[str, int]] = set()
    for line in crew:
        if line.person is None:
            continue
        if (line.duty, line.person.pk) in seen:
            raise ValidationError(f"{line.person} is named twice as {Duty(line.duty).label.lower()}.")
        seen.add((line.duty, line.person.pk))
    Crew.objects.filter(slot=slot, entry=entry).delete()
    made = []
    for line in crew:
        row = Crew(slot=slot, entry=entry, duty=line.duty, person=line.person, borrowed=line.borrowed.strip())
        save_clean(row)
        made.append(row)
    return made


def _told(crew: Sequence[CrewLine]) -> str:
    return "; ".join(f"{Duty(line.duty).label}: {line.person or line.borrowed}" for line in crew)


# ---- limits in words ----
def limits_to_read(vehicle: Vehicle) -> list[DeferralLimit]:
    """Limits in words in force on a vehicle: a person says for each entry whether the slot obeys them."""
    return list(
        DeferralLimit.objects.filter(
            deferral__defect__vehicle=vehicle, deferral__withdrawn_at=None, deferral__defect__state=DefectState.ASSESSED,
            kind__in=TICKED,
        )
        .select_related("deferral__defect")
        .order_by("deferral__ends_on", "pk")
    )  # fmt: skip


@transaction.atomic
def limit_tick(*, by: Person, entry: Entry, limit: DeferralLimit) -> LimitTick:
    """Say that the limit was read and that the slot obeys it: kept with name and time. A second tick changes nothing."""
    permit(by, "entry.tick")
    row = lock(entry, None)
    if limit.pk not in {x.pk for x in limits_to_read(row.vehicle)}:
        raise ValidationError("That limit is not in force on this vehicle, or needs no reading.")
    tick = LimitTick.objects.filter(entry=row, limit=limit).first()
    if tick is not None:
        return tick
    tick = LimitTick(entry=row, limit=limit, by=by)
    save_clean(tick)
    written(act="entry.tick", by=by, subject=row, vehicle=row.vehicle, detail={"limit": limit.words})
    return tick


@transaction.atomic
def limit_untick(*, by: Person, entry: Entry, limit: DeferralLimit) -> None:
    permit(by, "entry.tick")
    row = lock(entry, None)
    gone, _ = LimitTick.objects.filter(entry=row, limit=limit).delete()
    if gone:
        written(act="entry.untick", by=by, subject=row, vehicle=row.vehicle, detail={"limit": limit.words})
