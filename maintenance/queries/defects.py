"""Reading defects. Each function costs the same number of queries however many rows come back."""

from __future__ import annotations

import datetime as dt

from django.db.models import Prefetch, QuerySet
from django.utils import timezone

from fleet.models import Subsystem, Vehicle
from maintenance.enums import OPEN_STATES, DefectState
from maintenance.models import Defect, Deferral, JobCard

OPEN = (DefectState.REPORTED, DefectState.ASSESSED)


def with_parts(rows: QuerySet[Defect]) -> QuerySet[Defect]:
    """With effects, deferrals and open jobs: four queries beside the rows."""
    cards = JobCard.objects.filter(state__in=OPEN_STATES).select_related("taken_by")
    return rows.select_related("vehicle", "subsystem", "reported_by", "assessed_by").prefetch_related(
        "effects",
        Prefetch("cards", queryset=cards, to_attr="open_cards"),
        Prefetch(
            "deferrals", queryset=Deferral.objects.prefetch_related("limits__driver", "signatures__person")
        ),
    )


def open_defects(vehicle: Vehicle | None = None) -> QuerySet[Defect]:
    """Reported or assessed, newest first; of one vehicle or of all."""
    rows = Defect.objects.filter(state__in=OPEN)
    return with_parts(rows if vehicle is None else rows.filter(vehicle=vehicle))


def unassessed() -> QuerySet[Defect]:
    """Waiting for the lead, oldest first."""
    rows = Defect.objects.filter(state=DefectState.REPORTED).select_related(
        "vehicle", "subsystem", "reported_by"
    )
    return rows.order_by("reported_at", "pk")


def likely_duplicates(
    vehicle: Vehicle,
    subsystem: Subsystem | None,
    days: int = 30,
    at: dt.datetime | None = None,
    leave_out: int | None = None,
) -> QuerySet[Defect]:
    """Open reports on the same system of the same vehicle in the last days: perhaps the same fault.

    "Not sure where" may be any of them.
    """
    since = (at or timezone.now()) - dt.timedelta(days=days)
    rows = Defect.objects.filter(vehicle=vehicle, state__in=OPEN, reported_at__gte=since)
    if subsystem is not None:
        rows = rows.filter(subsystem__code__startswith=subsystem.group) | rows.filter(subsystem=None)
    if leave_out is not None:
        rows = rows.exclude(pk=leave_out)
    return rows.select_related("subsystem", "reported_by").order_by("-reported_at", "-pk")


def same_fault_again(vehicle: Vehicle, subsystem: Subsystem, since: dt.datetime) -> QuerySet[JobCard]:
    """Earlier jobs on the same system: what was tried before. Three in two years speak for a deeper cause."""
    return (
        JobCard.objects.filter(
            vehicle=vehicle, subsystem__code__startswith=subsystem.group, created_at__gte=since
        )
        .exclude(state__in=OPEN_STATES)
        .select_related("subsystem")
        .order_by("-ended_at")
    )


def defect_detail(pk: int) -> Defect:
    """One defect with everything its page shows."""
    rows = with_parts(Defect.objects.all()).select_related("joined_to", "found_on")
    return rows.prefetch_related("notes__by", "photos", "joined", "fact_uses__fact").get(pk=pk)
