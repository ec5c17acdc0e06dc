"""Checks that a refit asks for after the vehicle has run: made by themselves, gating until done."""

from __future__ import annotations

from decimal import Decimal

from django.utils import timezone

from fleet.enums import MeterKind
from fleet.models import MeterReading, Person
from fleet.services import acts
from maintenance.enums import InspectionKind
from maintenance.models import Inspection, JobCard
from maintenance.services.base import announce

HOURS = Decimal("0.25")


def recheck_ask(*, card: JobCard, by: Person | None) -> Inspection | None:
    """Ask for the re-check of a job that has just passed, inside its transaction.

    With a kilometre meter it may run so many kilometres first; without one it runs no slot until the check is done,
    since nobody could say how far it has gone.
    """
    if (
        not card.recheck
        or card.outcome not in {"done", "limit"}
        or card.rechecks.filter(last_on=None).exists()
    ):
        return None
    now = timezone.now()
    last = (
        MeterReading.objects.filter(meter__vehicle_id=card.vehicle_id, meter__kind=MeterKind.KM, read_at__lte=now)
        .order_by("read_at", "pk").last()
    )  # fmt: skip
    row = Inspection(
        vehicle=card.vehicle, kind=InspectionKind.OTHER, name=f"{card.recheck} (job {card.serial})"[:120],
        hours=HOURS, once_for=card,
    )  # fmt: skip
    if last is not None and card.recheck_km:
        row.interval_meter, row.due_at_meter = MeterKind.KM, last.total + card.recheck_km
    else:
        row.voided_at, row.voided_why = now, f"Asked for by job {card.serial}: before it runs again."
    row.full_clean()
    row.save()
    acts.record(
        act="inspection.recheck", by=by, subject=row, vehicle=card.vehicle, detail={"job": card.serial}
    )
    announce("inspection.recheck", card.vehicle_id)
    return row
