"""What people change about themselves, and stretches of days at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction

from fleet.models import DayException, Person
from fleet.services import acts
from fleet.services.days import day_away, day_in, pattern_end, pattern_set
from fleet.services.fields import set_fields


class WrongWeekday(ValidationError):
    """A pattern that was refused, with the weekday that it was for."""

    def __init__(self, weekday: int, trouble: ValidationError) -> None:
        super().__init__(trouble.messages)
        self.weekday = weekday


@transaction.atomic
def contact_set(*, by: Person, email: str, telephone: str) -> Person:
    """Their own address and telephone; nobody else's."""
    if not by.is_active:
        raise PermissionDenied("Only somebody who is here may change their own particulars.")
    row = Person.objects.select_for_update().get(pk=by.pk)
    moved = set_fields(row, {"email": email, "telephone": telephone}, {"email", "telephone"})
    if moved:
        acts.record(act="person.contact", by=row, subject=row, detail={"changed": sorted(moved)})
    return row


@transaction.atomic
def days_set(
    *,
    by: Person,
    person: Person,
    first: dt.date,
    last: dt.date | None = None,
    reason: str = "",
    is_in: bool = False,
) -> int:
    """Away on each day of the stretch on which they would be in, or in on each day. Returns how many days."""
    days = [first + dt.timedelta(days=n) for n in range(((last or first) - first).days + 1)]
    if not is_in:
        days = _meant_to_come(person, days)
    if not days:
        raise ValidationError(
            {"first": f"{person.name} is not down to be in then. There is nothing to take away."}
        )
    for day in days:
        (day_in if is_in else day_away)(by=by, person=person, day=day, reason=reason)
    return len(days)


def _meant_to_come(person: Person, days: list[dt.date]) -> list[dt.date]:
    patterns = list(person.patterns.all())
    said = dict(DayException.objects.filter(person=person, day__in=days).values_list("day", "is_in"))
    return [day for day in days if said.get(day, any(row.holds_on(day) for row in patterns))]


@transaction.atomic
def patterns_set(*, by: Person, person: Person, wanted: Mapping[int, tuple[int, dt.date | None]]) -> int:
    """The whole week at once: what is wanted stands, what is not ends. Returns how many weekdays moved."""
    there = {row.weekday: (row.every_weeks, row.counted_from) for row in person.patterns.all()}
    moved = 0
    for weekday, (every_weeks, counted_from) in wanted.items():
        if there.get(weekday) != (every_weeks, counted_from):
            try:
                pattern_set(
                    by=by, person=person, weekday=weekday, every_weeks=every_weeks, counted_from=counted_from
                )
            except ValidationError as trouble:
                raise WrongWeekday(weekday, trouble) from trouble
            moved += 1
    for weekday in set(there) - set(wanted):
        pattern_end(by=by, person=person, weekday=weekday)
        moved += 1
    return moved
