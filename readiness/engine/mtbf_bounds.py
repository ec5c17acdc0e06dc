"""Two-sided bounds on the hours between failures of a power-law process, as multipliers.

Two published ways that must not be mixed: the exact factors (Crow; MIL-HDBK-189 appendix C) multiply the
raw figure, the large-sample factors (NIST/SEMATECH e-Handbook 8.4.5.2) the bias-corrected one.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy import optimize, special

Interval = tuple[float, float]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(240)


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    return float(optimize.brentq(function, low, high, xtol=1e-12, rtol=1e-12))


def _count_tails(n: int, x: float) -> Interval:
    """P(N <= n) and P(N >= n) given the sum of logs; x = 2 sqrt(intensity x T x sum of logs).

    Given S = sum ln(T/t), the count has weights (x/2)^(2j-1) / (j! (j-1)!), j = 1, 2, ..., in which beta and
    lambda appear only through the intensity at the end.
    """
    j = np.arange(1, int(n + 2 * x + 60))
    logs = (2 * j - 1) * math.log(x / 2) - special.gammaln(j + 1) - special.gammaln(j)
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    return float(weights[:n].sum()), float(weights[n - 1 :].sum())


def _by_clock(n: int, tail: float) -> Interval:
    """4 n^2 / x^2 at the two roots of the conditional law of the count."""
    least, most = 1e-6, 60.0 + 20.0 * n
    at_low = _root(lambda x: _count_tails(n, x)[0] - tail, least, most)
    at_high = _root(lambda x: _count_tails(n, x)[1] - tail, least, most)
    return 4 * n * n / at_low**2, 4 * n * n / at_high**2


def _at_failure(n: int, tail: float) -> Interval:
    """Bounds when the watch ends at a failure.

    Then lambda T^beta is gamma(n), independent of beta S which is gamma(n - 1), so true/raw has the law of
    n^2 / (G_n G_(n-1)). The outer integral runs over the chance of G_(n-1), by Gauss and Legendre.
    """
    inner = special.gammaincinv(n - 1, (_NODES + 1) / 2)

    def below(product: float) -> float:
        return float(np.sum(_WEIGHTS * special.gammainc(n, product / inner)) / 2)

    most = (n + 12 * math.sqrt(n) + 12) ** 2
    high = _root(lambda w: below(w) - (1 - tail), 1e-9, most)
    low = _root(lambda w: below(w) - tail, 1e-9, most)
    return n * n / high, n * n / low


def crow(n: int, level: float, *, failure_truncated: bool = False) -> Interval:
    """Exact multipliers on the *raw* MTBF.

    Args:
        n: failures, at least 1 (2 when the watch ended at a failure).
        level: chance that the bounds hold the truth, between 0 and 1.
        failure_truncated: the watch ended at the last failure.

    Returns:
        Low and high multiplier.
    """
    tail = (1 - level) / 2
    return _at_failure(n, tail) if failure_truncated else _by_clock(n, tail)


def nist(n: int, level: float) -> Interval:
    """Large-sample multipliers on the *bias-corrected* MTBF, for a watch that ended by the clock.

    With z the two-sided normal value: low n(n-1) / (n + z^2/4 + sqrt(n z^2/2 + z^4/16))^2,
    high n(n-1) / (n - z sqrt(n/2))^2, infinite where the bracket is not above zero.
    """
    z = float(special.ndtri((1 + level) / 2))
    below = n - z * math.sqrt(n / 2)
    low = n * (n - 1) / (n + z * z / 4 + math.sqrt(n * z * z / 2 + z**4 / 16)) ** 2
    return low, (n * (n - 1) / below**2 if below > 0 else math.inf)
