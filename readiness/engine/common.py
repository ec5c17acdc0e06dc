"""The one factor that multiplies all hours of a sample, in the light of the work already done.

Before any work the factor F is lognormal with mean one: ln F = sigma z - sigma^2 / 2, z standard normal. A job with
hours h on an estimate of middle m says r = ln(h / m) = ln F + error, the error normal with the scatter s of that
estimate's logarithm. A job that is not finished says only that r is larger still. So, with phi and Phi of the normal,

    weight(z) = phi(z) x product over finished jobs of phi((r - ln F) / s) x product over open jobs of Phi((ln F - r) / s),

and F is drawn by its quantile: the same uniform number gives the same place in the changed distribution.

Without this a forecast made in the middle of a season is too hopeful: the work that is still open is that of the
seasons in which everything takes longer, and jobs that have long been running belong to them too.

Assumptions: jobs err independently given F; a job outside what its estimate thinks possible counts only as far as the
edge of it (1 or 99 in 100, and two sigma), so that one absurd booking does not move the whole shop.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy import special

from readiness.engine.estimates import Lognormal
from readiness.engine.params import Params
from readiness.engine.workshop import Evidence

Floats = NDArray[np.float64]

_REACH, _POINTS = 6.0, 1201
_LEAST_SCATTER = 0.05
_ONE_SIGMA = float(special.ndtr(1.0))


def common_factor(evidence: tuple[Evidence, ...], params: Params, u: Floats) -> Floats:
    """The factor of each sample.

    Args:
        evidence: jobs done, and jobs not finished with the hours so far; their order does not matter.
        params: ``common_sigma`` is sigma.
        u: (samples,) uniform numbers.

    Returns:
        (samples,) factors above zero; without evidence lognormal with mean one.
    """
    sigma = params.common_sigma
    told = [found for e in evidence if (found := _says(e, params)) is not None]
    if not told or sigma == 0:
        return Lognormal(1.0, sigma).ppf(u) * math.exp(-(sigma**2) / 2.0)
    z = np.linspace(-_REACH, _REACH, _POINTS)
    log_factor = sigma * z - sigma**2 / 2.0
    weight = -0.5 * z * z
    for r, scatter, is_open in sorted(told):
        off = (log_factor - r) / scatter
        weight += special.log_ndtr(off) if is_open else -0.5 * off * off
    density = np.exp(weight - weight.max())
    below = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2.0)])
    # Flat ends have no quantiles; a hair of slope keeps the table rising.
    below = below / below[-1] + np.arange(_POINTS) * 1e-15
    return np.asarray(np.exp(np.interp(u, below, log_factor)), dtype=np.float64)


def _says(e: Evidence, params: Params) -> tuple[float, float, bool] | None:
    """(r, s, open), or None where nothing can be said: no hours, or an estimate of nought."""
    spread = e.estimate.spread(params)
    quantiles = np.array([0.01, 1.0 - _ONE_SIGMA, 0.5, _ONE_SIGMA, 0.99])
    low, less, middle, more, high = np.asarray(spread.ppf(quantiles), dtype=np.float64).tolist()
    if e.hours <= 0 or low <= 0:
        return None
    scatter = max(math.log(more / less) / 2.0, _LEAST_SCATTER)
    edge = 2.0 * params.common_sigma
    r = min(max(math.log(e.hours / middle), math.log(low / middle) - edge), math.log(high / middle) + edge)
    return r, scatter, e.open
