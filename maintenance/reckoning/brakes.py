"""Brakes: efficiency and imbalance.

Formulas and figures of the UK roadworthiness inspection: efficiency = effort / weight x 100; imbalance =
(high - low) / high x 100 across an axle, above 30 % fails; service brake 58 % for cars from 1 September 2010.
Older vehicles have lower figures by age class: the local table rules, so the limit is an argument.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from maintenance.limits import Limit, Reading, Verdict, judge
from maintenance.units import Number, exact, rounded

CAUTIONS = ("WARNING. Private level ground, low speed, marshal, nobody ahead. If the pedal sinks, stop.",)

GRAVITY = Fraction("9.80665")  # standard gravity, m/s^2

IMBALANCE = Limit(
    kind="spread",
    source="UK roadworthiness inspection: imbalance across an axle",
    measure="share of highest",
    high=Decimal(30),
)


def _efforts(efforts: Sequence[Number | str], weight: Number | str) -> Fraction:
    found = [exact(effort) for effort in efforts]
    if not found or min(found) < 0 or exact(weight) <= 0:
        raise ValueError("Efforts of nought or more are needed, and a weight above nought.")
    return sum(found, Fraction(0)) / exact(weight) * 100


def efficiency(efforts: Sequence[Number | str], weight: Number | str) -> Decimal:
    """Braking efficiency in percent, one decimal: sum of the efforts / weight x 100.

    Args:
        efforts: at each wheel, in a unit of force.
        weight: of the vehicle as tested, in the same unit of force.

    Raises:
        ValueError: no effort, one below nought, or a weight not above nought.
    """
    return rounded(_efforts(efforts, weight), 1)


def judge_efficiency(
    efforts: Sequence[Number | str], weight: Number | str, *, least: Decimal, source: str
) -> Verdict:
    """The efficiency against the least that applies; judged on the exact figure, equal passes."""
    found = _efforts(efforts, weight)
    limit = Limit(kind="min", source=source, low=least, unit="%")
    # The exact share may have no finite decimal; twelve decimals, rounded down, never lift it over the edge.
    whole = (found * 10**12).__floor__()
    return judge(limit, [Decimal(whole).scaleb(-12)])


def judge_imbalance(efforts: Sequence[Reading], limit: Limit = IMBALANCE) -> Verdict:
    """Imbalance of the two wheels of one axle, (high - low) / high x 100; flags the weaker wheel.

    Raises:
        ValueError: not two wheels.
    """
    if len(efforts) != 2:
        raise ValueError("An axle has two wheels.")
    return judge(limit, efforts, names=("nearside", "offside"))


def efficiency_from_stop(speed_kmh: Number | str, distance_m: Number | str) -> Decimal:
    """Efficiency in percent from one stop on dry level ground: v^2 / (2 g d) x 100, one decimal.

    Raises:
        ValueError: a speed or distance not above nought.
    """
    speed, distance = exact(speed_kmh) / Fraction("3.6"), exact(distance_m)
    if speed <= 0 or distance <= 0:
        raise ValueError("Speed and distance must be above nought.")
    return rounded(speed * speed / (2 * GRAVITY * distance) * 100, 1)
