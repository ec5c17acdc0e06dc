"""The record book: who did what, when, to which vehicle, newest first, fifty a page."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.core.paginator import Page, Paginator
from django.utils import timezone

from fleet.models import Act, Person
from fleet.templatetags.look import no_break
from readiness.act_words import words_of
from readiness.engine.reasons import day_words
from readiness.models import Digest

PER_PAGE = 50
HIDDEN = frozenset({"version", "key", "digest"})
DETAIL_LENGTH = 240


@dataclass(frozen=True, slots=True, kw_only=True)
class BookLine:
    at: dt.datetime
    who: str
    what: str
    subject: str
    vehicle: str
    number: str
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BookDay:
    title: str
    lines: tuple[BookLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    days: tuple[BookDay, ...]
    page: Page[Act]


def book(*, vehicle: str = "", person: str = "", day: dt.date | None = None, page: int = 1) -> Book:
    """The lines that fit the filter; two queries whatever their number."""
    acts = Act.objects.select_related("vehicle").order_by("-at", "-pk")
    if vehicle:
        acts = acts.filter(vehicle__code=vehicle)
    if person:
        acts = acts.filter(by__code=person)
    if day is not None:
        zone = timezone.get_current_timezone()
        start = dt.datetime.combine(day, dt.time.min, tzinfo=zone)
        acts = acts.filter(
            at__gte=start, at__lt=dt.datetime.combine(day + dt.timedelta(days=1), dt.time.min, tzinfo=zone)
        )
    found = Paginator(acts, PER_PAGE).get_page(page)
    lines = [_line(a) for a in found.object_list]
    days = groupby(lines, key=lambda x: x.at.date())
    return Book(
        days=tuple(BookDay(title=f"{day_words(d)} {d:%Y}", lines=tuple(some)) for d, some in days),
        page=found,
    )


def _line(act: Act) -> BookLine:
    return BookLine(
        at=timezone.localtime(act.at),
        who=act.by_name or ("A visitor" if act.act.startswith("fault.") else "Nobody signed in"),
        what=_sentence(words_of(act.act)),
        subject=act.subject_label,
        vehicle=act.vehicle.code if act.vehicle else "",
        number=no_break(act.vehicle.number) if act.vehicle else "",
        detail=detail_words(act.detail),
    )


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def detail_words(detail: Mapping[str, Any]) -> str:
    """What moved, `old to new`; lists joined; what only machines read is left out."""
    told = []
    for name, value in detail.items():
        if name in HIDDEN or value in (None, "", [], {}):
            continue
        said = name.replace("_", " ")
        if (
            isinstance(value, list)
            and len(value) == 2
            and not any(isinstance(x, (list, dict)) for x in value)
        ):
            told.append(f"{said}: {value[0] or 'empty'} to {value[1] or 'empty'}")
        elif isinstance(value, list):
            told.append(f"{said}: {', '.join(map(str, value))}")
        elif isinstance(value, bool):
            told.append(f"{said}: {'yes' if value else 'no'}")
        elif not isinstance(value, dict):
            told.append(f"{said}: {value}")
    words = "; ".join(told)
    return words if len(words) <= DETAIL_LENGTH else words[:DETAIL_LENGTH].rsplit(" ", 1)[0] + " ..."


def reminders_for(person: Person, *, limit: int = 20) -> list[Digest]:
    """A person's own letters, newest first; the coordinator and the administrator also see what waits for others."""
    rows = Digest.objects.select_related("person").order_by("-made_at", "-pk")
    own = list(rows.filter(person=person)[:limit])
    if not person.has_role("coordinator", "administrator"):
        return own
    waits = list(rows.filter(sent_at=None).exclude(person=person)[:limit])
    return own + waits
