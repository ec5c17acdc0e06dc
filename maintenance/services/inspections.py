"""Inspections by date and meter: set up, booked, recorded, made void."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import MeterReading, Person, Skill, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean, set_fields
from fleet.services.meters import Figure, decimal
from fleet.services.permit import permit
from maintenance.models import Inspection, InspectionResult
from maintenance.services.base import announce, moment

FIELDS = frozenset(
    {
        "code", "name", "kind", "interval_days", "interval_meter", "interval_amount", "last_on", "last_meter", "due_on",
        "due_at_meter", "never_done", "hours", "persons", "outside",
    }
)  # fmt: skip


@transaction.atomic
def inspection_add(
    *, by: Person, vehicle: Vehicle | None, kind: str, name: str, skills: Iterable[str] = (), **fields: Any
) -> Inspection:
    """Set up a recurring look. Without a last day and an end it counts as never done."""
    permit(by, "inspection.plan")
    unknown = sorted(set(fields) - FIELDS)
    if unknown:
        raise ValidationError(f"An inspection has no such thing: {', '.join(unknown)}.")
    for figure in ("interval_amount", "last_meter", "due_at_meter", "hours"):
        if fields.get(figure) is not None:
            fields[figure] = decimal(fields[figure], figure)
    row = Inspection(vehicle=vehicle, kind=kind, name=name, **fields)
    if row.interval_amount is not None and not row.interval_meter:
        raise ValidationError({"interval_meter": "Say which meter the interval is counted on."})
    if row.due_on is None and row.last_on is not None and row.interval_days:
        row.due_on = row.last_on + dt.timedelta(days=row.interval_days)
    if row.due_at_meter is None and row.last_meter is not None and row.interval_amount is not None:
        row.due_at_meter = row.last_meter + row.interval_amount
    row.never_done = row.never_done or (
        row.last_on is None and row.due_on is None and row.due_at_meter is None
    )
    save_clean(row)
    row.skills.set([Skill.objects.get_or_create(name=skill.strip())[0] for skill in skills])
    acts.record(act="inspection.add", by=by, subject=row, vehicle=vehicle)
    announce("inspection.add", vehicle.pk if vehicle else None)
    return row


@transaction.atomic
def inspection_change(*, by: Person, inspection: Inspection, **changes: Any) -> Inspection:
    permit(by, "inspection.plan")
    row = Inspection.objects.select_for_update().get(pk=inspection.pk)
    moved = set_fields(row, changes, FIELDS)
    if moved:
        acts.record(act="inspection.change", by=by, subject=row, vehicle=row.vehicle, detail=moved)
        announce("inspection.change", row.vehicle_id)
    return row


@transaction.atomic
def inspection_record(
    *,
    inspection: Inspection,
    by: Person,
    done_on: dt.date,
    passed: bool = True,
    done_at: dt.datetime | None = None,
    meter: Figure | None = None,
    words: str = "",
    reference: str = "",
    by_name: str = "",
    valid_through: dt.date | None = None,
    valid_to_meter: Figure | None = None,
) -> InspectionResult:
    """What an inspection found. A pass renews it by date and meter; a void is lifted only by a look after it.

    Args:
        inspection: which.
        by: who writes it down, and who looked unless `by_name` names an outside examiner.
        done_on: the day of the look.
        passed: a failed one makes the inspection void from now on.
        done_at: the moment, where known; else the start of that day, or now for today.
        meter: total at the look; else the last reading before its end.
        words: what was found.
        reference: number of the certificate; an outside examiner leaves one.
        by_name: the outside examiner.
        valid_through: last valid day where the certificate says so; else the interval.
        valid_to_meter: last valid total where the certificate says so.
    """
    permit(by, "inspection.record")
    row = Inspection.objects.select_for_update().get(pk=inspection.pk)
    if row.outside and passed and not (by_name.strip() and reference.strip()):
        raise ValidationError({"reference": "Write the examiner's name and the number of the certificate."})
    if not passed and not words.strip():
        raise ValidationError({"words": "Write what was found wrong."})
    return inspection_renew(
        inspection=row, by=by, done_on=done_on, passed=passed, done_at=done_at, meter=meter, words=words,
        reference=reference, by_name=by_name, valid_through=valid_through, valid_to_meter=valid_to_meter,
    )  # fmt: skip


def inspection_renew(
    *,
    inspection: Inspection,
    by: Person,
    done_on: dt.date,
    passed: bool = True,
    done_at: dt.datetime | None = None,
    meter: Figure | None = None,
    words: str = "",
    reference: str = "",
    by_name: str = "",
    valid_through: dt.date | None = None,
    valid_to_meter: Figure | None = None,
) -> InspectionResult:
    """Store a result inside another service's transaction, which has asked for permission."""
    row = inspection
    if done_on > timezone.localdate():
        raise ValidationError({"done_on": "That day has not come yet."})
    at = _done_at(done_on, done_at)
    total = decimal(meter, "meter") if meter is not None else _meter_at(row, at)
    if passed and row.interval_meter and total is None and valid_to_meter is None:
        raise ValidationError(
            {
                "meter": f"Read the meter ({row.get_interval_meter_display().lower()}) and write it down; the next one is counted from it."
            }
        )
    result = InspectionResult(
        inspection=row, done_on=done_on, done_at=at, meter=total, passed=passed, words=words.strip(),
        reference=reference.strip(), by=by, by_name=by_name.strip(),
    )  # fmt: skip
    save_clean(result)
    if passed:
        _renew(row, result, valid_through, valid_to_meter)
    else:
        row.voided_at, row.voided_why = at, f"Failed on {done_on.day} {done_on:%B %Y}: {words.strip()}"[:200]
    row.full_clean()
    row.save()
    acts.record(
        act="inspection.record" if passed else "inspection.fail", by=by, subject=row, vehicle=row.vehicle,
        detail={"done": done_on.isoformat(), "valid through": str(row.due_on), "meter": str(row.due_at_meter), "reference": reference},
    )  # fmt: skip
    announce("inspection.record", row.vehicle_id)
    return result


