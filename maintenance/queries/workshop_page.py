"""The workshop at a glance: who is in until the freeze, with how much work in their name, and what speaks up."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch, Q, QuerySet
from django.utils import timezone

from fleet.enums import Engagement
from fleet.models import Act, DayException, Museum, Person
from maintenance.enums import OPEN_STATES, CardState, Timing
from maintenance.models import JobCard, SpecialTool
from maintenance.signals import freeze_asked

WITHOUT_FREEZE_DAYS = 28
"""How far the pegs run when no event is coming."""
HOLDS = ("card.hold", "card.owner_gone")
COUNTED = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine")
ORDER = (CardState.IN_HAND, CardState.REFIT_DONE, CardState.TESTED, CardState.BOOKED_IN, CardState.ASSESSED)


def freeze_after(day: dt.date) -> dt.datetime | None:
    """The next freeze on or after that day, in the museum's own time, as the app above knows it."""
    answers: Any = freeze_asked.send(sender=JobCard, day=day)
    moments = [answer for _, answer in answers if isinstance(answer, dt.datetime)]
    return timezone.localtime(min(moments)) if moments else None


def with_days(people: QuerySet[Person]) -> QuerySet[Person]:
    """With pattern and single days: two queries beside the rows."""
    return people.prefetch_related(
        "patterns", Prefetch("day_exceptions", DayException.objects.order_by("day"))
    )


def days_in(person: Person, first: dt.date, last: dt.date) -> list[dt.date]:
    """The days on which somebody means to be in: pattern, plus days added, less days away."""
    said = {row.day: row.is_in for row in person.day_exceptions.all()}
    days = (first + dt.timedelta(days=n) for n in range((last - first).days + 1))
    return [day for day in days if said.get(day, any(row.holds_on(day) for row in person.patterns.all()))]


def days_before_freeze(person: Person, first: dt.date, freeze: dt.datetime) -> list[dt.date]:
    """Work days that begin before the freeze."""
    return [
        day
        for day in days_in(person, first, freeze.date())
        if day < freeze.date() or person.day_start < freeze.time()
    ]


def hours_a_day(person: Person) -> Decimal:
    return Decimal(person.worked_quarters) / 4


def turn_up(person: Person, museum: Museum | None) -> Decimal:
    """The chance of turning up: the person's own figure, else the museum's."""
    if person.turn_up is not None:
        return person.turn_up
    if museum is None:
        return Decimal(1)
    return museum.turn_up_staff if person.engagement == Engagement.STAFF else museum.turn_up_volunteer


def mean_hours(card: JobCard) -> Decimal | None:
    """Bench hours of each person on it: (best + 4 usual + bad) / 6 (PERT, Malcolm and others 1959), or the usual alone."""
    if card.hours_usual is None:
        return None
    if card.hours_best is None or card.hours_bad is None:
        return card.hours_usual
    return (card.hours_best + 4 * card.hours_usual + card.hours_bad) / 6


