"""When people are in: their pattern, single days, and who came."""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet import rules
from fleet.models import DayException, Person, SignIn, WorkPattern
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit


def _may_set(by: Person, person: Person) -> None:
    permit(
        by, "days.others", rules.may_set_days(by, person.pk),
        f"Only {person.name} or the coordinator may say when {person.first_name} is in.",
    )  # fmt: skip


@transaction.atomic
def pattern_set(
    *, by: Person, person: Person, weekday: int, every_weeks: int = 1, counted_from: dt.date | None = None
) -> WorkPattern:
    _may_set(by, person)
    row = WorkPattern.objects.filter(person=person, weekday=weekday).first() or WorkPattern(
        person=person, weekday=weekday
    )
    row.every_weeks, row.counted_from = every_weeks, counted_from
    save_clean(row)
    acts.record(
        act="days.pattern",
        by=by,
        subject=person,
        detail={"weekday": row.get_weekday_display(), "every": every_weeks},
    )
    acts.fleet_announce("days.pattern")
    return row


@transaction.atomic
def pattern_end(*, by: Person, person: Person, weekday: int) -> None:
    _may_set(by, person)
    ended = WorkPattern.objects.filter(person=person, weekday=weekday)
    if not ended.exists():
        raise ValidationError({"weekday": f"{person.name} has no pattern on that day."})
    ended.delete()
    acts.record(act="days.pattern_end", by=by, subject=person, detail={"weekday": weekday})
    acts.fleet_announce("days.pattern_end")


def day_away(*, by: Person, person: Person, day: dt.date, reason: str = "") -> DayException:
    """Not in on this one day."""
    return _day(by=by, person=person, day=day, is_in=False, reason=reason)


def day_in(*, by: Person, person: Person, day: dt.date, reason: str = "") -> DayException:
    """In on this one day, whatever the pattern says."""
    return _day(by=by, person=person, day=day, is_in=True, reason=reason)


@transaction.atomic
def _day(*, by: Person, person: Person, day: dt.date, is_in: bool, reason: str) -> DayException:
    _may_set(by, person)
    row = DayException.objects.filter(person=person, day=day).first() or DayException(person=person, day=day)
    row.is_in, row.reason = is_in, reason
    save_clean(row)
    act = "days.in" if is_in else "days.away"
    acts.record(act=act, by=by, subject=person, detail={"day": day.isoformat(), "reason": reason})
    acts.fleet_announce(act)
    return row


@transaction.atomic
def sign_in_record(
    *,
    by: Person,
    person: Person,
    day: dt.date,
    came: bool = True,
    arrived: dt.time | None = None,
    left: dt.time | None = None,
) -> SignIn:
    """Who came on a work day; the chance of turning up is learnt from these."""
    permit(
        by, "sign_in.others", rules.may_sign_in(by, person.pk),
        f"Only {person.name}, the lead or the coordinator may write down whether {person.first_name} came.",
    )  # fmt: skip
    if arrived and left and left <= arrived:
        raise ValidationError({"left": "Left before arriving. Look at both times."})
    if not came and (arrived or left):
        raise ValidationError({"came": "Somebody who did not come has no times."})
    row = SignIn.objects.filter(person=person, day=day).first() or SignIn(person=person, day=day)
    row.came, row.arrived, row.left = came, arrived, left
    save_clean(row)
    acts.record(act="days.sign_in", by=by, subject=person, detail={"day": day.isoformat(), "came": came})
    return row
