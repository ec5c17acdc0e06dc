"""Jobs for our own inspections that fall due: made ahead, so that they are planned like any other work."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from fleet.enums import VehicleStatus
from fleet.models import MeterReading
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.serials import next_serial
from maintenance.enums import OPEN_STATES, CardKind, CardState
from maintenance.models import Inspection, JobCard
from maintenance.services.base import announce

AHEAD = dt.timedelta(days=28)


def due_inspections(day: dt.date) -> QuerySet[Inspection]:
    """Of vehicles in service, by ourselves, due within the time ahead or void, and without an open job."""
    total = MeterReading.objects.filter(
        meter__vehicle_id=OuterRef("vehicle_id"), meter__kind=OuterRef("interval_meter")
    ).order_by("-read_at", "-pk")
    rows = Inspection.objects.filter(vehicle__status=VehicleStatus.IN_SERVICE, outside=False).annotate(
        total_now=Subquery(total.values("total")[:1])
    )
    due = (
        Q(due_on__lte=day + AHEAD)
        | Q(never_done=True)
        | Q(voided_at__isnull=False)
        | Q(due_at_meter__lte=F("total_now"))
    )
    open_cards = JobCard.objects.filter(inspection=OuterRef("pk"), state__in=OPEN_STATES)
    return rows.filter(due).exclude(Exists(open_cards)).order_by("due_on", "pk")


@transaction.atomic
def due_card_open(inspection: Inspection) -> JobCard | None:
    """The clock opens one job for one inspection; None when somebody has opened it meanwhile."""
    row = Inspection.objects.select_for_update(of=("self",)).select_related("vehicle").get(pk=inspection.pk)
    if row.vehicle is None or row.cards.filter(state__in=OPEN_STATES).exists():
        return None
    card = JobCard(
        serial=next_serial(timezone.localdate()), vehicle=row.vehicle, inspection=row, kind=CardKind.PERIODIC,
        title=row.name, why=_why(row), state=CardState.ASSESSED, hours_usual=row.hours, persons=row.persons,
        voids_readings=False, needs_functional_test=False,
    )  # fmt: skip
    save_clean(card)
    card.skills.set(row.skills.all())
    acts.record(
        act="card.open",
        by=None,
        by_name="The clock",
        subject=card,
        vehicle=row.vehicle,
        detail={"version": card.version},
    )
    announce("card.open", row.vehicle_id)
    return card


def _why(row: Inspection) -> str:
    if row.voided_at is not None:
        return f"Void: {row.voided_why}"
    if row.due_on is not None:
        return f"Valid through {row.due_on.day} {row.due_on:%B %Y}."
    return "No result is on file." if row.never_done else "Its meter has been reached."


def make_due_cards(day: dt.date | None = None) -> int:
    """Open what is due; run again it opens nothing twice."""
    made = [due_card_open(one) for one in due_inspections(day or timezone.localdate())]
    return sum(1 for one in made if one is not None)
