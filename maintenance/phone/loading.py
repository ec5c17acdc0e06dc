"""A job with everything that its page shows, in a fixed number of queries."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal

from django.db.models import Prefetch, Q, QuerySet

from fleet.enums import CompetenceKind, InspectArea
from fleet.models import Competence, Fact
from maintenance.enums import OPEN_STATES
from maintenance.models import (
    CautionRead,
    Defect,
    FactUse,
    JobCard,
    JobPhoto,
    JobSignature,
    JobStep,
    JobTest,
    LeaveSafe,
    Measure,
    Reading,
    SpecialTool,
    StripItem,
    Tag,
    WorkLog,
)

MONTHS_24 = dt.timedelta(days=730)
HISTORY = 12
NOUGHT = Decimal(0)


def cards_with_parts() -> QuerySet[JobCard]:
    """Jobs with all that `waits_for` and the page read."""
    return JobCard.objects.select_related(
        "vehicle",
        "subsystem",
        "access",
        "access__place",
        "place",
        "suits",
        "taken_by",
        "found_on",
        "inspection",
    ).prefetch_related(
        Prefetch("steps", JobStep.objects.select_related("done_by")),
        Prefetch("strip_items", StripItem.objects.select_related("off_by", "back_by")),
        Prefetch("card_photos", JobPhoto.objects.select_related("photo")),
        Prefetch("tests", JobTest.objects.select_related("by")),
        Prefetch("signatures", JobSignature.objects.select_related("person")),
        Prefetch("hours", WorkLog.objects.select_related("person")),
        Prefetch("cautions_read", CautionRead.objects.select_related("person")),
        Prefetch("readings", Reading.objects.select_related("measure", "by", "replaced_by")),
        Prefetch("left_safe", LeaveSafe.objects.select_related("by")),
        Prefetch("tools", SpecialTool.objects.select_related("keeper")),
        Prefetch("tags", Tag.objects.filter(lifted_at=None)),
        Prefetch("fact_uses", FactUse.objects.select_related("fact", "fact__corrected_by")),
        Prefetch("defects", Defect.objects.select_related("reported_by")),
        "measures",
        "parts",
    )


def facts_of(card: JobCard) -> list[Fact]:
    """What holds for the system of this job today: corrected facts are left out, their corrections are in."""
    group = card.subsystem.group if card.subsystem is not None else ""
    rows = Fact.objects.filter(vehicle_id=card.vehicle_id, corrected_by=None).select_related(
        "subsystem", "corrects"
    )
    if group:
        rows = rows.filter(Q(subsystem__code__startswith=group) | Q(subsystem=None))
    return list(rows)


def earlier_cards(card: JobCard, now: dt.datetime) -> list[JobCard]:
    """Jobs on the same system in two years, ended ones, newest first."""
    if card.subsystem is None:
        return []
    rows = JobCard.objects.filter(
        vehicle_id=card.vehicle_id,
        subsystem__code__startswith=card.subsystem.group,
        created_at__gte=now - MONTHS_24,
    )
    return list(rows.exclude(pk=card.pk).exclude(state__in=OPEN_STATES).order_by("-ended_at")[:12])


def sharing_cards(card: JobCard) -> list[JobCard]:
    """Open jobs on this vehicle behind the same opening."""
    if card.access_id is None and not card.access_group:
        return []
    same = Q(pk__in=[])
    if card.access_id is not None:
        same |= Q(access_id=card.access_id)
    if card.access_group:
        same |= Q(access_group=card.access_group)
    rows = JobCard.objects.filter(same, vehicle_id=card.vehicle_id, state__in=OPEN_STATES).exclude(pk=card.pk)
    return list(rows.select_related("access"))


def measures_of(card: JobCard) -> list[Measure]:
    """What can be read on this job: what it asks for first, then the rest of its system."""
    wanted = list(card.measures.all())
    known = {one.pk for one in wanted}
    if card.subsystem is None:
        return wanted
    rows = Measure.objects.filter(vehicle_id=card.vehicle_id, system__startswith=card.subsystem.group)
    return wanted + [one for one in rows if one.pk not in known]


def history_of(measures: Iterable[Measure]) -> dict[int, list[Reading]]:
    """Readings on file of each measure that is judged against its own past, newest first."""
    asked = [one.pk for one in measures if one.judgement in {"drop", "trend"}]
    found: dict[int, list[Reading]] = {}
    if not asked:
        return found
    rows = Reading.objects.filter(measure_id__in=asked, replaced_by=None).order_by("-at", "-pk")
    for row in rows[: HISTORY * 4 * len(asked)]:
        kept = found.setdefault(row.measure_id, [])
        if len(kept) < HISTORY:
            kept.append(row)
    return found


def signers_of(area: str, day: dt.date) -> list[tuple[int, str]]:
    """Who may pass work in this area on this day, by name."""
    if not area:
        return []
    rows = Competence.objects.filter(
        Q(valid_through=None) | Q(valid_through__gte=day),
        kind=CompetenceKind.INSPECT, area__in=[area, InspectArea.ANY], person__is_active=True, person__is_trainee=False,
    )  # fmt: skip
    pairs = rows.select_related("person").order_by("person__name").values_list("person_id", "person__name")
    return list(dict.fromkeys(pairs))
