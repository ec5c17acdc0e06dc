"""The factor common to all work, before and after what the season has shown: closed forms, censoring, odd bookings."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate, stats

from readiness.engine.common import common_factor
from readiness.engine.forecast import forecast
from readiness.engine.params import Params
from readiness.engine.workshop import Estimate, Evidence, Workshop
from tests.readiness.engine.workshops import NOW, at, full_days, goal, hand, work

U = (np.arange(20_000) + 0.5) / 20_000
SIGMA = 0.2
PARAMS = Params(common_sigma=SIGMA)
GUESS = Estimate.expert(4.0)  # lognormal about 4 hours, scatter .5


def factor(*told: Evidence) -> np.ndarray:
    return common_factor(told, PARAMS, U)


def test_before_any_work_the_mean_is_one() -> None:
    found = factor()
    assert found.mean() == pytest.approx(1.0, abs=1e-4)
    assert np.log(found).std() == pytest.approx(SIGMA, abs=1e-3)


def test_finished_jobs_move_it_by_the_normal_law() -> None:
    """Prior N(-.02, .2^2), three jobs at r = .4 with scatter .5: precision 25 + 12, mean (-.5 + 4.8) / 37."""
    found = np.log(factor(*[Evidence(estimate=GUESS, hours=4.0 * math.exp(0.4))] * 3))
    precision = 1 / SIGMA**2 + 3 / 0.25
    assert found.mean() == pytest.approx((-0.02 / SIGMA**2 + 3 * 0.4 / 0.25) / precision, abs=1e-3)
    assert found.std() == pytest.approx(precision**-0.5, abs=1e-3)


def test_an_open_job_says_at_least_so_much() -> None:
    bound = math.log(7.0 / 4.0)
    found = np.log(factor(Evidence(estimate=GUESS, hours=7.0, open=True)))

    def weight(x: float) -> float:
        return float(stats.norm.pdf(x, -0.02, SIGMA) * stats.norm.sf((bound - x) / 0.5))

    total, _ = integrate.quad(weight, -2, 2)
    mean, _ = integrate.quad(lambda x: x * weight(x), -2, 2)
    assert found.mean() == pytest.approx(mean / total, abs=1e-3)
    hardly = np.log(factor(Evidence(estimate=GUESS, hours=0.1, open=True)))
    assert hardly.mean() == pytest.approx(-0.02, abs=1e-3)


def test_one_absurd_booking_does_not_move_the_shop_without_end() -> None:
    ten, thousand = (
        factor(Evidence(estimate=Estimate.three(1, 2, 4), hours=h)).mean() for h in (40.0, 4000.0)
    )
    assert ten == thousand
    assert ten < 1.5


def test_what_says_nothing_changes_nothing() -> None:
    nothing = [
        Evidence(estimate=GUESS, hours=0.0, open=True),
        Evidence(estimate=Estimate.three(0, 0, 0), hours=1.0),
    ]
    assert np.array_equal(factor(*nothing), factor())
    certain = Params(common_sigma=0.0)
    assert np.all(common_factor((Evidence(estimate=GUESS, hours=9.0),), certain, U) == 1.0)


def test_order_does_not_matter_and_more_hours_never_shorten() -> None:
    told = (
        Evidence(estimate=GUESS, hours=6.0),
        Evidence(estimate=Estimate.three(1, 2, 5), hours=2.0, open=True),
    )
    assert np.array_equal(factor(*told), factor(*told[::-1]))
    assert np.all(factor(replace(told[0], hours=7.0), told[1]) >= factor(*told) - 1e-12)


def test_a_slow_season_makes_the_rest_slow() -> None:
    shop = Workshop(
        now=NOW, horizon=at(9), hands=(hand("A", full_days(8)),), works=(work("J", (10.0, 12.0, 20.0)),), goals=(goal(("J",), at(2.4)),),
    )  # fmt: skip
    told = tuple(Evidence(estimate=Estimate.three(1, 2, 3), hours=3.0) for _ in range(5))
    before, after = (
        forecast(w, samples=2000, seed=1).goals["S1"].chance for w in (shop, replace(shop, evidence=told))
    )
    assert after < before - 0.1
