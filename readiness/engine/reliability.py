"""How often a vehicle fails per running hour, from its own history or from the fleet's.

With five failures or more a vehicle has a history of its own: a power-law process, in which the failure
intensity is lambda beta t^(beta - 1). Beta below 1 is a vehicle that gets better with work done on it, above
1 one that wears out. With fewer, a gamma prior from the fleet is updated by what the vehicle did.

Sources: MIL-HDBK-189 (1981) appendix C; NIST/SEMATECH e-Handbook of Statistical Methods 8.4.5.2 and
7.2.3 (trend test). The handbook of NIST prints the growth slope 1 - beta; here beta is always beta.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import stats

from readiness.engine import mtbf_bounds
from readiness.engine.mtbf_bounds import Interval

ENOUGH = 5

Method = Literal["crow", "nist"]


def _checked(times: Sequence[float], end: float) -> tuple[float, ...]:
    """Failure times in order, or a ValueError that says which rule they break."""
    found = tuple(float(time) for time in times)
    if not math.isfinite(end) or end <= 0:
        raise ValueError("The hours watched must be a finite number above zero.")
    if any(not math.isfinite(time) or time <= 0 for time in found):
        raise ValueError("A failure time must be a finite number above zero.")
    if any(later < sooner for sooner, later in itertools.pairwise(found)):
        raise ValueError("Failure times must run upward.")
    if found and found[-1] > end:
        raise ValueError("A failure lies after the end of the watch.")
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerLaw:
    """A fitted power-law process.

    Attributes:
        times: failure times in running hours, upward.
        end: hours watched, or the last failure when ``failure_truncated``.
        failure_truncated: the watch ended at the last failure.
        beta: raw maximum likelihood shape.
        beta_unbiased: shape corrected for bias: x (n-1)/n, or (n-2)/n when it ended at a failure.
        scale: lambda = n / T^beta, with the raw beta.
        intensity: failures per hour at the end, n beta / T.
        mtbf: hours between failures at the end, raw: 1 / intensity.
        mtbf_unbiased: the same with ``beta_unbiased``.
    """

    times: tuple[float, ...]
    end: float
    failure_truncated: bool
    beta: float
    beta_unbiased: float
    scale: float
    intensity: float
    mtbf: float
    mtbf_unbiased: float

    @property
    def count(self) -> int:
        """Failures seen."""
        return len(self.times)

    @property
    def scale_unbiased(self) -> float:
        """N / T^beta with the corrected beta (the ``a`` of the NIST example)."""
        return self.count / float(self.end**self.beta_unbiased)

    def mtbf_interval(self, level: float = 0.8, method: Method = "crow") -> Interval:
        """Two-sided bounds on the hours between failures at the end.

        Args:
            level: chance that the bounds hold the truth, between 0 and 1.
            method: "crow", the default, is exact for any count: factors from the conditional law, applied to
                the *raw* MTBF (the published tables of MIL-HDBK-189). "nist" is the large-sample
                approximation, applied to the *bias-corrected* MTBF (the example of NIST 8.4.5.2); it is
                narrower than it should be above, below about thirty failures.

        Returns:
            Low and high bound in hours; high is infinite where the approximation has no bound.

        Raises:
            ValueError: ``level`` is not between 0 and 1, the method is unknown, or "nist" is asked of a
                watch that ended at a failure.
        """
        if not 0 < level < 1:
            raise ValueError("The level of an interval lies between 0 and 1.")
        if method == "crow":
            low, high = mtbf_bounds.crow(self.count, level, failure_truncated=self.failure_truncated)
            return low * self.mtbf, high * self.mtbf
        if method != "nist":
            raise ValueError(f"Unknown method {method!r}: crow or nist.")
        if self.failure_truncated:
            raise ValueError("The approximation is published for a watch that ends by the clock.")
        low, high = mtbf_bounds.nist(self.count, level)
        return low * self.mtbf_unbiased, high * self.mtbf_unbiased

    def survive(self, hours: float) -> float:
        """Chance of no failure in the next ``hours`` of running after the end.

        exp(-a ((T + h)^b - T^b)) with the bias-corrected shape b and its scale a.
        """
        if hours < 0:
            raise ValueError("Running hours cannot be negative.")
        b = self.beta_unbiased
        return math.exp(-self.count * ((1 + hours / self.end) ** b - 1))


def power_law(times: Sequence[float], end: float, failure_truncated: bool = False) -> PowerLaw:
    """Fits a power-law process to one vehicle.

    beta = n / sum ln(T / t), the sum over all failures, or over all but the last when the watch ended there.

    Args:
        times: running hours at each failure, upward; equal times are allowed.
        end: running hours at the end of the watch.
        failure_truncated: the watch ended at the last failure.

    Returns:
        The fit.

    Raises:
        ValueError: times out of order or after the end, or too few failures to correct the bias (two, or
            three when the watch ended at a failure), or all failures at the very end.
    """
    found = _checked(times, end)
    n = len(found)
    if n < (3 if failure_truncated else 2):
        raise ValueError("Too few failures for a fit of the vehicle's own.")
    if failure_truncated and found[-1] != end:
        raise ValueError("The watch is said to end at the last failure, but the two hours differ.")
    logs = math.fsum(math.log(end / time) for time in found)
    if logs == 0:
        raise ValueError("All failures lie at the very end: no shape can be fitted.")
    beta = n / logs
    unbiased = (n - (2 if failure_truncated else 1)) / logs
    return PowerLaw(
        times=found,
        end=float(end),
        failure_truncated=failure_truncated,
        beta=beta,
        beta_unbiased=unbiased,
        scale=n / end**beta,
        intensity=n * beta / end,
        mtbf=end / (n * beta),
        mtbf_unbiased=end / (n * unbiased),
    )


def cramer_von_mises(fit: PowerLaw) -> float:
    """Distance of the failures from the fitted law: small is good (MIL-HDBK-189 appendix C).

    1/(12 m) + sum ((t_i / T)^b - (2 i - 1)/(2 m))^2 with the bias-corrected b and m the failures that count
    (all, or all but the last when the watch ended there).
    """
    used = fit.times[:-1] if fit.failure_truncated else fit.times
    m = len(used)
    parts = (
        ((time / fit.end) ** fit.beta_unbiased - (2 * i - 1) / (2 * m)) ** 2
        for i, time in enumerate(used, start=1)
    )
    return 1 / (12 * m) + math.fsum(parts)


def fit_chance(fit: PowerLaw, rng: np.random.Generator, draws: int = 2000) -> float:
    """Chance that a true power-law vehicle would lie as far from its fit as this one does, or farther.

    By simulation: given the count, the t/T raised to beta are ordered uniforms, and the distance does not
    depend on beta. Below about .05 the law is a poor description and the fleet's rate is the safer figure.
    """
    seen = cramer_von_mises(fit)
    m = fit.count - 1 if fit.failure_truncated else fit.count
    uniforms = np.sort(rng.random((draws, m)), axis=1)
    shape = (m - 1) / -np.log(uniforms).sum(axis=1)
    middle = (2 * np.arange(1, m + 1) - 1) / (2 * m)
    distance = 1 / (12 * m) + ((uniforms ** shape[:, None] - middle) ** 2).sum(axis=1)
    return float(np.mean(distance >= seen))


def laplace(times: Sequence[float], end: float) -> float:
    """Trend of the failures: below -2 clearly getting better, above +2 clearly worse.

    (mean of times - T/2) / (T / sqrt(12 n)) for a watch that ended by the clock; near standard normal
    without trend.

    Raises:
        ValueError: no failure, or times that break the rules of ``power_law``.
    """
    found = _checked(times, end)
    if not found:
        raise ValueError("Without a failure there is no trend.")
    return (math.fsum(found) / len(found) - end / 2) / (end / math.sqrt(12 * len(found)))


@dataclass(frozen=True, slots=True, kw_only=True)
class GammaRate:
    """Belief about a constant failure rate per hour: gamma with ``shape`` failures in ``hours``."""

    shape: float
    hours: float

    def __post_init__(self) -> None:
        if not (
            self.shape > 0 and self.hours > 0 and math.isfinite(self.shape) and math.isfinite(self.hours)
        ):
            raise ValueError("A rate needs failures and hours above zero.")

    @property
    def mean(self) -> float:
        """Failures per hour."""
        return self.shape / self.hours

    @property
    def mtbf(self) -> float:
        """Hours between failures at the mean rate."""
        return self.hours / self.shape

    def update(self, failures: int, hours: float) -> GammaRate:
        """The belief after ``failures`` more in ``hours`` more."""
        if failures < 0 or hours < 0:
            raise ValueError("Failures and hours cannot be negative.")
        return GammaRate(shape=self.shape + failures, hours=self.hours + hours)

    def mtbf_interval(self, level: float = 0.8) -> Interval:
        """Bounds on the hours between failures that hold with chance ``level``."""
        if not 0 < level < 1:
            raise ValueError("The level of an interval lies between 0 and 1.")
        low, high = stats.gamma.ppf([(1 - level) / 2, (1 + level) / 2], self.shape, scale=1 / self.hours)
        return float(1 / high), float(1 / low) if low > 0 else math.inf

    def survive(self, hours: float) -> float:
        """Chance of no failure in ``hours``: (H / (H + h))^shape, the doubt about the rate included."""
        if hours < 0:
            raise ValueError("Running hours cannot be negative.")
        return float((self.hours / (self.hours + hours)) ** self.shape)


def fleet_rate(counts: Sequence[int], hours: Sequence[float]) -> GammaRate:
    """What a vehicle of this fleet is like before its own history is looked at.

    Method of moments: the pooled rate, and the spread between vehicles beyond what chance gives. A fleet
    whose vehicles differ no more than chance allows gives a prior as strong as its whole history; half a
    failure is added to the pool so that a fleet without failures has a rate too.

    Args:
        counts: failures of each vehicle.
        hours: running hours of each vehicle in the same order; vehicles without hours are left out.

    Returns:
        The prior.

    Raises:
        ValueError: the two lists differ in length, a figure is negative, or nobody has run at all.
    """
    if len(counts) != len(hours):
        raise ValueError("Failures and hours must be given for the same vehicles.")
    if any(count < 0 for count in counts) or any(not math.isfinite(time) or time < 0 for time in hours):
        raise ValueError("Failures and hours cannot be negative.")
    ran = [(count, time) for count, time in zip(counts, hours, strict=True) if time > 0]
    total = math.fsum(time for _, time in ran)
    if total == 0:
        raise ValueError("No vehicle has run: there is no rate to learn.")
    failures = sum(count for count, _ in ran) + 0.5
    rate = failures / total
    uneven = math.fsum(time * (count / time - rate) ** 2 for count, time in ran) - (len(ran) - 1) * rate
    room = total - math.fsum(time * time for _, time in ran) / total
    between = uneven / room if room > 0 else 0.0
    shape = min(failures, rate * rate / between) if between > 0 else failures
    return GammaRate(shape=shape, hours=shape / rate)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """The failure history of one vehicle as it is used.

    Attributes:
        fit: the belief in use.
        own: True when it is the vehicle's own fit, False when the fleet's prior was updated.
        failures: the vehicle's own failures.
        hours: the vehicle's own hours watched.
        sentence: which was used and from how many.
    """

    fit: PowerLaw | GammaRate
    own: bool
    failures: int
    hours: float
    sentence: str

    @property
    def mtbf(self) -> float:
        """Hours between failures now, corrected for bias."""
        return self.fit.mtbf_unbiased if isinstance(self.fit, PowerLaw) else self.fit.mtbf

    def mtbf_interval(self, level: float = 0.8) -> Interval:
        """Bounds on ``mtbf`` by the default method of the belief in use."""
        return self.fit.mtbf_interval(level)

    def survive(self, hours: float) -> float:
        """Chance of no failure in the next ``hours`` of running."""
        return self.fit.survive(hours)


def outlook(times: Sequence[float], end: float, prior: GammaRate) -> Outlook:
    """A vehicle's own fit from five failures on, else the fleet's prior updated by its own count.

    Args:
        times: running hours at each failure.
        end: running hours watched; 0 is a vehicle that has not run yet.
        prior: what ``fleet_rate`` gave.

    Returns:
        The belief in use, with the sentence that says which.
    """
    found = _checked(times, end) if end else ()
    if times and not end:
        raise ValueError("A failure lies after the end of the watch.")
    if len(found) >= ENOUGH and found[0] < end:
        return Outlook(
            fit=power_law(found, end),
            own=True,
            failures=len(found),
            hours=end,
            sentence=f"From its own {len(found)} failures in {end:g} running hours.",
        )
    noun = "failure" if len(found) == 1 else "failures"
    return Outlook(
        fit=prior.update(len(found), end),
        own=False,
        failures=len(found),
        hours=end,
        sentence=f"Own history too short ({len(found)} {noun} in {end:g} running hours): the fleet's rate, "
        f"moved by its own.",
    )
