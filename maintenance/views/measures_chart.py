"""A reading's history as a picture: squares, the limit, hatching beyond it, and where its own line meets the limit.

Only numbers as text leave here: the template writes them into attributes, and a localised one would hold a comma.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from django.utils import timezone

from maintenance.enums import Judgement
from maintenance.models import Measure, Reading
from maintenance.trend import MeetingDay, Refusal, meets_on

WIDE, HIGH = 640, 260
LEFT, RIGHT, TOP, FOOT = 56, 16, 16, 30
LOOK_AHEAD = 1.0
"""The outlook is drawn at most as far ahead as the history reaches back."""

Point = tuple[dt.date, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitLine:
    y: str
    label: str
    label_y: str
    hatch_y: str
    hatch_high: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """What the template draws. `drawn` False: too little to draw; `words` says why or what is found."""

    drawn: bool
    words: str
    label: str = ""
    points: Sequence[tuple[str, str]] = ()
    trace: str = ""
    outlook: str = ""
    meets_x: str = ""
    meets_y: str = ""
    limits: Sequence[LimitLine] = ()
    ticks: Sequence[tuple[str, str]] = ()
    grid: Sequence[tuple[str, str]] = ()


def number(value: Decimal | None) -> str:
    return f"{value.normalize():f}" if value is not None else ""


def _as_it_is(value: Decimal | None, symbol: str) -> str:
    return ""


def limit_words(measure: Measure, in_ours: Callable[[Decimal | None, str], str] = _as_it_is) -> str:
    """The limit as it is read aloud: "3.0 least", "30 most", "12 to 14"; `in_ours` adds it in the museum's unit."""
    unit = f" {measure.unit}" if measure.unit else ""
    low, high = number(measure.low), number(measure.high)
    if measure.judgement == Judgement.LOOK:
        good = [word.strip().rstrip("?") for word in _good(measure.choices)]
        return f"good: {', '.join(good)}" if good else "named choices"
    if measure.judgement == Judgement.RANGE:
        ours = [in_ours(one, measure.unit).strip(" ()") for one in (measure.low, measure.high)]
        return f"{low} to {high}{unit}" + (f" ({' to '.join(ours)})" if all(ours) else "")
    if measure.judgement == Judgement.MIN:
        return f"{low}{unit}{in_ours(measure.low, measure.unit)} least"
    if measure.judgement == Judgement.MAX:
        return f"{high}{unit}{in_ours(measure.high, measure.unit)} most"
    percent = " %" if measure.basis and measure.basis not in {"absolute", "difference"} else unit
    what = {"spread": "apart", "drop": "less than the last", "trend": "off its own history"}[
        measure.judgement
    ]
    if measure.basis == "lowest of highest":
        return f"lowest at least {low} % of the highest"
    return f"{high}{percent} most {what}"


def _good(choices: Sequence[str]) -> list[str]:
    texts = [choice.strip() for choice in choices]
    return texts[: texts.index("|")] if "|" in texts else texts


def value_of(measure: Measure, values: Sequence[str]) -> float | None:
    """The one figure of a set that its limit looks at: the lowest, the highest, or how far they lie apart."""
    try:
        figures = [float(Decimal(value)) for value in values if value]
    except InvalidOperation:
        return None
    if not figures:
        return None
    if measure.judgement == Judgement.MIN:
        return min(figures)
    if measure.judgement == Judgement.SPREAD:
        return max(figures) - min(figures) if measure.basis in {"", "absolute", "difference"} else None
    return max(figures) if measure.judgement == Judgement.MAX else sum(figures) / len(figures)


def bounds(measure: Measure) -> tuple[float | None, float | None]:
    """Least and most in the unit of the picture; None where the limit is not a level in it."""
    if measure.judgement in {Judgement.DROP, Judgement.TREND, Judgement.LOOK}:
        return None, None
    low = (
        float(measure.low)
        if measure.low is not None and measure.judgement in {Judgement.MIN, Judgement.RANGE}
        else None
    )
    high = float(measure.high) if measure.high is not None and measure.judgement != Judgement.MIN else None
    return low, high


def chart_of(measure: Measure, readings: Sequence[Reading], today: dt.date) -> Chart:
    """The picture of a history, oldest first, and its finding in one sentence."""
    if measure.judgement == Judgement.LOOK:
        return Chart(
            drawn=False, words="A look has named choices: it is told in the table, and draws no line."
        )
    found = [(timezone.localdate(row.at), value_of(measure, row.values)) for row in readings]
    points = [(day, value) for day, value in found if value is not None]
    if len(points) < 2:
        return Chart(drawn=False, words="Two readings at least are wanted for a picture, four for a line.")
    low, high = bounds(measure)
    meeting = trend(points, low, high)
    return _draw(points, low, high, meeting, measure, today)


