"""Random numbers that belong to a thing and a purpose, not to a place in a queue.

Every uniform draw comes from its own SFC64 generator, keyed by a BLAKE2b hash of (base seed, name of the
entity, purpose). A job's draws therefore stay the same when another job is added, dropped or re-estimated,
and two forecasts that differ in one thing can be compared sample by sample (common random numbers).
"""

from __future__ import annotations

import hashlib

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Smallest step of a 53-bit uniform draw; a quantile of exactly zero would be minus infinity.
_TINY = 2.0**-54


def uniform(seed: int, uid: str, purpose: str, samples: int) -> Floats:
    """Uniform draws in (0, 1) for one entity and one purpose.

    Args:
        seed: base seed of the forecast.
        uid: name of the entity; never its content.
        purpose: what is drawn, for instance ``"main"`` or ``"turn-up 2031-05-03"``.
        samples: number of draws. A longer run begins with the draws of a shorter one.

    Returns:
        Array of shape (samples,).
    """
    key = f"{seed}\x1f{uid}\x1f{purpose}".encode()
    entropy = int.from_bytes(hashlib.blake2b(key, digest_size=32).digest(), "little")
    draws = np.random.Generator(np.random.SFC64(entropy)).random(samples)
    return np.maximum(draws, _TINY)
