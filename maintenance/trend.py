"""A robust line through a reading's own history, and when that line meets the limit.

The slope is the middle one of all slopes between two readings (Theil 1950, Sen 1968), so one bad reading in
five moves it little. Its height is the middle one of the heights that the readings give it. The band takes
Sen's interval of the slope and shifts the line by the scatter of the readings about it, 1.4826 x the median
distance, which is one standard deviation for normal scatter.

Only readings since the part was last renewed or adjusted belong in the history: the caller picks them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from scipy import stats

FEWEST = 4
_MAD_TO_DEVIATION = 1.4826


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A robust line y = middle_y + slope (x - middle_x).

    Attributes:
        slope: middle slope, units of the reading for one unit of x.
        slope_low: low end of the interval of the slope.
        slope_high: high end.
        middle_x: median of the places.
        middle_y: height of the line there.
        scatter: robust standard deviation of the readings about the line.
        count: readings used.
    """

    slope: float
    slope_low: float
    slope_high: float
    middle_x: float
    middle_y: float
    scatter: float
    count: int

    def at(self, x: float) -> float:
        """Height of the line at ``x``."""
        return self.middle_y + self.slope * (x - self.middle_x)


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """No line is drawn.

    Attributes:
        code: "too-few" or "no-span".
        sentence: the reason in plain words.
    """

    code: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """When the line meets the limit, in the unit of x.

    Attributes:
        code: "meets", "not-in-sight" (it does not run toward the limit) or "already-past".
        at: where the line meets it; None when not in sight.
        soonest: where the steepest line of the band does; None when even that does not run toward it.
        latest: where the gentlest does; None when that does not run toward it.
        line: the line.
    """

    code: str
    at: float | None
    soonest: float | None
    latest: float | None
    line: Line


@dataclass(frozen=True, slots=True, kw_only=True)
class MeetingDay:
    """``Meeting`` in days of the calendar, each rounded down: the last day on which the line still passes.

    Attributes:
        code: as in ``Meeting``.
        on: day of the line itself.
        soonest: day of the steepest line.
        latest: day of the gentlest line.
        line: the line, x in days since 1 January of year 1 (``date.toordinal``).
    """

    code: str
    on: date | None
    soonest: date | None
    latest: date | None
    line: Line


def fit(points: Sequence[tuple[float, float]], level: float = 0.8) -> Line | Refusal:
    """The robust line through a history.

    Args:
        points: (place, reading), place a meter figure or a day number, in any order. At least ``FEWEST``
            different places.
        level: chance that the interval holds the slope, between 0 and 1.

    Returns:
        The line, or a refusal with its reason.

    Raises:
        ValueError: a figure is not finite, or the level is not between 0 and 1.
    """
    if not 0 < level < 1:
        raise ValueError("The level of an interval lies between 0 and 1.")
    if any(not (math.isfinite(x) and math.isfinite(y)) for x, y in points):
        raise ValueError("A history must be of finite figures.")
    places = {x for x, _ in points}
    if len(points) < FEWEST:
        said = f"Too few readings for a line: {len(points)} of {FEWEST}."
        return Refusal(code="too-few", sentence=said)
    if len(places) < FEWEST:
        said = f"Too few different days or meter figures for a line: {len(places)} of {FEWEST}."
        return Refusal(code="no-span", sentence=said)
    x = np.array([point[0] for point in points], dtype=np.float64)
    y = np.array([point[1] for point in points], dtype=np.float64)
    slope, _, low, high = stats.theilslopes(y, x, alpha=level)
    middle_x = float(np.median(x))
    heights = y - slope * (x - middle_x)
    middle_y = float(np.median(heights))
    scatter = _MAD_TO_DEVIATION * float(np.median(np.abs(heights - middle_y)))
    return Line(
        slope=float(slope),
        slope_low=float(low),
        slope_high=float(high),
        middle_x=middle_x,
        middle_y=middle_y,
        scatter=scatter,
        count=len(points),
    )


def _crossing(line: Line, slope: float, shift: float, limit: float, sign: float) -> float | None:
    """Where the line of this slope, shifted toward the limit, meets it; None when it runs away from it.

    ``sign`` is +1 for a limit that is approached by rising, -1 by falling.
    """
    left = sign * (limit - line.middle_y) - shift
    speed = sign * slope
    if speed <= 0:
        return None if left > 0 else line.middle_x
    return line.middle_x + left / speed


def meets(
    points: Sequence[tuple[float, float]],
    *,
    low: float | None = None,
    high: float | None = None,
    level: float = 0.8,
) -> Meeting | Refusal:
    """Where a history meets its limit.

    Args:
        points: as for ``fit``. The last place is "now".
        low: least allowed.
        high: most allowed. Exactly one of the two is given.
        level: of the interval of the slope.

    Returns:
        The meeting, none of it before now, or a refusal with its reason.

    Raises:
        ValueError: not exactly one limit, or as for ``fit``.
    """
    if (low is None) == (high is None):
        raise ValueError("A line meets one limit: give low or high.")
    line = fit(points, level)
    if isinstance(line, Refusal):
        return line
    sign = 1.0 if low is None else -1.0
    limit = float(high if low is None else low)  # type: ignore[arg-type]
    now = max(x for x, _ in points)
    if sign * (line.at(now) - limit) > 0:
        return Meeting(code="already-past", at=now, soonest=now, latest=now, line=line)
    steep, gentle = sorted((line.slope_low, line.slope_high), key=lambda slope: -sign * slope)
    at = _crossing(line, line.slope, 0.0, limit, sign)
    soonest = _crossing(line, steep, line.scatter, limit, sign)
    latest = _crossing(line, gentle, -line.scatter, limit, sign)
    return Meeting(
        code="not-in-sight" if at is None else "meets",
        at=None if at is None else max(at, now),
        soonest=None if soonest is None else max(soonest, now),
        latest=None if latest is None else max(latest, now),
        line=line,
    )


def _day(number: float | None) -> date | None:
    """The day of an ordinal, or None beyond the calendar: that far ahead nothing is known."""
    if number is None or number >= date.max.toordinal():
        return None
    return date.fromordinal(math.floor(number + 1e-9))


def meets_on(
    points: Sequence[tuple[date, float]],
    *,
    low: float | None = None,
    high: float | None = None,
    level: float = 0.8,
) -> MeetingDay | Refusal:
    """``meets`` with days of the calendar as places."""
    found = meets([(day.toordinal(), value) for day, value in points], low=low, high=high, level=level)
    if isinstance(found, Refusal):
        return found
    return MeetingDay(
        code=found.code,
        on=_day(found.at),
        soonest=_day(found.soonest),
        latest=_day(found.latest),
        line=found.line,
    )
