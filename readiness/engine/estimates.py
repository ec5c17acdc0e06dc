"""How long a job may take: a spread of hours in place of one hopeful number.

Two kinds of estimate. ``Pert`` is what a person says in three figures (best, usual, bad). ``Lognormal``
is what is used when nobody has said three: a median from similar work and how wide such work scatters.

Source of the three-point mean and the classic variance: the PERT literature (Malcolm, Roseboom, Clark and
Fazar 1959). The beta shape with weight 4 on the mode and its exact variance follow from the beta
distribution itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, overload

import numpy as np
from numpy.typing import NDArray
from scipy import special

Floats = NDArray[np.float64]


def _chances(q: float | Floats) -> Floats:
    """Returns ``q`` as an array of chances, or raises ValueError outside 0 to 1."""
    chances = np.asarray(q, dtype=np.float64)
    if not bool(np.all((chances >= 0.0) & (chances <= 1.0))):
        raise ValueError("A chance must lie between 0 and 1.")
    # The inverse beta finds no answer for chances near the smallest float; they are nought for all uses.
    return np.where(chances < 1e-100, 0.0, chances)


def _like(given: float | Floats, found: Any) -> Any:
    """Answers a number with a number and an array with an array."""
    return float(found) if np.ndim(given) == 0 else np.asarray(found, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Pert:
    """A three-point estimate read as a beta distribution between ``low`` and ``high``.

    With a = low, m = mode, b = high:
    alpha = 1 + 4 (m - a) / (b - a), beta = 1 + 4 (b - m) / (b - a), mean mu = (a + 4 m + b) / 6 and
    variance = (mu - a) (b - mu) / 7.

    Attributes:
        low: the best case, in any unit (bench hours in this project). Finite and not negative.
        mode: the usual case, ``low <= mode <= high``.
        high: the bad case. Equal to ``low`` means that the work takes exactly that long.

    Raises:
        ValueError: a figure is negative, not finite or out of order.
    """

    low: float
    mode: float
    high: float

    def __post_init__(self) -> None:
        for name in ("low", "mode", "high"):
            value = float(getattr(self, name))
            if not math.isfinite(value):
                raise ValueError(f"The {name} figure of an estimate must be a finite number.")
            if value < 0:
                raise ValueError(f"The {name} figure of an estimate cannot be negative.")
            object.__setattr__(self, name, value)
        if not self.low <= self.mode <= self.high:
            raise ValueError("An estimate runs from best through usual to bad: low <= mode <= high.")

    @property
    def certain(self) -> bool:
        """Whether the three figures are one figure."""
        return self.low == self.high

    @property
    def mean(self) -> float:
        """(low + 4 mode + high) / 6."""
        return (self.low + 4.0 * self.mode + self.high) / 6.0

    @property
    def variance(self) -> float:
        """Exact variance of the beta shape: (mean - low) (high - mean) / 7."""
        return (self.mean - self.low) * (self.high - self.mean) / 7.0

    @property
    def classic_variance(self) -> float:
        """The rule of thumb ((high - low) / 6) squared, used along a path of a network.

        It is not the variance of the beta shape; published network exercises are worked with it.
        """
        return ((self.high - self.low) / 6.0) ** 2

    @property
    def alpha(self) -> float:
        """First shape figure of the beta. A certain estimate has no shape; 3 is given for both."""
        return 3.0 if self.certain else 1.0 + 4.0 * (self.mode - self.low) / (self.high - self.low)

    @property
    def beta(self) -> float:
        """Second shape figure of the beta. See ``alpha`` for a certain estimate."""
        return 3.0 if self.certain else 1.0 + 4.0 * (self.high - self.mode) / (self.high - self.low)

    @overload
    def ppf(self, q: float) -> float: ...
    @overload
    def ppf(self, q: Floats) -> Floats: ...
    def ppf(self, q: float | Floats) -> float | Floats:
        """The figure that is not passed with chance ``q``.

        Args:
            q: one chance or an array of chances, each from 0 to 1.

        Returns:
            A float for one chance, else an array of the same shape.

        Raises:
            ValueError: a chance lies outside 0 to 1.
        """
        unit = special.betaincinv(self.alpha, self.beta, _chances(q))
        return _like(q, self.low + (self.high - self.low) * unit)  # type: ignore[no-any-return]

    @overload
    def cdf(self, x: float) -> float: ...
    @overload
    def cdf(self, x: Floats) -> Floats: ...
    def cdf(self, x: float | Floats) -> float | Floats:
        """The chance of at most ``x``: a number for a number, an array for an array."""
        at = np.asarray(x, dtype=np.float64)
        if self.certain:
            return _like(x, np.where(at >= self.low, 1.0, 0.0))  # type: ignore[no-any-return]
        unit = np.clip((at - self.low) / (self.high - self.low), 0.0, 1.0)
        return _like(x, special.betainc(self.alpha, self.beta, unit))  # type: ignore[no-any-return]


@dataclass(frozen=True, slots=True)
class Lognormal:
    """A guess where nobody gave three figures: as often above ``median`` as below it.

    ln(X) is normal with mean ln(median) and standard deviation ``sigma``.

    Attributes:
        median: above zero, in any unit.
        sigma: scatter of the logarithm; 0 means certain. Used here: .5 for one figure given by somebody
            who knows the work, .6 for the median of a category (both experience figures, no source).

    Raises:
        ValueError: ``median`` is not above zero, ``sigma`` is negative, or one of them is not finite.
    """

    median: float
    sigma: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "median", float(self.median))
        object.__setattr__(self, "sigma", float(self.sigma))
        if not (math.isfinite(self.median) and self.median > 0):
            raise ValueError("The median of a guess must be a finite number above zero.")
        if not (math.isfinite(self.sigma) and self.sigma >= 0):
            raise ValueError("The scatter of a guess must be a finite number, zero or more.")

    @property
    def mean(self) -> float:
        """Median x exp(sigma^2 / 2): above the median, because the long side is long."""
        return self.median * math.exp(self.sigma**2 / 2.0)

    @property
    def variance(self) -> float:
        """(exp(sigma^2) - 1) x mean^2."""
        return math.expm1(self.sigma**2) * self.mean**2

    @overload
    def ppf(self, q: float) -> float: ...
    @overload
    def ppf(self, q: Floats) -> Floats: ...
    def ppf(self, q: float | Floats) -> float | Floats:
        """The figure that is not passed with chance ``q``; infinite at 1 unless certain.

        Raises:
            ValueError: a chance lies outside 0 to 1.
        """
        chances = _chances(q)
        if self.sigma == 0:
            return _like(q, np.full(chances.shape, self.median))  # type: ignore[no-any-return]
        return _like(q, self.median * np.exp(self.sigma * special.ndtri(chances)))  # type: ignore[no-any-return]

    @overload
    def cdf(self, x: float) -> float: ...
    @overload
    def cdf(self, x: Floats) -> Floats: ...
    def cdf(self, x: float | Floats) -> float | Floats:
        """The chance of at most ``x``; nothing lies at or below zero."""
        at = np.asarray(x, dtype=np.float64)
        if self.sigma == 0:
            return _like(x, np.where(at >= self.median, 1.0, 0.0))  # type: ignore[no-any-return]
        positive = np.where(at > 0, at, 1.0)
        chance = special.ndtr((np.log(positive) - math.log(self.median)) / self.sigma)
        return _like(x, np.where(at > 0, chance, 0.0))  # type: ignore[no-any-return]


Estimate = Pert | Lognormal