def _done_at(done_on: dt.date, done_at: dt.datetime | None) -> dt.datetime:
    if done_at is not None:
        if timezone.localdate(done_at) != done_on:
            raise ValidationError({"done_at": "That time is not on the day of the inspection."})
        return moment(done_at)
    if done_on == timezone.localdate():
        return timezone.now()
    # The hour is not known: taken as the day's start, so that a repair on that day still asks for a new look.
    return timezone.make_aware(dt.datetime.combine(done_on, dt.time.min))


def _meter_at(row: Inspection, at: dt.datetime) -> Decimal | None:
    if not row.interval_meter or row.vehicle_id is None:
        return None
    readings = MeterReading.objects.filter(
        meter__vehicle_id=row.vehicle_id, meter__kind=row.interval_meter, read_at__lte=at
    )
    last = readings.order_by("read_at", "pk").last()
    return last.total if last is not None else None


def _renew(
    row: Inspection, result: InspectionResult, valid_through: dt.date | None, valid_to_meter: Figure | None
) -> None:
    if row.last_on is None or result.done_on >= row.last_on:
        row.last_on, row.last_meter, row.never_done = result.done_on, result.meter, False
        row.due_on = valid_through or (
            result.done_on + dt.timedelta(days=row.interval_days) if row.interval_days else None
        )
        if row.interval_amount is not None and result.meter is not None:
            row.due_at_meter = result.meter + row.interval_amount
        if valid_to_meter is not None:
            row.due_at_meter = decimal(valid_to_meter, "valid_to_meter")
        row.booked_on = None
        if row.once_for_id is not None:  # a re-check after a job: done once, it asks no more
            row.interval_meter, row.due_at_meter = "", None
    if row.voided_at is not None and result.done_at > row.voided_at:
        row.voided_at, row.voided_why = None, ""


@transaction.atomic
def inspection_book(*, inspection: Inspection, by: Person, day: dt.date | None) -> Inspection:
    """The visit, or our own work on it, is booked for that day; None takes the booking off."""
    permit(by, "inspection.plan")
    row = Inspection.objects.select_for_update().get(pk=inspection.pk)
    if day is not None and day < timezone.localdate():
        raise ValidationError({"day": "That day is past. Record the inspection instead."})
    row.booked_on = day
    row.save(update_fields=["booked_on"])
    acts.record(act="inspection.book", by=by, subject=row, vehicle=row.vehicle, detail={"day": str(day)})
    announce("inspection.book", row.vehicle_id)
    return row


@transaction.atomic
def inspection_void(
    *, inspection: Inspection, by: Person, why: str, at: dt.datetime | None = None
) -> Inspection:
    """It no longer counts, whatever its date: work was done, or something gave way."""
    permit(by, "inspection.record")
    if not why.strip():
        raise ValidationError({"why": "Write why it no longer counts."})
    row = Inspection.objects.select_for_update().get(pk=inspection.pk)
    row.voided_at, row.voided_why = moment(at), why.strip()[:200]
    row.save(update_fields=["voided_at", "voided_why"])
    acts.record(act="inspection.void", by=by, subject=row, vehicle=row.vehicle, detail={"why": why.strip()})
    announce("inspection.void", row.vehicle_id)
    return row