def trend(points: Sequence[Point], low: float | None, high: float | None) -> MeetingDay | Refusal | None:
    """Where the history's own line meets its limit; with two limits, the one that it runs toward."""
    if low is None and high is None:
        return None
    if low is not None and high is not None:
        rising = meets_on(points, high=high)
        if isinstance(rising, Refusal) or rising.line.slope >= 0:
            return rising
        return meets_on(points, low=low)
    return meets_on(points, low=low, high=high)


def finding(meeting: MeetingDay | Refusal | None, today: dt.date) -> str:
    if meeting is None:
        return "Its limit is not a level of its own, so no line is run toward it."
    if isinstance(meeting, Refusal):
        return f"{meeting.sentence} No outlook is given."
    if meeting.code == "already-past":
        return "Its own line is past the limit already."
    if meeting.on is None:
        return "Its own line does not run toward the limit."
    at = f"Its own line meets the limit about {day_words(meeting.on, today)}"
    if meeting.soonest == meeting.latest:
        return f"{at}."
    if meeting.soonest and meeting.latest:
        return f"{at}; between {day_words(meeting.soonest, today)} and {day_words(meeting.latest, today)} by its scatter."
    return (
        f"{at}; by its scatter not before {day_words(meeting.soonest, today)}."
        if meeting.soonest
        else f"{at}."
    )


def day_words(day: dt.date, today: dt.date) -> str:
    return f"{day.day} {day:%B}" if day.year == today.year else f"{day.day} {day:%B %Y}"


def _draw(
    points: Sequence[Point], low: float | None, high: float | None, meeting: MeetingDay | Refusal | None,
    measure: Measure, today: dt.date,
) -> Chart:  # fmt: skip
    first, last = points[0][0], points[-1][0]
    span = max((last - first).days, 1)
    meets = meeting.on if isinstance(meeting, MeetingDay) and meeting.code == "meets" else None
    end = last + dt.timedelta(days=min(int(span * LOOK_AHEAD), (meets - last).days + 1) if meets else 0)
    days = max((end - first).days, 1)
    values = [value for _, value in points] + [value for value in (low, high) if value is not None]
    least, most = min(values), max(values)
    room = (most - least) * 0.12 or abs(most) * 0.1 or 1.0
    least, most = least - room, most + room

    def x(day: dt.date) -> float:
        return LEFT + (day - first).days / days * (WIDE - LEFT - RIGHT)

    def y(value: float) -> float:
        return TOP + (most - value) / (most - least) * (HIGH - TOP - FOOT)

    outlook = ""
    if meets and isinstance(meeting, MeetingDay):
        line = meeting.line
        stop = min(meets, end)
        outlook = f"{x(last):.1f},{y(line.at(last.toordinal())):.1f} {x(stop):.1f},{y(line.at(stop.toordinal())):.1f}"
    words = finding(meeting, today)
    there = meets is not None and meets <= end
    return Chart(
        drawn=True, words=words, label=f"{measure.name}, {len(points)} readings. Limit {limit_words(measure)}. {words}",
        points=[(f"{x(day) - 4:.1f}", f"{y(value) - 4:.1f}") for day, value in points],
        trace=" ".join(f"{x(day):.1f},{y(value):.1f}" for day, value in points), outlook=outlook,
        meets_x=f"{x(meets):.1f}" if meets and there else "",
        meets_y=f"{y(high if high is not None and points[-1][1] <= high else low or 0):.1f}" if there else "",
        limits=[_limit(y, low, "least", HIGH - FOOT), _limit(y, high, "most", TOP)] if low is not None and high is not None
        else [_limit(y, low, "least", HIGH - FOOT)] if low is not None else [_limit(y, high, "most", TOP)] if high is not None else [],
        ticks=[(f"{x(first):.1f}", day_words(first, today)), (f"{x(last):.1f}", day_words(last, today))],
        grid=[(f"{y(value):.1f}", f"{value:g}") for value in (points[0][1], points[-1][1])],
    )  # fmt: skip


def _limit(y: object, value: float, word: str, edge: float) -> LimitLine:
    at = y(value)  # type: ignore[operator]
    top, bottom = sorted((at, float(edge)))
    return LimitLine(
        y=f"{at:.1f}", label=f"{value:g} {word}", label_y=f"{at + (14 if word == 'least' else -5):.1f}",
        hatch_y=f"{top:.1f}", hatch_high=f"{max(bottom - top, 0):.1f}",
    )  # fmt: skip
