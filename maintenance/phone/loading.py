"""A job with everything that its page shows: the job, its lists, the people in them; one question each."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from fleet.enums import CompetenceKind, InspectArea
from fleet.models import Act, Competence, Fact, Person
from maintenance.enums import OPEN_STATES
from maintenance.models import (
    CautionRead,
    Defect,
    FabricPart,
    FactUse,
    Incident,
    JobCard,
    JobPhoto,
    JobSignature,
    JobStep,
    JobTest,
    LeaveSafe,
    Measure,
    PartNeed,
    Reading,
    SpecialTool,
    StripItem,
    Tag,
    WorkLog,
)
from maintenance.phone.rows import Part, fill, parts_of
from maintenance.queries.defects import likely_duplicates
from maintenance.queries.hand_ins import SECOND, SETTLED, acts_of, unsettled

MONTHS_24 = dt.timedelta(days=730)
HISTORY = 12
NOUGHT = Decimal(0)
BRIEF = ("serial", "title", "state", "ended_at", "outcome_words", "access_id")
LISTS = (
    "steps", "strip_items", "card_photos", "tests", "signatures", "hours", "cautions_read", "readings", "left_safe", "tools",
    "defects", "parts", "measures",
)  # fmt: skip
PEOPLE = ("done_by", "off_by", "back_by", "by", "person", "keeper")


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """A job, its lists filled in, and what is known around it."""

    card: JobCard
    facts: tuple[Fact, ...]
    outdated: tuple[FactUse, ...]
    earlier: tuple[JobCard, ...]
    sharing: tuple[JobCard, ...]
    measures: tuple[Measure, ...]
    signers: tuple[tuple[int, str], ...]
    tags: tuple[Tag, ...]
    hand_ins: tuple[Act, ...]
    hands_off: tuple[FabricPart, ...]
    held_as_found: tuple[Incident, ...]
    alike: tuple[Defect, ...]


def load(pk: int, now: dt.datetime, day: dt.date) -> Loaded:
    """One job for its page.

    Raises:
        JobCard.DoesNotExist: there is no such job.
    """
    card = JobCard.objects.select_related(
        "vehicle",
        "subsystem",
        "access",
        "access__place",
        "place",
        "suits",
        "taken_by",
        "second",
        "found_on",
        "inspection",
    ).get(pk=pk)
    found = parts_of(JobCard.objects.filter(pk=pk), _parts(card, now, day))
    _measures_set(found)
    _people_set(found)
    for name in LISTS:
        fill(card, name, found[name])
    return Loaded(
        card=card, facts=tuple(found["facts"]), outdated=tuple(found["outdated"]), earlier=tuple(found["earlier"]),
        sharing=tuple(found["sharing"]), measures=(*found["measures"], *found["more"]),
        tags=tuple(found["tags"]), hand_ins=tuple(unsettled(found["hand_ins"])),
        hands_off=tuple(found["hands_off"]), held_as_found=tuple(found["held_as_found"]), alike=tuple(found["alike"]),
        signers=tuple(dict.fromkeys((one.person_id, one.person_name) for one in found["signers"])),
    )  # fmt: skip


def _parts(card: JobCard, now: dt.datetime, day: dt.date) -> dict[str, Part]:
    return {
        "steps": Part(rows=JobStep.objects.filter(card=card)),
        "strip_items": Part(rows=StripItem.objects.filter(card=card)),
        "card_photos": Part(rows=JobPhoto.objects.filter(card=card), extras={"shows": F("photo__shows")}),
        "tests": Part(rows=JobTest.objects.filter(card=card)),
        "signatures": Part(rows=JobSignature.objects.filter(card=card)),
        "hours": Part(rows=WorkLog.objects.filter(card=card)),
        "cautions_read": Part(rows=CautionRead.objects.filter(card=card)),
        "readings": Part(rows=Reading.objects.filter(card=card, replaced_by=None).order_by("at", "pk")),
        "left_safe": Part(rows=LeaveSafe.objects.filter(card=card)),
        "tools": Part(rows=SpecialTool.objects.filter(cards=card)),
        "tags": Part(rows=Tag.objects.filter(vehicle_id=card.vehicle_id, lifted_at=None)),
        "defects": Part(rows=Defect.objects.filter(cards=card)),
        "parts": Part(rows=PartNeed.objects.filter(card=card)),
        "all_measures": Part(rows=_measures(card), extras={"is_wanted": Exists(_wanted(card).filter(measure_id=OuterRef("pk")))}),
        "facts": Part(rows=_facts(card), extras={"was": F("corrects__value")}),
        "outdated": Part(
            rows=FactUse.objects.filter(card=card, fact__corrected_by__isnull=False),
            extras={
                "about": F("fact__about"), "was": F("fact__value"), "now": F("fact__corrected_by__value"),
                "reason": F("fact__corrected_by__reason"),
            },
        ),
        "earlier": Part(rows=_earlier(card, now), fields=BRIEF),
        "sharing": Part(rows=_sharing(card), fields=BRIEF),
        "hands_off": Part(rows=_hands_off(card)),
        "held_as_found": Part(
            rows=Incident.objects.filter(vehicle_id=card.vehicle_id, released_at=None).order_by("happened_at", "pk")
        ),
        "alike": Part(rows=_alike(card, now), fields=("serial", "title", "reported_at")),
        "hand_ins": Part(rows=acts_of(card.pk, SECOND, SETTLED)),
        "signers": Part(rows=_signers(card.second_area, day), extras={"person_name": F("person__name")}),
    }  # fmt: skip


def _group(card: JobCard) -> str:
    return card.subsystem.group if card.subsystem is not None else ""


def _facts(card: JobCard) -> QuerySet[Fact]:
    """What holds for the system of this job today: corrected facts are left out, their corrections are in."""
    rows = Fact.objects.filter(vehicle_id=card.vehicle_id, corrected_by=None)
    group = _group(card)
    return rows.filter(Q(subsystem__code__startswith=group) | Q(subsystem=None)) if group else rows


def _hands_off(card: JobCard) -> QuerySet[FabricPart]:
    """What of historic value is fitted on this system, or nobody knows where, and is not to be worked on."""
    rows = FabricPart.objects.filter(vehicle_id=card.vehicle_id, hands_off=True, off_on=None)
    group = _group(card)
    return rows.filter(Q(subsystem__code__startswith=group) | Q(subsystem=None)) if group else rows


def _alike(card: JobCard, now: dt.datetime) -> QuerySet[Defect]:
    """What was reported on this system lately, so that it is not reported twice."""
    return likely_duplicates(card.vehicle, card.subsystem, at=now).exclude(cards=card)


def _earlier(card: JobCard, now: dt.datetime) -> QuerySet[JobCard]:
    """Jobs on the same system in two years, ended ones, newest first."""
    if card.subsystem is None:
        return JobCard.objects.filter(pk__in=[-1])
    rows = JobCard.objects.filter(
        vehicle_id=card.vehicle_id, subsystem__code__startswith=_group(card), created_at__gte=now - MONTHS_24
    )
    return rows.exclude(pk=card.pk).exclude(state__in=OPEN_STATES).order_by("-ended_at", "-pk")


def _sharing(card: JobCard) -> QuerySet[JobCard]:
    """Open jobs on this vehicle behind the same opening."""
    same = Q(pk__in=[-1])
    if card.access_id is not None:
        same |= Q(access_id=card.access_id)
    if card.access_group:
        same |= Q(access_group=card.access_group)
    return JobCard.objects.filter(same, vehicle_id=card.vehicle_id, state__in=OPEN_STATES).exclude(pk=card.pk)


def _wanted(card: JobCard) -> QuerySet[Any]:
    through: Any = JobCard.measures.through
    rows: QuerySet[Any] = through.objects.filter(jobcard_id=card.pk)
    return rows


def _measures(card: JobCard) -> QuerySet[Measure]:
    """What the job asks for, what was read on it, and whatever else can be read on its system."""
    read = Q(pk__in=Reading.objects.filter(card=card).values("measure_id"))
    known = Q(pk__in=_wanted(card).values("measure_id")) | read
    if card.subsystem is not None:
        known |= Q(vehicle_id=card.vehicle_id, system__startswith=_group(card))
    return Measure.objects.filter(known)


def _signers(area: str, day: dt.date) -> QuerySet[Competence]:
    """Who may pass work in this area on this day."""
    return Competence.objects.filter(
        Q(valid_through=None) | Q(valid_through__gte=day),
        kind=CompetenceKind.INSPECT, area__in=[area, InspectArea.ANY] if area else [], person__is_active=True,
        person__is_trainee=False,
    ).order_by("person__name", "pk")  # fmt: skip


def signers_of(area: str, day: dt.date) -> list[tuple[int, str]]:
    return list(dict.fromkeys(_signers(area, day).values_list("person_id", "person__name")))


def _measures_set(found: dict[str, list[Any]]) -> None:
    """Readings know their measure; the job's own list holds what it asks for."""
    every = {one.pk: one for one in found.pop("all_measures")}
    found["measures"] = [one for one in every.values() if one.is_wanted]
    found["more"] = [one for one in every.values() if not one.is_wanted]
    replaced: Any = Reading._meta.get_field("replaced_by")
    for reading in found["readings"]:
        reading.measure = every[reading.measure_id]
        replaced.set_cached_value(reading, None)


def _people_set(found: dict[str, list[Any]]) -> None:
    slots = [
        (row, name)
        for rows in found.values()
        for row in rows
        for name in PEOPLE
        if getattr(row, f"{name}_id", None) is not None
    ]
    people = Person.objects.in_bulk({getattr(row, f"{name}_id") for row, name in slots})
    for row, name in slots:
        setattr(row, name, people[getattr(row, f"{name}_id")])


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
