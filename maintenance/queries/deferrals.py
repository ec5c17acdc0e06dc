"""Reading what is put off."""

from __future__ import annotations

import datetime as dt

from django.db.models import QuerySet

from fleet.models import Vehicle
from maintenance.enums import DefectState
from maintenance.models import Deferral, Inspection
from maintenance.risk import level, may_carry


def next_inspection_day(vehicle_id: int, after: dt.date) -> dt.date | None:
    """The vehicle's next inspection due after that day, if one is on file."""
    rows = Inspection.objects.filter(vehicle_id=vehicle_id, due_on__gt=after).order_by("due_on")
    return rows.values_list("due_on", flat=True).first()


def standing(vehicle: Vehicle | None = None) -> QuerySet[Deferral]:
    """Neither withdrawn nor of a fault that is answered; with limits, signers and fault in fixed queries."""
    rows = Deferral.objects.filter(withdrawn_at=None, defect__state=DefectState.ASSESSED)
    if vehicle is not None:
        rows = rows.filter(defect__vehicle=vehicle)
    return (
        rows.select_related("defect__vehicle", "defect__subsystem", "renews")
        .prefetch_related("limits__driver", "signatures__person")
        .order_by("ends_on", "pk")
    )


def is_signed(deferral: Deferral) -> bool:
    """Everybody has signed whom the rating without the limit asks. Reads the prefetched signatures."""
    people: dict[int, str] = {}
    for signature in deferral.signatures.all():
        people.setdefault(signature.person_id, signature.role)
    return may_carry(
        without_limit=level(deferral.severity_without, deferral.probability_without),
        with_limit=level(deferral.severity_with, deferral.probability_with),
        signed=people.values(),
    ).allowed


def in_force(vehicle: Vehicle, day: dt.date) -> list[Deferral]:
    """Signed, not ended on that day as it is written. The engine also cuts a term that is longer than the ladder."""
    return [one for one in standing(vehicle).filter(signed_on__lte=day, ends_on__gte=day) if is_signed(one)]
