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
from maintenance.queries.inspections_page import uses
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
def due_card_open(inspection: Inspection, why: str = "") -> JobCard | None:
    """The clock opens one job for one inspection; None when somebody has opened it meanwhile."""
    row = Inspection.objects.select_for_update(of=("self",)).select_related("vehicle").get(pk=inspection.pk)
    if row.vehicle is None or row.cards.filter(state__in=OPEN_STATES).exists():
        return None
    card = JobCard(
        serial=next_serial(timezone.localdate()), vehicle=row.vehicle, inspection=row, kind=CardKind.PERIODIC,
        title=row.name, why=why or _why(row), state=CardState.ASSESSED, hours_usual=row.hours, persons=row.persons,
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


def due_by_use(day: dt.date) -> list[tuple[Inspection, str]]:
    """Those whose meter gets to the end within the time ahead at the use of the last year."""
    open_cards = JobCard.objects.filter(inspection=OuterRef("pk"), state__in=OPEN_STATES)
    rows = Inspection.objects.filter(
        vehicle__status=VehicleStatus.IN_SERVICE, outside=False, due_at_meter__isnull=False
    ).exclude(Exists(open_cards)).order_by("pk")  # fmt: skip
    known = uses(day)
    found = []
    for row in rows:
        use = known.get((row.vehicle_id or 0, row.interval_meter))
        if use is not None and use.a_day and row.due_at_meter is not None:
            left = row.due_at_meter - use.total
            if 0 < left <= AHEAD.days * use.a_day:
                reached = day + dt.timedelta(days=int(left / use.a_day))
                said = f"{left.normalize():f} {row.interval_meter} left: reached about {reached.day} {reached:%B} at the use of the last year."
                found.append((row, said))
    return found


def make_due_cards(day: dt.date | None = None) -> int:
    """Open what is due; run again it opens nothing twice."""
    today = day or timezone.localdate()
    made = [due_card_open(one) for one in due_inspections(today)]
    made += [due_card_open(one, why) for one, why in due_by_use(today)]
    return sum(1 for one in made if one is not None)
