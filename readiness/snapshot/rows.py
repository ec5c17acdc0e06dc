"""Everything an assessment needs, in a fixed number of queries whatever the size of the museum."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.db.models import Model, Prefetch, Q
from django.utils import timezone

from fleet.models import Competence, DayException, Meter, MeterReading, Museum, Person, Vehicle
from maintenance.enums import OPEN_STATES, DefectState, NeedState
from maintenance.models import (
    Access,
    Defect,
    Deferral,
    Inspection,
    JobCard,
    PartNeed,
    Place,
    SpecialTool,
    Tag,
    UseCheck,
)
from readiness.enums import EventState
from readiness.models import Entry, Event, RoleRule, Slot
from readiness.snapshot.failures import fault_days

LOOK_BACK_DAYS = 400


@dataclass(slots=True, kw_only=True)
class Rows:
    """Model instances with all that hangs on them already fetched."""

    now: dt.datetime
    zone: ZoneInfo
    museum: Museum
    events: list[Event]
    vehicles: list[Vehicle]
    people: list[Person]
    defects: list[Defect]
    cards: list[JobCard]
    ended_tag_cards: set[int]
    inspections: list[Inspection]
    parts: list[PartNeed]
    tags: list[Tag]
    checks: list[UseCheck]
    rules: list[RoleRule]
    places: list[Place]
    accesses: list[Access]
    tools: list[SpecialTool]
    fault_days: dict[int, frozenset[dt.date]]

    def local(self, moment: dt.datetime) -> dt.datetime:
        """Wall-clock time at the museum, without a zone, as the engine wants it."""
        return moment.astimezone(self.zone).replace(tzinfo=None)


def short_names(rows: Iterable[Model], kind: str) -> dict[int, str]:
    """A stable short name per row: its code, else its serial, else kind and key; never the same twice."""
    names: dict[int, str] = {}
    taken: set[str] = set()
    for row in rows:
        name = str(getattr(row, "code", "") or getattr(row, "serial", "") or f"{kind}-{row.pk}")
        if name in taken:
            name = str(getattr(row, "serial", "") or f"{kind}-{row.pk}")
        taken.add(name)
        names[row.pk] = name
    return names


def museum_row() -> Museum:
    """The museum's settings, or the defaults when nobody has set any."""
    return Museum.objects.first() or Museum(name="")


def fetch(*, at: dt.datetime | None = None) -> Rows:
    """Fetch the museum as it is now, to be judged at `at` (now when empty)."""
    museum = museum_row()
    now = at or timezone.now()
    since = now - dt.timedelta(days=LOOK_BACK_DAYS)
    slots = Slot.objects.prefetch_related("crew__person")
    entries = Entry.objects.select_related("vehicle", "covers").prefetch_related("crew__person", "ticks")
    events = (
        Event.objects.exclude(state=EventState.CALLED_OFF)
        .filter(last_day__gte=since.date())
        .prefetch_related(
            "event_days",
            "rehearsals__vehicle",
            Prefetch("slots", slots.prefetch_related(Prefetch("entries", entries))),
        )
        .order_by("first_day", "pk")
    )
    meters = Meter.objects.prefetch_related(
        Prefetch("readings", MeterReading.objects.order_by("-read_at", "-pk"))
    )
    vehicles = Vehicle.objects.prefetch_related(Prefetch("meters", meters), "outings", "papers").order_by(
        "code"
    )
    people = Person.objects.prefetch_related(
        "skills",
        "patterns",
        Prefetch("day_exceptions", DayException.objects.order_by("day")),
        Prefetch("competences", Competence.objects.select_related("vehicle", "with_person")),
    )
    defects = (
        Defect.objects.filter(state__in=[DefectState.REPORTED, DefectState.ASSESSED])
        .select_related("subsystem")
        .prefetch_related(
            "effects",
            "cards",
            Prefetch(
                "deferrals",
                Deferral.objects.filter(withdrawn_at=None)
                .prefetch_related("limits__driver", "signatures__person")
                .order_by("pk"),
            ),
        )
        .order_by("pk")
    )
    cards = (
        JobCard.objects.filter(state__in=OPEN_STATES)
        .select_related("subsystem", "access__place", "place", "suits", "inspection", "vehicle", "taken_by")
        .prefetch_related(
            "skills",
            "tools",
            "after",
            "defects__effects",
            "hours__person",
            "tests",
            "signatures__person",
            "strip_items",
        )
        .order_by("pk")
    )
    tags = list(Tag.objects.filter(lifted_at=None).select_related("card").order_by("pk"))
    return Rows(
        now=now,
        zone=ZoneInfo(museum.time_zone),
        museum=museum,
        events=list(events),
        vehicles=list(vehicles),
        people=list(people.order_by("code")),
        defects=list(defects),
        cards=list(cards),
        ended_tag_cards={t.card.pk for t in tags if t.card is not None and not t.card.is_open},
        inspections=list(
            Inspection.objects.select_related("vehicle")
            .prefetch_related("skills", "after_cards", "after_inspections")
            .order_by("pk")
        ),
        parts=list(
            PartNeed.objects.exclude(state__in=[NeedState.FITTED, NeedState.NOT_NEEDED])
            .select_related("supplier")
            .order_by("pk")
        ),
        tags=tags,
        checks=list(UseCheck.objects.filter(Q(done_at=None) | Q(for_day__gte=since.date())).order_by("pk")),
        rules=list(RoleRule.objects.order_by("pk")),
        places=list(Place.objects.all()),
        accesses=list(Access.objects.all()),
        tools=list(SpecialTool.objects.all()),
        fault_days=fault_days(),
    )
