"""Who is in, day by day: what people said, and who came."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, Q

from fleet.models import DayException, Person, SignIn

WEEKS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One person on one day. `how` is what they said; `came` what happened (None: nobody wrote it down)."""

    person: Person
    how: str  # meant | added | away | unasked
    reason: str
    came: bool | None
    arrived: dt.time | None
    left: dt.time | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkDay:
    day: dt.date
    coming: tuple[Place, ...]
    away: tuple[Place, ...]
    unasked: tuple[Place, ...]  # came without having said so

    @property
    def anybody(self) -> bool:
        return bool(self.coming or self.away or self.unasked)


def days_between(first: dt.date, last: dt.date) -> list[WorkDay]:
    """Every day of the stretch on which somebody is in, away or came: four queries, however many people."""
    stretch = {"day__range": (first, last)}
    people = list(
        Person.objects.filter(Q(left_on=None) | Q(left_on__gte=first)).prefetch_related(
            "patterns",
            Prefetch("day_exceptions", DayException.objects.filter(**stretch), to_attr="said"),
            Prefetch("sign_ins", SignIn.objects.filter(**stretch), to_attr="came_on"),
        )
    )
    days = (first + dt.timedelta(days=n) for n in range((last - first).days + 1))
    return [found for day in days if (found := _day(day, people)).anybody]


def coming_days(today: dt.date, weeks: int = WEEKS) -> list[WorkDay]:
    return days_between(today, today + dt.timedelta(days=7 * weeks - 1))


def one_day(day: dt.date) -> WorkDay:
    found = days_between(day, day)
    return found[0] if found else WorkDay(day=day, coming=(), away=(), unasked=())


def own_days(person: Person, today: dt.date, weeks: int = WEEKS) -> list[tuple[dt.date, Place]]:
    """The days on which one person is in or away."""
    places = []
    for work_day in coming_days(today, weeks):
        mine = next((p for p in (*work_day.coming, *work_day.away) if p.person.pk == person.pk), None)
        if mine is not None:
            places.append((work_day.day, mine))
    return places


def _day(day: dt.date, people: Sequence[Person]) -> WorkDay:
    places = [place for person in people if (place := _place(day, person)) is not None]
    return WorkDay(
        day=day,
        coming=tuple(p for p in places if p.how in {"meant", "added"}),
        away=tuple(p for p in places if p.how == "away"),
        unasked=tuple(p for p in places if p.how == "unasked"),
    )


def _place(day: dt.date, person: Person) -> Place | None:
    if person.left_on is not None and day > person.left_on:
        return None
    said = next((row for row in person.said if row.day == day), None)  # type: ignore[attr-defined]
    sign_in = next((row for row in person.came_on if row.day == day), None)  # type: ignore[attr-defined]
    meant = any(row.holds_on(day) for row in person.patterns.all())
    if said is not None:
        # "away" on a day outside the pattern takes nothing away, so it is not shown
        how = ("meant" if meant else "added") if said.is_in else ("away" if meant else "")
    else:
        how = "meant" if meant else ""
    if not how and sign_in is None:
        return None
    return Place(
        person=person, how=how or "unasked", reason=said.reason if said else "",
        came=sign_in.came if sign_in else None,
        arrived=sign_in.arrived if sign_in else None, left=sign_in.left if sign_in else None,
    )  # fmt: skip
