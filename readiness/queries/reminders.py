"""What the reminders are written from: the nearest event's stored assessment and the workshop as it is, read once."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

from django.utils import timezone

from fleet.models import Person
from maintenance.enums import CardState, DefectState, UseCheckKind
from maintenance.models import Defect, Deferral, Incident, Inspection, JobCard, ToCopy, UseCheck
from maintenance.queries import cards as card_queries
from maintenance.queries import deferrals as deferral_queries
from maintenance.queries import stores
from maintenance.queries.outside import OutsideLine, unanswered
from maintenance.queries.workshop_page import days_in, with_days
from maintenance.risk import Level, level
from maintenance.services.copying import papers_open
from readiness.enums import EventState
from readiness.models import Assessment, Crew, Event

LOOK_BACK_DAYS = 8
"""An event that ended no longer ago still has after-use slips and condition checks to hand in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Rows and results from which every letter of one run is written."""

    now: dt.datetime
    event: Event | None
    result: dict[str, Any]
    people: tuple[Person, ...]
    parts: tuple[stores.Line, ...]
    cards: tuple[JobCard, ...]
    defects: tuple[Defect, ...]
    deferrals: tuple[Deferral, ...]
    inspections: tuple[Inspection, ...]
    checks: tuple[UseCheck, ...]
    duties: tuple[Crew, ...]
    incidents: tuple[Incident, ...] = ()
    papers: tuple[ToCopy, ...] = ()
    unanswered: tuple[OutsideLine, ...] = ()
    tags: dict[str, str] = field(default_factory=dict)

    @property
    def today(self) -> dt.date:
        return self.now.date()

    def days_of(self, person: Person, first: dt.date, last: dt.date) -> list[dt.date]:
        """The days on which somebody means to be in."""
        return days_in(person, first, last)

    def entries(self) -> list[dict[str, Any]]:
        return list(self.result.get("entries", []))

    def cards_of(self, person: Person) -> list[JobCard]:
        """Jobs that somebody has, then those meant for them that nobody has."""
        alive = [c for c in self.cards if c.state not in {CardState.CARRIED_FORWARD, CardState.NOT_DUE}]
        have = [c for c in alive if c.taken_by_id == person.pk]
        return have + [c for c in alive if c.taken_by_id is None and c.suits_id == person.pk]

    def high(self) -> list[Defect]:
        """Open faults rated High: nobody may put them off."""
        return [
            d
            for d in self.defects
            if d.state == DefectState.ASSESSED
            and d.severity
            and d.probability
            and level(d.severity, d.probability) == Level.HIGH
        ]

    def duties_by_person(self) -> dict[int, list[Crew]]:
        found: dict[int, list[Crew]] = defaultdict(list)
        for duty in self.duties:
            if duty.person_id is not None:
                found[duty.person_id].append(duty)
        return found


def event_for(today: dt.date) -> Event | None:
    """The nearest event to come; one that ended a few days ago counts until it is closed."""
    rows = Event.objects.filter(state=EventState.PLANNED)
    coming = rows.filter(last_day__gte=today).order_by("freeze_at", "-weight", "pk").first()
    past = rows.filter(last_day__lt=today, last_day__gte=today - dt.timedelta(days=LOOK_BACK_DAYS))
    just_over = past.order_by("-last_day").first()
    return just_over if just_over and (today - just_over.last_day).days <= 1 else coming or just_over


def told(now: dt.datetime) -> Told:
    """Read everything for one run; `now` is the museum's wall clock. A fixed number of queries."""
    today = now.date()
    event = event_for(today)
    kept = Assessment.objects.filter(event=event, is_latest=True).first() if event else None
    sections = stores.stores_page(today, event.freeze_at if event else None)
    people = with_days(Person.objects.filter(is_active=True, left_on=None).order_by("code"))
    cards = card_queries.open_cards().prefetch_related("tools__keeper")
    defects = Defect.objects.filter(state__in=[DefectState.REPORTED, DefectState.ASSESSED])
    checks = UseCheck.objects.filter(done_at=None, for_day__gte=today - dt.timedelta(days=60))
    duties = Crew.objects.filter(slot__event=event).select_related("slot", "entry__vehicle", "person")
    return Told(
        now=now,
        event=event,
        result=kept.result if kept else {},
        people=tuple(people.prefetch_related("competences")),
        parts=tuple(
            line for section in sections if section.code in {"order", "coming"} for line in section.lines
        ),
        cards=tuple(cards),
        defects=tuple(defects.select_related("vehicle").order_by("reported_at", "pk")),
        deferrals=tuple(deferral_queries.standing()),
        inspections=tuple(
            Inspection.objects.filter(outside=True, booked_on=None)
            .select_related("vehicle")
            .order_by("due_on", "pk")
        ),
        checks=tuple(
            checks.filter(kind__in=[UseCheckKind.AFTER_USE, UseCheckKind.CONDITION_BEFORE])
            .select_related("vehicle")
            .order_by("for_day", "pk")
        ),
        incidents=tuple(Incident.objects.filter(closed_at=None).select_related("vehicle").order_by("pk")),
        papers=tuple(papers_open()),
        unanswered=tuple(unanswered(today)),
        duties=tuple(duties.order_by("slot__starts_at", "pk")) if event else (),
    )


def wall_clock(moment: dt.datetime) -> dt.datetime:
    return timezone.localtime(moment).replace(tzinfo=None)
