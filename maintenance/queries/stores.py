"""The stores: what is not ordered and by when it must be, what is promised, what lies on the shelf, and the tools."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import QuerySet

from fleet.models import Person
from maintenance.enums import NeedState, Timing
from maintenance.models import PartNeed, SpecialTool, Supplier
from maintenance.queries.workshop_page import days_before_freeze, days_in, hours_a_day, mean_hours, with_days

WARN_DAYS = 14
LOOK_BACK = 400
COMING = (NeedState.ON_ORDER, NeedState.OUT_FOR_REPAIR)
DEFAULT_HOURS = Decimal(4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dates:
    """When a part is needed, and the last day on which ordering it still helps.

    Attributes:
        need: the first of the whole work days that the job wants before the freeze; None where nothing is known.
        order: `need` less the lead days.
        code: "none" (no freeze, or work for after the event), "ok", "soon" (within the warning), "late".
        words: the same in a sentence.
    """

    need: dt.date | None
    order: dt.date | None
    code: str
    words: str


NO_DATES = Dates(need=None, order=None, code="none", words="")


def need_day(days: Sequence[dt.date], a_day: Decimal, hours: Decimal) -> dt.date | None:
    """Count whole work days back from the freeze: the day on which the work must begin. None: too few days are left.

    `days` are those on which the person is in, all before the freeze, in order; no spare day is kept back.
    """
    wanted = max(1, math.ceil(hours / a_day)) if a_day > 0 else 1
    return days[-wanted] if wanted <= len(days) else None


def part_dates(part: PartNeed, hands: dict[int, Person], today: dt.date, freeze: dt.datetime | None) -> Dates:
    """The dates of one part. Its job's person is the one who has it, else whom it suits, else anybody of the workshop."""
    card = part.card
    if freeze is None or card is None or card.timing == Timing.AFTER:
        return NO_DATES
    first = today - dt.timedelta(days=LOOK_BACK)
    person = hands.get(card.taken_by_id or card.suits_id or 0)
    if person is not None:
        days, a_day = days_before_freeze(person, first, freeze), hours_a_day(person)
    else:
        days = sorted({day for hand in hands.values() for day in days_in(hand, first, freeze.date())})
        a_day = DEFAULT_HOURS
    need = need_day(days, a_day, mean_hours(card) or a_day)
    if need is None:
        return NO_DATES
    if part.state in COMING:
        return _promised(part, need)
    if part.state not in {NeedState.NOT_ORDERED, NeedState.UNKNOWN}:
        return Dates(need=need, order=None, code="none", words="")
    order = need - dt.timedelta(days=part.lead_days) if part.lead_days is not None else None
    return _to_order(need, order, today)


def _promised(part: PartNeed, need: dt.date) -> Dates:
    late = (part.promised_on - need).days if part.promised_on else 0
    if late > 0:
        return Dates(need=need, order=None, code="late", words=f"Promised {_days(late)} after it is needed")
    return Dates(need=need, order=None, code="ok", words="In time, as promised")


def _to_order(need: dt.date, order: dt.date | None, today: dt.date) -> Dates:
    if order is None:
        return Dates(need=need, order=None, code="soon", words="Lead time not on file: ask the supplier")
    left = (order - today).days
    if left < 0:
        return Dates(need=need, order=order, code="late", words=f"Too late by {_days(-left)}")
    if left <= WARN_DAYS:
        words = "Order today or it is too late" if left == 0 else f"Order within {_days(left)}"
        return Dates(need=need, order=order, code="soon", words=words)
    return Dates(need=need, order=order, code="ok", words=f"{_days(left)} left to order it")


def _days(count: int) -> str:
    return f"{count} day{'' if count == 1 else 's'}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    part: PartNeed
    dates: Dates


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    code: str
    title: str
    lines: Sequence[Line]


SECTIONS = (
    ("order", "Not ordered", (NeedState.NOT_ORDERED,)),
    ("unknown", "Need not known yet", (NeedState.UNKNOWN,)),
    ("coming", "On order, or out for repair", COMING),
    ("shelf", "On the shelf, reserved", (NeedState.ON_SHELF,)),
)


def parts(rows: QuerySet[PartNeed]) -> QuerySet[PartNeed]:
    return rows.select_related("vehicle", "supplier", "card__vehicle", "card__taken_by", "card__suits")


def hands_of(needs: Iterable[PartNeed]) -> dict[int, Person]:
    """Everybody of the workshop, and whoever else a job is named for: three queries."""
    named = {
        owner
        for need in needs
        if need.card is not None
        for owner in (need.card.taken_by_id, need.card.suits_id)
        if owner
    }
    people = Person.objects.filter(is_active=True, left_on=None)
    return {one.pk: one for one in with_days(people.filter(is_mechanic=True) | people.filter(pk__in=named))}


def lines(needs: Sequence[PartNeed], today: dt.date, freeze: dt.datetime | None) -> list[Line]:
    hands = hands_of(needs)
    return [Line(part=need, dates=part_dates(need, hands, today, freeze)) for need in needs]


def stores_page(today: dt.date, freeze: dt.datetime | None) -> list[Section]:
    """What is wanted and where it stands, the last order date first. Fitted and not needed are not shown."""
    gone = (NeedState.FITTED, NeedState.NOT_NEEDED)
    found = lines(list(parts(PartNeed.objects.exclude(state__in=gone))), today, freeze)
    return [
        Section(
            code=code,
            title=title,
            lines=sorted((line for line in found if line.part.state in states), key=_urgency),
        )
        for code, title, states in SECTIONS
    ]


def _urgency(line: Line) -> tuple[dt.date, str]:
    first = line.dates.order if line.part.state not in COMING else line.part.promised_on
    return (first or line.dates.need or dt.date.max, line.part.name)


def tools() -> QuerySet[SpecialTool]:
    return SpecialTool.objects.select_related("keeper")


def suppliers() -> QuerySet[Supplier]:
    return Supplier.objects.prefetch_related("needs")
