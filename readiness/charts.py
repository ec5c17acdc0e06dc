"""Geometry of the day rule and the date tape: percentages of the rule's width, worked out here, drawn by the parts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

LONG_RULE_DAYS = 21
TAIL_DAYS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    pct: float
    label: str
    is_monday: bool
    is_weekend: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DayRule:
    ticks: Sequence[Tick]
    day_pct: float
    label: str
    freeze_pct: float | None
    event_from_pct: float | None
    event_to_pct: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tape:
    case: str
    label: str
    words: str
    freeze_pct: float | None
    even_pct: float | None
    eight_pct: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """The days that the rule shows, from the first midnight to the midnight after the last."""

    first: dt.date
    last: dt.date

    @property
    def days(self) -> int:
        return (self.last - self.first).days + 1

    def pct(self, moment: dt.datetime) -> float:
        start = dt.datetime.combine(self.first, dt.time.min)
        return round((moment - start) / dt.timedelta(days=self.days) * 100, 3)


def day_text(day: dt.date, *, short: bool = False) -> str:
    """`9 June`, or `9 Jun` where space is short."""
    return f"{day.day} {day:%b}" if short else f"{day.day} {day:%B}"


def range_text(one: dt.date, other: dt.date) -> str:
    """`9–13 Jun`, `28 May–3 Jun`, or `9 Jun` when both are the same."""
    if one == other:
        return day_text(one, short=True)
    if (one.year, one.month) == (other.year, other.month):
        return f"{one.day}–{day_text(other, short=True)}"
    return f"{day_text(one, short=True)}–{day_text(other, short=True)}"


def scale_of(today: dt.date, freeze: dt.datetime, last_day: dt.date) -> Scale:
    """From today to some days after the event, the freeze always on it."""
    end = max(last_day, freeze.date(), today) + dt.timedelta(days=TAIL_DAYS)
    return Scale(first=min(today, freeze.date()), last=end)


def day_rule(scale: Scale, *, freeze: dt.datetime, first_day: dt.date, last_day: dt.date) -> DayRule:
    """The steel rule at the head of the board. Beyond 21 days only Mondays carry their number."""
    ticks = []
    for n in range(scale.days):
        day = scale.first + dt.timedelta(days=n)
        named = scale.days <= LONG_RULE_DAYS or day.weekday() == 0
        ticks.append(
            Tick(
                pct=round(n / scale.days * 100, 3),
                label=str(day.day) if named else "",
                is_monday=day.weekday() == 0,
                is_weekend=day.weekday() >= 5,
            )
        )
    midnight = dt.time.min
    return DayRule(
        ticks=ticks,
        day_pct=round(100 / scale.days, 3),
        label=f"Scale of days from {day_text(scale.first)} to {day_text(scale.last)}. Freeze {day_text(freeze.date())} at {freeze:%H:%M}. "
        f"Event {range_text(first_day, last_day)}.",
        freeze_pct=scale.pct(freeze),
        event_from_pct=scale.pct(dt.datetime.combine(first_day, midnight)),
        event_to_pct=scale.pct(dt.datetime.combine(last_day + dt.timedelta(days=1), midnight)),
    )


def tape(
    scale: Scale,
    *,
    freeze: dt.datetime,
    even: dt.datetime | None,
    eight: dt.datetime | None,
    percent: int | None,
    standing: str,
) -> Tape:
    """The date tape of one vehicle: where the even-chance and 8-in-10 dates fall against the freeze."""
    at_freeze = f"freeze {day_text(freeze.date())}"
    if standing in {"fit", "limits"}:
        return Tape(
            case="clear_now",
            label=f"clear now, {at_freeze}",
            words="clear now",
            freeze_pct=scale.pct(freeze),
            even_pct=None,
            eight_pct=None,
        )
    if percent is None:
        words = {"unjudged": "not judged", "barred": "barred", "down": "stood down"}.get(
            standing, "chance not worked out"
        )
        return Tape(
            case="unknown",
            label=f"{words}, {at_freeze}",
            words=words,
            freeze_pct=scale.pct(freeze),
            even_pct=None,
            eight_pct=None,
        )
    chance = f"{percent} in 100 by the freeze"
    if even is None:
        if percent >= 50:
            return Tape(
                case="clear_now",
                label=f"only checks are left, {at_freeze}, {chance}",
                words="checks only",
                freeze_pct=scale.pct(freeze),
                even_pct=None,
                eight_pct=None,
            )
        return Tape(
            case="off_end",
            label=f"no date in sight, {at_freeze}, {chance}",
            words="no date in sight",
            freeze_pct=scale.pct(freeze),
            even_pct=101.0,
            eight_pct=None,
        )
    said = f"even chance by {day_text(even.date())}, " + (
        f"8 in 10 by {day_text(eight.date())}" if eight else "8 in 10 not in sight"
    )
    case = (
        "off_end"
        if eight is None or scale.pct(eight) > 100
        else "after"
        if even > freeze
        else "across"
        if eight > freeze
        else "before"
    )
    words = range_text(even.date(), eight.date()) if eight else f"from {day_text(even.date(), short=True)}"
    return Tape(
        case=case,
        label=f"{said}, {at_freeze}, {chance}",
        words=words,
        freeze_pct=scale.pct(freeze),
        even_pct=scale.pct(even),
        eight_pct=scale.pct(eight) if eight else None,
    )
