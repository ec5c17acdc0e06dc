"""Who is reminded of what, and when: one table of times, one function a role. Everything said here stands on the board.

A letter goes out on a change or for a decision, to a named person, in at most seven lines. The first line says what to
do. Nothing to say is said by silence, except once a week to the coordinator.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from django.utils import timezone

from fleet.models import Person
from readiness import digest_words as words
from readiness.digest_words import path_to
from readiness.models import Digest
from readiness.queries.reminders import Told, told, wall_clock
from readiness.services import digests as services
from readiness.services.digests import Letter, Line

EVENING = dt.time(18)
LATE_BY = dt.timedelta(hours=16)
"""A machine that was off at six in the evening still sends the letter until the next morning at ten."""
MONDAY, THURSDAY = 0, 3
WEEK = 7


# ---- when ----
@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """Which evenings a kind goes out: weekdays from so many days before the event, and single days before or after it."""

    weekdays: frozenset[int] = frozenset()
    from_days_before: int | None = None
    daily_from: int | None = None
    days: frozenset[int] = frozenset()
    every_day: bool = False

    def holds(self, day: dt.date, first: dt.date | None, last: dt.date | None) -> bool:
        if self.every_day:
            return True
        before = (first - day).days if first else None
        if before is not None and last is not None:
            after = (day - last).days
            if (before >= 0 and before in self.days) or (after > 0 and -after in self.days):
                return True
            if self.daily_from is not None and before <= self.daily_from and day <= last:
                return True
        if day.weekday() not in self.weekdays:
            return False
        return self.from_days_before is None or (before is not None and 0 <= before <= self.from_days_before)


TIMES: dict[str, Times] = {
    "coordinator": Times(weekdays=frozenset({MONDAY, THURSDAY}), daily_from=WEEK),
    "mechanic": Times(every_day=True),
    "lead": Times(weekdays=frozenset({THURSDAY})),
    "driver": Times(days=frozenset({14, 3})),
    "manager": Times(weekdays=frozenset({THURSDAY}), from_days_before=42, days=frozenset({2})),
    "curator": Times(weekdays=frozenset({THURSDAY})),
    "everybody": Times(days=frozenset({1, -1})),
}
AT_ONCE = ("lead at once", "manager at once", "curator at once")


def due_day(kind: str, now: dt.datetime, first: dt.date | None, last: dt.date | None) -> dt.date | None:
    """The day whose evening letter of this kind is due now; None when none is."""
    for day in (now.date(), now.date() - dt.timedelta(days=1)):
        start = dt.datetime.combine(day, EVENING)
        if start <= now < start + LATE_BY and TIMES[kind].holds(day, first, last):
            return day
    return None


WRITERS: dict[str, tuple[str, Callable[[Told, Person, dt.date], list[Line]]]] = {
    "coordinator": ("is_coordinator", words.coordinator),
    "mechanic": ("is_mechanic", words.mechanic),
    "lead": ("is_lead", words.lead),
    "driver": ("", words.driver),
    "manager": ("is_manager", words.manager),
    "curator": ("is_curator", words.curator),
    "everybody": ("", words.everybody),
}
HELD_BACK = frozenset({"lead", "curator"})
"""Kinds whose acts are done here: whoever is not in before the next letter is told then."""


# ---- the run ----
def letters(now: dt.datetime) -> Iterator[Letter]:
    """All letters that are due at this moment of the museum's clock; those settled before are left out."""
    t = told(now)
    first, last = (t.event.first_day, t.event.last_day) if t.event else (None, None)
    for kind, (role, write) in WRITERS.items():
        day = due_day(kind, now, first, last)
        if day is None:
            continue
        period = f"{t.event.code[:29]} {day}" if t.event and kind in {"driver", "everybody"} else f"{day}"
        for person in t.people:
            if (role and not getattr(person, role)) or services.is_settled(kind, period, person):
                continue
            if kind in HELD_BACK and not _comes(t, person, day):
                continue
            lines = tuple(write(t, person, day))
            weekly_word = kind == "coordinator" and day.weekday() == THURSDAY
            yield Letter(
                person=person,
                kind=kind,
                period=period,
                lines=_not_empty(lines, kind, weekly_word),
                repeats=weekly_word or kind in {"mechanic", "driver", "everybody"},
            )
    yield from _at_once(t)


def _not_empty(lines: tuple[Line, ...], kind: str, weekly_word: bool) -> tuple[Line, ...]:
    """The coordinator hears that there is nothing once a week, on Thursday; nobody else hears it at all."""
    if (
        kind == "coordinator"
        and not weekly_word
        and len(lines) == 1
        and lines[0].words.startswith("Nothing to do")
    ):
        return ()
    return lines


def _comes(t: Told, person: Person, day: dt.date) -> bool:
    """In on some day of the coming week; somebody without days on file is always told."""
    if not person.patterns.all() and not person.day_exceptions.all():
        return True
    return bool(t.days_of(person, day + dt.timedelta(days=1), day + dt.timedelta(days=WEEK)))


def _at_once(t: Told) -> Iterator[Letter]:
    """A fault rated High goes to the lead, an original part that came off to the curator, without waiting for an evening."""
    for defect in t.high():
        said = f"Act now: {defect.title}, {defect.vehicle}, is rated High ({defect.rating}). It may not be put off."
        line = Line(words=said, path=path_to("readiness:vehicle", defect.vehicle.code))
        yield from _to_role(t, "is_lead", "lead at once", f"{defect.serial} {defect.rating}", line)
    for incident in t.incidents:
        where = f"{incident.vehicle}" if incident.vehicle else incident.place
        held = " It is held as found: release it when you have looked." if incident.holds else ""
        said = f"Look at once: {incident.get_kind_display().lower()} {incident.serial}, {where}. Hurt: {incident.get_hurt_display().lower()}.{held}"
        line = Line(words=said, path=path_to("maintenance:incident", incident.pk))
        yield from _to_role(t, "is_lead", "lead at once", incident.serial, line)
        yield from _to_role(t, "is_manager", "manager at once", incident.serial, line)
    for card in t.cards:
        if card.removes_original and card.original_label:
            said = f"Look: an original part came off {card.vehicle} ({card.title}). Label {card.original_label}, shelf {card.original_shelf or 'not written'}."
            line = Line(words=said, path=path_to("maintenance:card", card.pk))
            yield from _to_role(t, "is_curator", "curator at once", card.serial, line)


def _to_role(t: Told, role: str, kind: str, period: str, line: Line) -> Iterator[Letter]:
    for person in t.people:
        if getattr(person, role) and not services.is_settled(kind, period, person):
            yield Letter(person=person, kind=kind, period=period, lines=(line,), repeats=True)


def digests_write(now: dt.datetime | None = None) -> list[Digest]:
    """Write what is due; each letter once, however many workers ask."""
    moment = wall_clock(now or timezone.now())
    made = [services.digest_make(letter) for letter in letters(moment)]
    return [digest for digest in made if digest is not None]
