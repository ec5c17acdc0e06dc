"""The chain of jobs that sets the end, and the chance that one path ends in time.

Source of the path probability: the PERT literature (Malcolm, Roseboom, Clark and Fazar 1959): along *one*
path the means and the classic variances add, and the sum is taken as normal. It says nothing of the other
paths, so for a whole network it is too hopeful; the simulation of the forecast is used for that.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter

from readiness.engine.estimates import Pert

ThreePoint = Pert | tuple[float, float, float]
Duration = float | ThreePoint

_NEAR = 1e-9


class NetworkError(ValueError):
    """The jobs do not form a network.

    Attributes:
        names: the jobs at fault, in order round the circle when they form one.
    """

    def __init__(self, message: str, names: Iterable[str]) -> None:
        """Keeps the sentence and the names of the jobs at fault."""
        super().__init__(message)
        self.names = tuple(names)


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """When one activity can and must run, in the unit of its duration, from 0.

    Attributes:
        duration: the mean.
        variance: the classic variance; 0 for a plain number.
        early_start: earliest possible start.
        early_finish: earliest possible end.
        late_start: latest start that does not move the end.
        late_finish: latest end that does not move the end.
        slack: late start less early start; 0 on the critical path.
    """

    duration: float
    variance: float
    early_start: float
    early_finish: float
    late_start: float
    late_finish: float
    slack: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CriticalPath:
    """The answer of ``critical_path``.

    Attributes:
        path: names along the critical path from first to last. Where two paths are equally long, the one
            with more variance, because it is the likelier to be late.
        length: mean length of that path.
        variance: sum of the classic variances along it.
        activities: timing of every activity by name.
    """

    path: tuple[str, ...]
    length: float
    variance: float
    activities: Mapping[str, Timing]


def _pert(estimate: ThreePoint) -> Pert:
    return estimate if isinstance(estimate, Pert) else Pert(*estimate)


def _mean_and_variance(duration: Duration) -> tuple[float, float]:
    if isinstance(duration, Pert | tuple):
        pert = _pert(duration)
        return pert.mean, pert.classic_variance
    value = float(duration)
    if not math.isfinite(value) or value < 0:
        raise ValueError("A duration must be a finite number, zero or more.")
    return value, 0.0


def path_probability(estimates: Iterable[ThreePoint], target: float) -> float:
    """The chance that the jobs of one path, done one after another, end by ``target``.

    P = Phi((target - sum of means) / sqrt(sum of ((b - a) / 6)^2)).

    Args:
        estimates: ``Pert`` or (best, usual, bad) for each job on the path.
        target: the time allowed, in the unit of the estimates.

    Returns:
        A chance. Without any variance it is 1 when the sum is within the target, equal included, else 0.
    """
    perts = [_pert(estimate) for estimate in estimates]
    mean = math.fsum(pert.mean for pert in perts)
    variance = math.fsum(pert.classic_variance for pert in perts)
    if variance == 0:
        return 1.0 if mean <= target + _NEAR else 0.0
    return 0.5 * math.erfc(-(target - mean) / math.sqrt(2.0 * variance))


def _order(activities: Mapping[str, tuple[Duration, Collection[str]]]) -> list[str]:
    """Every activity after those it needs, or a NetworkError that names what is wrong."""
    wanted = {name for _, needs in activities.values() for name in needs}
    unknown = sorted(wanted - activities.keys())
    if unknown:
        raise NetworkError(f"Needed but not on the list: {', '.join(unknown)}.", unknown)
    try:
        return list(
            TopologicalSorter({name: needs for name, (_, needs) in activities.items()}).static_order()
        )
    except CycleError as error:
        circle = error.args[1][:-1]
        message = f"Each waits for the other, round in a circle: {', '.join(circle)}."
        raise NetworkError(message, circle) from error


def critical_path(activities: Mapping[str, tuple[Duration, Collection[str]]]) -> CriticalPath:
    """Early and late times of every activity, and the path that sets the end.

    Args:
        activities: for each name its duration (a number, a ``Pert`` or (best, usual, bad)) and the names of
            the activities that must end before it starts.

    Returns:
        The critical path and every timing.

    Raises:
        NetworkError: a needed name is unknown, or activities wait for each other in a circle.
        ValueError: a duration is negative or not finite.
    """
    order = _order(activities)
    if not order:
        return CriticalPath(path=(), length=0.0, variance=0.0, activities={})
    figures = {name: _mean_and_variance(activities[name][0]) for name in order}
    start: dict[str, float] = {}
    finish: dict[str, float] = {}
    spread: dict[str, float] = {}  # most variance along a longest way to the end of this activity
    driver: dict[str, str | None] = {}
    for name in order:
        needs = activities[name][1]
        start[name] = max((finish[need] for need in needs), default=0.0)
        drivers = [need for need in sorted(needs) if math.isclose(finish[need], start[name], abs_tol=_NEAR)]
        driver[name] = max(drivers, key=lambda need: spread[need], default=None)
        before = driver[name]
        spread[name] = figures[name][1] + (spread[before] if before is not None else 0.0)
        finish[name] = start[name] + figures[name][0]

    length = max(finish.values())
    late = dict.fromkeys(order, length)
    for name in reversed(order):
        for need in activities[name][1]:
            late[need] = min(late[need], late[name] - figures[name][0])

    timings = {}
    for name in activities:
        slack = late[name] - finish[name]
        timings[name] = Timing(
            duration=figures[name][0],
            variance=figures[name][1],
            early_start=start[name],
            early_finish=finish[name],
            late_start=late[name] - figures[name][0],
            late_finish=late[name],
            slack=0.0 if abs(slack) <= _NEAR * max(1.0, length) else slack,
        )

    lasts = [name for name in sorted(order) if math.isclose(finish[name], length, abs_tol=_NEAR)]
    at: str | None = max(lasts, key=lambda name: spread[name])
    variance = spread[at] if at is not None else 0.0
    path = []
    while at is not None:
        path.append(at)
        at = driver[at]
    return CriticalPath(path=tuple(reversed(path)), length=length, variance=variance, activities=timings)