def hours_left(card: JobCard) -> Decimal | None:
    """What is still to be done at the bench, less what is written down; nothing once it is put together."""
    if card.refit_at is not None or card.state in {CardState.REFIT_DONE, CardState.TESTED}:
        return Decimal(0)
    mean = mean_hours(card)
    if mean is None:
        return None
    done = sum((row.hours for row in card.hours.all()), Decimal(0)) / max(card.persons, 1)
    return max(mean - done, Decimal(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Hung:
    """One tag on one peg."""

    card: JobCard
    hours: Decimal
    waits: bool
    goes_on: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Peg:
    """One work day of one person."""

    day: dt.date
    is_today: bool
    hours: Decimal
    wanted: Decimal
    tags: Sequence[Hung] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One person: the pegs until the freeze, and the load by name."""

    person: Person
    pegs: Sequence[Peg]
    cards: Sequence[JobCard]
    wanted: Decimal
    there: Decimal
    without_hours: int
    left_over: Sequence[tuple[JobCard, Decimal]]

    @property
    def over(self) -> Decimal:
        return max(self.wanted - self.there, Decimal(0))

    @property
    def spare(self) -> Decimal:
        return max(self.there - self.wanted, Decimal(0))


def _named(card: JobCard) -> int | None:
    return card.taken_by_id or card.suits_id


def _counts(card: JobCard) -> bool:
    """Work that is meant to be done before the event, and may begin."""
    return card.timing == Timing.BEFORE and card.state not in {
        CardState.CARRIED_FORWARD, CardState.NOT_DUE, CardState.NOT_BOOKED,
    }  # fmt: skip


def open_work() -> list[JobCard]:
    """All open jobs with what this page says of them; a fixed number of queries."""
    return list(
        JobCard.objects.filter(state__in=OPEN_STATES)
        .select_related("vehicle", "taken_by", "suits", "access", "place")
        .prefetch_related("hours", "skills", "parts", "tools")
        .order_by("serial")
    )


def rank(card: JobCard) -> tuple[int, str]:
    state = CardState(card.state)
    return (ORDER.index(state) if state in ORDER else len(ORDER), card.serial)


def rows(
    cards: Iterable[JobCard], today: dt.date, freeze: dt.datetime | None, museum: Museum | None
) -> list[Row]:
    """One row for everybody who works here and is in, or has a job in their name."""
    by_person: dict[int, list[JobCard]] = {}
    for card in cards:
        owner = _named(card)
        if owner is not None and _counts(card):
            by_person.setdefault(owner, []).append(card)
    hands = Person.objects.filter(is_active=True, left_on=None).filter(
        Q(is_mechanic=True) | Q(is_lead=True) | Q(pk__in=by_person)
    )
    found = [_row(person, by_person.get(person.pk, []), today, freeze, museum) for person in with_days(hands)]
    return [row for row in found if row.pegs or row.cards]


def _row(
    person: Person, cards: list[JobCard], today: dt.date, freeze: dt.datetime | None, museum: Museum | None
) -> Row:
    cards = sorted(cards, key=rank)
    if freeze is None:
        days = days_in(person, today, today + dt.timedelta(days=WITHOUT_FREEZE_DAYS))
    else:
        days = days_before_freeze(person, today, freeze)
    left = [(card, hours_left(card)) for card in cards]
    wanted = sum((hours for _, hours in left if hours is not None), Decimal(0))
    pegs, over = hang(days, hours_a_day(person), [(card, hours) for card, hours in left if hours], today)
    return Row(
        person=person, pegs=pegs, cards=cards, wanted=wanted, left_over=over,
        there=len(days) * hours_a_day(person) * turn_up(person, museum),
        without_hours=sum(1 for _, hours in left if hours is None),
    )  # fmt: skip


def hang(
    days: Sequence[dt.date], a_day: Decimal, work: Sequence[tuple[JobCard, Decimal]], today: dt.date
) -> tuple[list[Peg], list[tuple[JobCard, Decimal]]]:
    """Hang the jobs on the days in their order, as many as fill a day; what finds no peg is left over."""
    queue = list(work)
    pegs = []
    for day in days:
        free, tags = a_day, []
        while queue and free > 0:
            card, hours = queue[0]
            now = min(free, hours)
            free -= now
            queue[0] = (card, hours - now)
            tags.append(
                Hung(card=card, hours=now, waits=card.state == CardState.HELD, goes_on=queue[0][1] > 0)
            )
            if queue[0][1] <= 0:
                queue.pop(0)
        pegs.append(Peg(day=day, is_today=day == today, hours=a_day, wanted=a_day - free, tags=tags))
    return pegs, queue


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """Jobs on one vehicle that need the same way in."""

    cards: Sequence[JobCard]
    access_id: int
    opening: Decimal
    apart: Decimal
    together: Decimal
    grouped: bool
    unknown: int = 0

    @property
    def first(self) -> JobCard:
        return self.cards[0]

    @property
    def saves(self) -> Decimal:
        return self.apart - self.together

    @property
    def count_words(self) -> str:
        count = len(self.cards)
        return COUNTED[count] if count < len(COUNTED) else str(count)


def shared_openings(cards: Iterable[JobCard]) -> list[Shared]:
    """Where one opening would serve several jobs: person-hours apart and together, the most saved first.

    Apart: each job pays its own opening and closing. Together: they are paid once. Bench hours are the mean
    of each job, by its three points, times its persons.
    """
    by_way: dict[tuple[int, int], list[JobCard]] = {}
    for card in cards:
        if card.access is not None and card.access.person_hours > 0 and card.refit_at is None:
            by_way.setdefault((card.vehicle_id, card.access_id or 0), []).append(card)
    found = []
    for (_, access), group in by_way.items():
        if len(group) < 2 or group[0].access is None:
            continue
        opening = group[0].access.person_hours
        means = [(mean_hours(card), card.persons) for card in group]
        bench = sum((hours * persons for hours, persons in means if hours is not None), Decimal(0))
        words = {card.access_group for card in group}
        found.append(
            Shared(
                cards=group, access_id=access, opening=opening, apart=bench + opening * len(group),
                together=bench + opening, grouped=len(words) == 1 and "" not in words,
                unknown=sum(1 for card in group if card.hours_usual is None),
            )
        )  # fmt: skip
    return sorted(found, key=lambda one: -one.saves)


@dataclass(frozen=True, slots=True, kw_only=True)
class AwayTool:
    tool: SpecialTool
    cards: Sequence[JobCard]
    overdue: bool


def tools_away(cards: Iterable[JobCard], today: dt.date) -> list[AwayTool]:
    """Special tools that are not at home, with the open jobs that ask for them."""
    wanted: dict[int, list[JobCard]] = {}
    for card in cards:
        for tool in card.tools.all():
            wanted.setdefault(tool.pk, []).append(card)
    away = SpecialTool.objects.exclude(on_loan_to="").select_related("keeper")
    return [
        AwayTool(
            tool=tool,
            cards=wanted.get(tool.pk, []),
            overdue=tool.back_on is not None and tool.back_on < today,
        )
        for tool in away
    ]


def held_since(cards: Sequence[JobCard]) -> list[tuple[JobCard, dt.datetime]]:
    """Held jobs, each with when it was held last; where the act book does not say, when it was touched last."""
    acts = Act.objects.filter(
        act__in=HOLDS, subject_kind=JobCard._meta.label_lower, subject_id__in=[str(card.pk) for card in cards]
    ).order_by("pk")
    since = dict(acts.values_list("subject_id", "at"))
    return [(card, since.get(str(card.pk), card.touched_at)) for card in cards]


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkshopPage:
    rows: Sequence[Row]
    nobody: Sequence[JobCard]
    held: Sequence[tuple[JobCard, dt.datetime]]
    later: Sequence[JobCard]
    untouched: Sequence[JobCard]
    shared: Sequence[Shared]
    tools: Sequence[AwayTool]
    freeze: dt.datetime | None
    today: dt.date
    untouched_days: int = 21
    to_sign: Sequence[JobCard] = field(default_factory=tuple)


def workshop_page(now: dt.datetime, museum: Museum | None) -> WorkshopPage:
    """Everything on the page; the number of queries does not grow with the jobs or the people."""
    today = timezone.localdate(now)
    freeze = freeze_after(today)
    cards = open_work()
    days = museum.untouched_days if museum else 21
    before = now - dt.timedelta(days=days)
    return WorkshopPage(
        rows=rows(cards, today, freeze, museum),
        nobody=sorted((card for card in cards if _named(card) is None and _counts(card)), key=rank),
        held=held_since([card for card in cards if card.state == CardState.HELD]),
        later=[card for card in cards if card.timing == Timing.AFTER and card.state != CardState.CARRIED_FORWARD],
        untouched=[card for card in cards if card.is_stripped and card.touched_at < before],
        shared=shared_openings(cards), tools=tools_away(cards, today), freeze=freeze, today=today, untouched_days=days,
        to_sign=[card for card in cards if card.state in {CardState.REFIT_DONE, CardState.TESTED} and card.second_area],
    )  # fmt: skip
