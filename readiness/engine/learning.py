"""What the workshop learns from its own record: hours, turn-up, surprises, and how true its forecasts were."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from scipy import special, stats

# Experience figures without a source: scatter of one job about its estimate, and of one person's habit in
# one kind of work about the workshop's.
JOB_SCATTER = 0.4
HABIT_SCATTER = 0.25
# And of whole workshops about "estimates are right": one that is half too hopeful is nothing rare.
MUSEUM_SCATTER = 0.4

Key = TypeVar("Key")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """One job against its estimate.

    Attributes:
        estimate: mean hours that were estimated, above zero.
        actual: hours booked so far, above zero.
        open: not finished: the true figure is at least ``actual`` (censored).
    """

    estimate: float
    actual: float
    open: bool = False

    def __post_init__(self) -> None:
        if not (self.estimate > 0 and self.actual > 0 and math.isfinite(self.estimate + self.actual)):
            raise ValueError("Estimated and booked hours must be finite and above zero.")

    @property
    def log_ratio(self) -> float:
        """R = ln(actual / estimate)."""
        return math.log(self.actual / self.estimate)


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """How a person's estimates in one kind of work turn out.

    Attributes:
        log_factor: the shrunk mean of ln(actual / estimate).
        weight: share of the own record in it, n / (n + s^2 / tau^2), from 0 to 1.
        finished: finished jobs used.
        unfinished: open jobs used.
    """

    log_factor: float
    weight: float
    finished: int
    unfinished: int

    @property
    def factor(self) -> float:
        """Times the estimate; 1.2 means that such work takes a fifth longer than said."""
        return math.exp(self.log_factor)

    @property
    def sentence(self) -> str:
        """The figure with how much stands behind it."""
        jobs = self.finished + self.unfinished
        if not jobs:
            return f"x {self.factor:.2f}: no own record yet, the workshop's figure is used."
        noun = "job" if jobs == 1 else "jobs"
        still = f", {self.unfinished} of them still open" if self.unfinished else ""
        return f"x {self.factor:.2f} from {jobs} {noun}{still}; the own record counts {self.weight:.0%}."


def _beyond(mean: float, scatter: float, bound: float) -> float:
    """Mean of a normal figure that is known to lie above ``bound`` (inverse Mills ratio, by logarithms)."""
    z = (bound - mean) / scatter
    log_density = -0.5 * z * z - 0.5 * math.log(2 * math.pi)
    return mean + scatter * math.exp(log_density - float(special.log_ndtr(-z)))


def habit(
    jobs: Iterable[Spent],
    *,
    workshop: float = 0.0,
    scatter: float = JOB_SCATTER,
    between: float = HABIT_SCATTER,
) -> Habit:
    """The mean of ln(actual / estimate), drawn toward the workshop's by how little is known.

    With finished jobs only: w x mean(r) + (1 - w) x workshop, w = n / (n + s^2 / tau^2). An open job counts
    as "at least this much": it enters with its expected figure beyond the bound, found by iteration
    (expectation and maximisation for a censored normal with a normal prior). An open job that has hardly
    begun therefore moves nothing.

    Args:
        jobs: the record of one person, subsystem and kind.
        workshop: the mean of ln(actual / estimate) over the whole workshop; 0 is "estimates are right".
        scatter: s, standard deviation of one job about the habit. Above zero.
        between: tau, standard deviation of habits about the workshop. Above zero.

    Returns:
        The habit.

    Raises:
        ValueError: a scatter is not above zero.
    """
    if not (scatter > 0 and between > 0):
        raise ValueError("Scatter must be above zero.")
    record = list(jobs)
    known = [job.log_ratio for job in record if not job.open]
    bounds = [job.log_ratio for job in record if job.open]
    n, prior = len(record), (scatter / between) ** 2
    # Each round is a contraction by at most (open jobs) / (jobs + prior), so it settles.
    mean, step = workshop, math.inf
    while step > 1e-11:
        guessed = math.fsum(_beyond(mean, scatter, bound) for bound in bounds)
        moved = (math.fsum(known) + guessed + prior * workshop) / (n + prior)
        mean, step = moved, abs(moved - mean) if bounds else 0.0
    return Habit(log_factor=mean, weight=n / (n + prior), finished=len(known), unfinished=len(bounds))


def habits(
    groups: Mapping[Key, Sequence[Spent]],
    *,
    scatter: float = JOB_SCATTER,
    between: float = HABIT_SCATTER,
    hopeful: float = MUSEUM_SCATTER,
) -> tuple[Habit, dict[Key, Habit]]:
    """The workshop's own habit from the whole record, and each group's drawn toward it.

    The workshop's is drawn toward "estimates are right" (0) with standard deviation ``hopeful``. A group with
    few jobs is mostly the workshop's figure; without any record everything is 0.

    Args:
        groups: the record, one list for each person, subsystem and kind.
        scatter: as for ``habit``.
        between: as for ``habit``.
        hopeful: standard deviation of whole workshops about 0. Above zero.

    Returns:
        The workshop's habit, and each group's by its key.

    Raises:
        ValueError: a scatter is not above zero.
    """
    everything = [job for group in groups.values() for job in group]
    whole = habit(everything, scatter=math.hypot(scatter, between), between=hopeful)
    return whole, {
        key: habit(group, workshop=whole.log_factor, scatter=scatter, between=between)
        for key, group in groups.items()
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """Spread of ln(actual / estimate) in the whole record.

    Attributes:
        mean: of the whole workshop.
        within: s, one job about its group.
        between: tau, groups about the workshop; 0 when they differ no more than chance allows.
    """

    mean: float
    within: float
    between: float


def scatter(groups: Sequence[Sequence[Spent]]) -> Scatter | None:
    """Splits the spread into jobs and habits by one-way analysis of variance, on finished jobs only.

    Args:
        groups: the record, one list for each person, subsystem and kind.

    Returns:
        The spread, or None with too little to tell: fewer than two groups, or no group with two jobs.
    """
    ratios = [[job.log_ratio for job in group if not job.open] for group in groups]
    ratios = [group for group in ratios if group]
    sizes = [len(group) for group in ratios]
    total, count = sum(sizes), len(sizes)
    if count < 2 or total == count:
        return None
    mean = math.fsum(r for group in ratios for r in group) / total
    means = [math.fsum(group) / len(group) for group in ratios]
    inside = math.fsum((r - at) ** 2 for group, at in zip(ratios, means, strict=True) for r in group)
    inside /= total - count
    outside = math.fsum(size * (at - mean) ** 2 for size, at in zip(sizes, means, strict=True)) / (count - 1)
    share = (total - sum(size * size for size in sizes) / total) / (count - 1)
    return Scatter(
        mean=mean, within=math.sqrt(inside), between=math.sqrt(max(0.0, (outside - inside) / share))
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """Belief about a yes-or-no rate, a beta distribution: turn-up, or "opening showed more".

    Attributes:
        yes: the count of yes, belief before the record included.
        no: the count of no, likewise.
    """

    yes: float
    no: float

    def __post_init__(self) -> None:
        if not (self.yes >= 0 and self.no >= 0 and 0 < self.yes + self.no < math.inf):
            raise ValueError("A belief needs counts of zero or more, and one above zero.")

    @classmethod
    def before(cls, mean: float, worth: float = 8.0) -> Chance:
        """The belief before any record: ``mean``, as sure as ``worth`` observations would make it."""
        if not (0 <= mean <= 1 and worth > 0):
            raise ValueError("The mean lies between 0 and 1 and the worth above zero.")
        return cls(yes=mean * worth, no=(1 - mean) * worth)

    def update(self, yes: int, no: int) -> Chance:
        """The belief after ``yes`` more that did and ``no`` more that did not."""
        if yes < 0 or no < 0:
            raise ValueError("Counts cannot be negative.")
        return Chance(yes=self.yes + yes, no=self.no + no)

    @property
    def mean(self) -> float:
        """The chance to use."""
        return self.yes / (self.yes + self.no)

    def interval(self, level: float = 0.8) -> tuple[float, float]:
        """Bounds that hold with chance ``level``; both equal the mean where the belief is certain."""
        if not 0 < level < 1:
            raise ValueError("The level of an interval lies between 0 and 1.")
        if self.yes == 0 or self.no == 0:
            return self.mean, self.mean
        low, high = stats.beta.ppf([(1 - level) / 2, (1 + level) / 2], self.yes, self.no)
        return float(low), float(high)


# How many work days the belief about a whole museum is worth: five people's eight.
MUSEUM_WORTH = 40.0


def turn_ups(counts: Mapping[Key, tuple[int, int]], default: float) -> dict[Key, float]:
    """Chance to come on a work day, for each person.

    Each person's belief starts at what the *others* have shown, worth eight days, and that in turn at the default, worth
    forty: ``pool = (40 default + came of others) / (40 + days of others)``, ``(8 pool + came) / (8 + days)``. So a
    museum where people come half the time believes it of a newcomer too, and nobody's own days count twice.

    Args:
        counts: days came and days not, by person; nought of both for one without a record.
        default: the mean before any record, from 0 to 1.

    Returns:
        The chance to use for each person.

    Raises:
        ValueError: a count is negative or the default lies outside 0 to 1.
    """
    came, missed = (sum(c[i] for c in counts.values()) for i in (0, 1))
    if came + missed == 0:
        return dict.fromkeys(counts, default)
    found = {}
    for key, (yes, no) in counts.items():
        others = Chance.before(default, MUSEUM_WORTH).update(came - yes, missed - no)
        found[key] = Chance.before(others.mean).update(yes, no).mean
    return found


# Mean turn-up and discovery before any record, experience figures without a source.
VOLUNTEER = Chance.before(0.75)
STAFF = Chance.before(0.97)
DISCOVERY = Chance.before(0.10)


# Actual over promised lead time and its chance before any record: experience figures without a source.
LEAD_RATIOS = ((1.0, 0.5), (1.3, 0.3), (2.0, 0.2))


def lead_ratios(
    seen: Sequence[float],
    before: Sequence[tuple[float, float]] = LEAD_RATIOS,
    worth: float = 6.0,
    waiting: Sequence[float] = (),
) -> tuple[tuple[float, float], ...]:
    """What a supplier's promises are worth: ratios of actual to promised days, each with its chance.

    The belief before counts as ``worth`` deliveries, each delivery seen as one. A delivery that is still waited
    for will come at some ratio above the one that has passed: its weight goes to the ratios beyond, by their
    weight (redistribution to the right, Efron 1967); where none lies beyond, it stays at the ratio passed.

    Args:
        seen: actual / promised of every delivery of this supplier, above zero.
        before: ratios and chances that add to one.
        worth: how many deliveries the belief before is worth, above zero.
        waiting: passed / promised of every delivery that has not come, above zero.

    Returns:
        Ratios upward, their chances adding to one.

    Raises:
        ValueError: a ratio or the worth is not above zero, or the chances before do not add to one.
    """
    if worth <= 0 or any(not (ratio > 0 and math.isfinite(ratio)) for ratio in (*seen, *waiting)):
        raise ValueError("Ratios and worth must be above zero.")
    if not math.isclose(math.fsum(chance for _, chance in before), 1.0):
        raise ValueError("The chances before must add to one.")
    weights: dict[float, float] = {}
    for ratio, chance in before:
        weights[ratio] = weights.get(ratio, 0.0) + worth * chance
    for ratio in seen:
        weights[ratio] = weights.get(ratio, 0.0) + 1.0
    for passed in sorted(waiting):
        beyond = math.fsum(weight for ratio, weight in weights.items() if ratio > passed)
        if beyond > 0:
            weights = {r: w * (1 + 1 / beyond) if r > passed else w for r, w in weights.items()}
        else:
            weights[passed] = weights.get(passed, 0.0) + 1.0
    total = worth + len(seen) + len(waiting)
    return tuple((ratio, weights[ratio] / total) for ratio in sorted(weights))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tenth:
    """How one tenth of the chances came true.

    Attributes:
        low: from this chance, inclusive.
        high: to this chance, exclusive (inclusive for the last).
        count: forecasts in it.
        said: their mean chance.
        came_true: the share that came true.
        error: standard error of that share, from the chances said.
    """

    low: float
    high: float
    count: int
    said: float
    came_true: float
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """How true the forecasts were.

    Attributes:
        brier: mean of (chance - outcome)^2; 0 is perfect, .25 is what "50 in 100" for all would earn.
        tenths: only tenths in which something was forecast.
    """

    brier: float
    tenths: tuple[Tenth, ...]


def record(chances: Sequence[float], outcomes: Sequence[bool]) -> Record:
    """Compares chances with what happened (Brier 1950).

    Args:
        chances: each from 0 to 1.
        outcomes: whether it came true, in the same order.

    Raises:
        ValueError: no forecasts, lists of different length, or a chance outside 0 to 1.
    """
    said = np.asarray(chances, dtype=np.float64)
    true = np.asarray(outcomes, dtype=np.float64)
    if said.size == 0 or said.shape != true.shape:
        raise ValueError("Chances and outcomes must be given in pairs.")
    if not bool(np.all((said >= 0) & (said <= 1))):
        raise ValueError("A chance must lie between 0 and 1.")
    # 0.3 x 10 is a hair below 3 in binary; the small addition keeps a round chance in its own tenth.
    place = np.minimum(np.floor(said * 10 + 1e-9), 9).astype(np.int64)
    tenths = []
    for tenth in range(10):
        inside = place == tenth
        count = int(inside.sum())
        if count:
            here = said[inside]
            tenths.append(
                Tenth(
                    low=tenth / 10,
                    high=(tenth + 1) / 10,
                    count=count,
                    said=float(here.mean()),
                    came_true=float(true[inside].mean()),
                    error=float(np.sqrt((here * (1 - here)).sum()) / count),
                )
            )
    return Record(brier=float(np.mean((said - true) ** 2)), tenths=tuple(tenths))
