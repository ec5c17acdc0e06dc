"""Tracks: what a sag means, and how far pins and bushes are worn.

The sag is measured after coasting to a stop without the brake, on level ground, at the point that the manual
names. The parabola for a shallow sag is geometry; 3 % of stretch is a house figure, common practice.
"""

from __future__ import annotations

import math
from decimal import Decimal

from maintenance.limits import Limit, Reading, Verdict, judge
from maintenance.units import Number, exact, rounded

CAUTIONS = (
    "WARNING. Tension and pins: crush and flying steel. Chock the other side, one voice gives orders, open a "
    "grease adjuster slowly with your face away.",
)


def slack(span: float, sag: float) -> float:
    """Length of track beyond the straight line over one span: 8 sag^2 / (3 span), for a shallow sag.

    Args:
        span: between the two supports.
        sag: at the middle, same unit, at most a quarter of the span.

    Raises:
        ValueError: lengths out of range.
    """
    if not (span > 0 and 0 <= sag <= span / 4):
        raise ValueError("The sag lies between nought and a quarter of the span.")
    return 8 * sag * sag / (3 * span)


def sag_for(span: float, length: float) -> float:
    """The sag that a given slack makes: the reverse of ``slack``."""
    if not (span > 0 and length >= 0):
        raise ValueError("Span and slack cannot be negative.")
    return math.sqrt(3 * span * length / 8)


def judge_sag(
    left: Reading, right: Reading, *, low: Decimal, high: Decimal, apart: Decimal, source: str
) -> tuple[Verdict, Verdict]:
    """Both sides against the range, and against each other.

    Returns:
        The verdict on the range, and on the difference between the sides. In mm.
    """
    sides = ("left", "right")
    within = Limit(kind="range", source=source, low=low, high=high, unit="mm")
    between = Limit(kind="spread", source=source, high=apart, unit="mm", way="both")
    return judge(within, [left, right], names=sides), judge(between, [left, right], names=sides)


def stretch(length: Number | str, new: Number | str) -> Decimal:
    """Percent by which a stretch of links, pulled tight, is longer than new; one decimal.

    Raises:
        ValueError: a length not above nought.
    """
    if exact(length) <= 0 or exact(new) <= 0:
        raise ValueError("Both lengths must be above nought.")
    return rounded((exact(length) - exact(new)) / exact(new) * 100, 1)


def judge_stretch(
    length: Reading, new: Reading, *, most: Decimal = Decimal(3), source: str = "house rule, common practice"
) -> Verdict:
    """The same against the most allowed; judged on the exact figure, equal passes."""
    limit = Limit(kind="drop", source=source, high=most, unit="mm", measure="percent", way="rise")
    return judge(limit, [length], [new])
