"""What chance decides, against a second program: one number at a time, by the laws themselves instead of tables.

Both take the same uniform numbers; everything else here is written anew, with exact quantiles and numerical integrals.
"""

from __future__ import annotations

import math
from collections import Counter
from datetime import timedelta

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from readiness.engine.calendar import grid_of
from readiness.engine.sampling import draw
from readiness.engine.streams import uniform
from readiness.engine.workshop import Delivery, Estimate, Evidence, Workshop
from tests.readiness.engine.workshops import random_workshop

SAMPLES = 3
WANTED = 200
SIGMA = 0.2


def law(e: Estimate):
    """The frozen distribution of one estimate; None for a fixed number of hours."""
    if e.kind == "pert":
        width = e.high - e.low
        if width == 0:
            return None
        alpha, beta = 1 + 4 * (e.mode - e.low) / width, 1 + 4 * (e.high - e.mode) / width
        return stats.beta(alpha, beta, loc=e.low, scale=width)
    return stats.lognorm(s={"guess": 0.6, "expert": 0.5}[e.kind], scale=e.value)


def says(e: Evidence) -> tuple[float, float] | None:
    d = law(e.estimate)
    low, less, middle, more, high = (
        d.ppf([0.01, stats.norm.cdf(-1), 0.5, stats.norm.cdf(1), 0.99]) if d else [e.estimate.mode] * 5
    )
    r = math.log(e.hours / middle)
    r = min(max(r, math.log(low / middle) - 2 * SIGMA), math.log(high / middle) + 2 * SIGMA)
    return r, max(math.log(more / less) / 2, 0.05)


def common(evidence: tuple[Evidence, ...], u: float) -> float:
    """Root of the integral of prior times what each job says; in units of z."""
    told = [(*found, e.open) for e in evidence if (found := says(e))]

    def weight(z: float) -> float:
        out, log_f = stats.norm.logpdf(z), SIGMA * z - SIGMA**2 / 2
        for r, scatter, is_open in told:
            x = (log_f - r) / scatter
            out += stats.norm.logcdf(x) if is_open else stats.norm.logpdf(x)
        return float(out)

    if not told:
        return math.exp(SIGMA * stats.norm.ppf(u) - SIGMA**2 / 2)
    top = max(weight(z) for z in np.linspace(-6, 6, 61))

    def mass(a: float, b: float) -> float:
        return integrate.quad(lambda z: math.exp(weight(z) - top), a, b, limit=200)[0]

    middle = float(optimize.minimize_scalar(lambda z: -weight(z), bounds=(-6, 6), method="bounded").x)
    below, whole = mass(-6, middle), mass(-6, middle) + mass(middle, 6)
    z = optimize.brentq(lambda x: below + mass(middle, x) - u * whole, -5.99, 5.99, xtol=1e-5)
    return math.exp(SIGMA * z - SIGMA**2 / 2)


def hours(e: Estimate, done: float, factor: float, u: float) -> float:
    d = law(e)
    if d is None and (done == 0 or done / factor < e.mode):
        return e.mode * factor - done
    passed = 0.0 if done == 0 else 1.0 if d is None else float(d.cdf(done / factor))
    if passed >= 1:  # past its bad case: a guess about its usual hours, given those worked
        usual = e.mode if e.kind == "pert" else e.value
        d = stats.lognorm(s=0.6, scale=max(usual, 0.25))
        passed = float(d.cdf(done / factor))
    return max(float(d.ppf(passed + u * (1 - passed))) * factor - done, 0.0)


def first_of(ways: list[tuple[float, float]], u: float) -> float:
    """The way in which the running sum of the weights first passes u."""
    total, so_far = sum(w for _, w in ways), 0.0
    for value, weight in ways:
        so_far += weight
        if u < so_far / total:
            return value
    return ways[-1][0]


def comes(part: Delivery, w: Workshop, u: float) -> float:
    """Quarter hours from now until the part is here; infinity if it never comes."""
    if part.state == "on_shelf":
        return 0.0
    if part.state != "on_order":
        return math.inf
    assert part.promised is not None
    assert part.ordered is not None
    lead = part.promised - part.ordered
    ways = [((part.ordered + lead * ratio - w.now) / timedelta(minutes=15), p) for ratio, p in part.ratios]
    late = [(x, p) for x, p in ways if x > 0] or [
        (max(lead, timedelta(days=1)) / 2 / timedelta(minutes=15), 1.0)
    ]
    return math.ceil(first_of(late, u))


@pytest.mark.slow
def test_every_draw_follows_its_law_one_by_one() -> None:
    seen: Counter[str] = Counter()
    for seed in range(WANTED):
        w = random_workshop(seed)
        grid = grid_of(w)
        drawn = draw(w, grid, samples=SAMPLES, seed=seed)
        for s in range(SAMPLES):

            def u(uid: str, purpose: str, seed: int = seed, s: int = s) -> float:
                return float(uniform(seed, uid, purpose, SAMPLES)[s])

            factor = common(w.evidence, u("", "common factor"))
            for hand in w.hands:
                for row, session in zip(drawn.present[hand.uid], drawn.sessions[hand.uid], strict=True):
                    assert bool(row[s]) == (u(hand.uid, f"turn-up {session.key}") < hand.turn_up)
                    seen["no-show"] += not row[s]
            for part in w.deliveries:
                expected = min(comes(part, w, u(part.uid, "lead time")), grid.never)
                assert drawn.arrival[part.uid][s] == expected
                if part.state == "on_order" and part.promised and part.promised > w.now:
                    seen["part later than promised"] += (
                        expected > (part.promised - w.now) / timedelta(minutes=15) + 1
                    )
                seen["overdue part"] += bool(part.promised and part.promised < w.now)
            for work in (x for x in w.works if x.booked):
                if work.estimate is not None:
                    expected = hours(work.estimate, work.hours_done, factor, u(work.uid, "main"))
                    near = pytest.approx(expected, rel=2e-3, abs=2e-3)
                    assert drawn.hours[work.uid, "main"][s] == near, (seed, work.uid)
                    seen["running job"] += work.hours_done > 0
                    past = work.estimate.kind == "pert" and work.hours_done / factor >= work.estimate.high
                    seen["running job past its bad case"] += bool(work.hours_done and past)
                    seen[f"{work.estimate.kind} hours"] += 1
                for fixed, name in ((work.functional_hours, "functional"), (work.road_hours, "road")):
                    if fixed:
                        assert drawn.hours[work.uid, name][s] == pytest.approx(fixed * factor, rel=1e-3)
                        seen["common factor moved by evidence"] += bool(w.evidence)
                if work.discovery is not None:
                    found = u(work.uid, "found") < work.discovery.chance
                    assert bool(drawn.found[work.uid][s]) == found
                    seen["find"] += found
    few = {name: seen[name] for name in seen if seen[name] < 30}
    assert not few, few
    assert len(seen) == 10
