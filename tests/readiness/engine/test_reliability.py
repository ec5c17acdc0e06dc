"""Failure history against NIST, MIL-HDBK-189, simulation and exact properties."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from readiness.engine.reliability import (
    GammaRate,
    cramer_von_mises,
    fit_chance,
    fleet_rate,
    laplace,
    outlook,
    power_law,
)

# NIST/SEMATECH e-Handbook 8.4.5.2, stopped at 1500 h.
NIST = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478]
# MIL-HDBK-189 (1981), appendix C, stopped at 300 h.
HANDBOOK = [
    *(2.6, 16.5, 16.5, 17.0, 21.4, 29.1, 33.3, 56.5, 63.1, 70.6, 73.0, 77.7, 93.9, 95.5),
    *(98.1, 101.1, 132.0, 142.2, 147.7, 149.0, 167.2, 190.7, 193.0, 198.7, 251.9, 282.5, 286.1),
]


def test_the_nist_example():
    fit = power_law(NIST, 1500)
    # Printed by the handbook, with the corrected shape; it prints the growth slope 1 - b.
    assert 1 - fit.beta_unbiased == pytest.approx(0.5164940, abs=1e-6)
    assert fit.scale_unbiased == pytest.approx(0.2913003, rel=1e-5)
    assert fit.mtbf_unbiased == pytest.approx(310.2340, abs=1e-3)
    # Recomputed: raw maximum likelihood and the trend test.
    assert fit.beta == pytest.approx(0.5372289, abs=1e-7)
    assert fit.scale == pytest.approx(0.1966582, abs=1e-7)
    assert fit.mtbf == pytest.approx(279.2106, abs=1e-4)
    assert laplace(NIST, 1500) == pytest.approx(-1.326949, abs=1e-6)


def test_the_nist_interval_is_the_approximation_on_the_corrected_figure():
    # NIST/SEMATECH e-Handbook 8.4.5.2: 80 % two-sided.
    assert power_law(NIST, 1500).mtbf_interval(0.8, method="nist") == pytest.approx(
        (157.7138, 548.5566), abs=2e-3
    )


def test_the_handbook_example():
    fit = power_law(HANDBOOK, 300)
    assert fit.count == 27
    assert fit.beta == pytest.approx(0.7163393, abs=1e-7)
    assert fit.beta_unbiased == pytest.approx(0.6898082, abs=1e-7)
    assert fit.scale == pytest.approx(0.4538419, abs=1e-6)
    assert fit.intensity == pytest.approx(0.0644705, abs=1e-7)
    assert fit.mtbf == pytest.approx(15.51096, abs=1e-5)
    assert cramer_von_mises(fit) == pytest.approx(0.0910611, abs=1e-7)


def test_the_crow_factors_apply_to_the_raw_figure():
    # MIL-HDBK-189: time-truncated, 90 %, n = 27, multipliers .6361467 and 1.6817864.
    fit = power_law(HANDBOOK, 300)
    low, high = fit.mtbf_interval(0.9)
    assert low / fit.mtbf == pytest.approx(0.6361467, abs=1e-7)
    assert high / fit.mtbf == pytest.approx(1.6817864, abs=1e-6)


@pytest.mark.parametrize("failure_truncated", [False, True])
def test_the_exact_bounds_hold_the_truth_as_often_as_they_say(failure_truncated):
    rng = np.random.default_rng(11)
    beta, scale, trials, held = 0.7, 0.25, 400, 0
    for _ in range(trials):
        if failure_truncated:
            times = (np.cumsum(rng.exponential(size=8)) / scale) ** (1 / beta)
            end = times[-1]
        else:
            end = 200.0
            times = end * np.sort(rng.random(rng.poisson(scale * end**beta))) ** (1 / beta)
        if len(times) < 3:
            trials -= 1
            continue
        truth = 1 / (scale * beta * end ** (beta - 1))
        low, high = power_law(times, end, failure_truncated).mtbf_interval(0.8)
        held += low <= truth <= high
    assert held / trials == pytest.approx(0.8, abs=3 * math.sqrt(0.16 / trials))


def test_the_correction_takes_the_bias_away():
    rng = np.random.default_rng(5)
    beta, n = 1.4, 6
    corrected, ended = [], []
    for _ in range(3000):
        corrected.append(power_law(np.sort(rng.random(n)) ** (1 / beta), 1.0).beta_unbiased)
        times = np.cumsum(rng.exponential(size=n)) ** (1 / beta)
        ended.append(power_law(times, times[-1], failure_truncated=True).beta_unbiased)
    for found in (corrected, ended):
        assert np.mean(found) == pytest.approx(beta, abs=3 * np.std(found) / math.sqrt(3000))


def test_the_fit_that_ended_at_a_failure_counts_the_last_one_differently():
    by_clock = power_law(HANDBOOK, HANDBOOK[-1])
    at_failure = power_law(HANDBOOK, HANDBOOK[-1], failure_truncated=True)
    assert at_failure.beta == by_clock.beta
    assert at_failure.beta_unbiased == pytest.approx(at_failure.beta * 25 / 27)
    # Recomputed by hand: the distance over the 26 failures that count.
    used = HANDBOOK[:-1]
    by_hand = 1 / (12 * 26) + sum(
        ((t / 286.1) ** at_failure.beta_unbiased - (2 * i - 1) / 52) ** 2 for i, t in enumerate(used, 1)
    )
    assert cramer_von_mises(at_failure) == pytest.approx(by_hand)


def test_the_factors_for_a_watch_that_ended_at_a_failure_agree_with_simulation():
    rng = np.random.default_rng(8)
    n, draws = 6, 400_000
    ratio = n * n / (rng.gamma(n, size=draws) * rng.gamma(n - 1, size=draws))
    fit = power_law([2, 9, 20, 31, 60, 80], 80, failure_truncated=True)
    low, high = np.array(fit.mtbf_interval(0.9)) / fit.mtbf
    assert np.mean(ratio < low) == pytest.approx(0.05, abs=0.0015)
    assert np.mean(ratio > high) == pytest.approx(0.05, abs=0.0015)


def test_goodness_of_fit_tells_a_poor_law_from_a_fair_one():
    rng = np.random.default_rng(3)
    fair = fit_chance(power_law(HANDBOOK, 300), rng)
    clumps = [1, 1, 1, 1, 1.1, 1.1, 1.1, 200, 200, 200, 200, 200, 200.1, 200.1]
    poor = fit_chance(power_law(clumps, 300), rng)
    assert fair > 0.1
    assert poor < 0.02
    ended = power_law([*HANDBOOK[:-1], 286.1], 286.1, failure_truncated=True)
    assert 0.02 < fit_chance(ended, rng) < 0.9


def test_the_chance_to_survive_is_that_of_the_fitted_law():
    fit = power_law(NIST, 1500)
    b, a = fit.beta_unbiased, fit.scale_unbiased
    assert fit.survive(6) == pytest.approx(math.exp(-a * (1506**b - 1500**b)))
    assert fit.survive(0) == 1
    assert fit.survive(1e-3) == pytest.approx(1 - 1e-3 / fit.mtbf_unbiased, abs=1e-10)
    with pytest.raises(ValueError, match="negative"):
        fit.survive(-1)


@pytest.mark.parametrize(
    ("times", "end", "truncated", "match"),
    [
        ([3, 2, 4], 10, False, "upward"),
        ([1, 2, 11], 10, False, "after the end"),
        ([0, 1], 10, False, "above zero"),
        ([1, math.nan], 10, False, "above zero"),
        ([1, 2], 0, False, "hours watched"),
        ([1], 10, False, "Too few"),
        ([1, 10], 10, True, "Too few"),
        ([1, 2, 9], 10, True, "differ"),
        ([10, 10], 10, False, "very end"),
    ],
)
def test_bad_histories_are_refused(times, end, truncated, match):
    with pytest.raises(ValueError, match=match):
        power_law(times, end, truncated)


def test_bad_questions_are_refused():
    fit = power_law(NIST, 1500)
    with pytest.raises(ValueError, match="between 0 and 1"):
        fit.mtbf_interval(1)
    with pytest.raises(ValueError, match="Unknown method"):
        fit.mtbf_interval(0.8, method="other")
    with pytest.raises(ValueError, match="by the clock"):
        power_law([1, 2, 3], 3, failure_truncated=True).mtbf_interval(0.8, method="nist")
    with pytest.raises(ValueError, match="no trend"):
        laplace([], 10)


def test_the_approximation_has_no_upper_bound_from_too_few():
    low, high = power_law([3, 8], 10).mtbf_interval(0.99, method="nist")
    assert 0 < low < 10
    assert high == math.inf


def test_the_trend_has_the_sign_of_the_trend():
    assert laplace([1, 2, 3], 10) < -1.5 < 1.5 < laplace([8, 9, 9.5], 10)
    assert laplace([5], 10) == 0


def test_a_fleet_whose_vehicles_are_alike_gives_a_strong_prior():
    prior = fleet_rate([2, 2, 2, 2], [100, 100, 100, 100])
    assert prior.mean == pytest.approx(8.5 / 400)
    assert prior.shape == pytest.approx(8.5)


def test_a_fleet_whose_vehicles_differ_gives_a_weak_one():
    uneven = fleet_rate([0, 0, 12, 0], [100, 100, 100, 100])
    assert uneven.mean == pytest.approx(12.5 / 400)
    assert uneven.shape < 1
    # By hand: m = .03125; sum h (r - m)^2 = 300 m^2 + 100 (.12 - m)^2; less 3 m; over 400 - 100.
    m = 0.03125
    between = (300 * m**2 + 100 * (0.12 - m) ** 2 - 3 * m) / 300
    assert uneven.shape == pytest.approx(m * m / between)


def test_the_prior_finds_the_spread_that_made_the_fleet():
    rng = np.random.default_rng(2)
    hours = np.full(20000, 150.0)
    counts = rng.poisson(rng.gamma(2.0, 0.01, size=20000) * hours)
    prior = fleet_rate([int(c) for c in counts], list(hours))
    assert prior.mean == pytest.approx(0.02, rel=0.05)
    assert prior.shape == pytest.approx(2.0, rel=0.1)


def test_fleets_that_hardly_ran():
    assert fleet_rate([0, 0], [40, 10]).mean == pytest.approx(0.01)
    assert fleet_rate([0, 3], [0, 70]).mean == pytest.approx(0.05)
    with pytest.raises(ValueError, match="No vehicle has run"):
        fleet_rate([], [])
    with pytest.raises(ValueError, match="same vehicles"):
        fleet_rate([1], [1, 2])
    with pytest.raises(ValueError, match="negative"):
        fleet_rate([-1], [1])
    with pytest.raises(ValueError, match="negative"):
        fleet_rate([1], [math.inf])


def test_the_gamma_belief():
    belief = GammaRate(shape=2, hours=100).update(1, 50)
    assert (belief.shape, belief.hours) == (3, 150)
    assert belief.mtbf == 50
    assert belief.survive(0) == 1
    # The predictive count is negative binomial; no failure in 10 hours.
    assert belief.survive(10) == pytest.approx(stats.nbinom.pmf(0, 3, 150 / 160))
    low, high = belief.mtbf_interval(0.8)
    assert stats.gamma.cdf(1 / low, 3, scale=1 / 150) == pytest.approx(0.9)
    assert stats.gamma.cdf(1 / high, 3, scale=1 / 150) == pytest.approx(0.1)
    assert GammaRate(shape=1e-4, hours=1).mtbf_interval(0.9)[1] == math.inf
    for call in (
        lambda: belief.update(-1, 1),
        lambda: belief.survive(-1),
        lambda: GammaRate(shape=0, hours=1),
    ):
        with pytest.raises(ValueError):
            call()
    with pytest.raises(ValueError, match="between 0 and 1"):
        belief.mtbf_interval(0)


@given(st.integers(0, 20), st.floats(0.1, 500), st.floats(0, 50))
def test_one_more_failure_never_makes_survival_likelier(failures, hours, ahead):
    prior = GammaRate(shape=1.5, hours=60)
    fewer = prior.update(failures, hours).survive(ahead)
    assert prior.update(failures + 1, hours).survive(ahead) <= fewer
    assert 0 <= fewer <= 1


def test_which_belief_is_used_is_said():
    prior = GammaRate(shape=2, hours=100)
    own = outlook(NIST, 1500, prior)
    assert own.own
    assert own.mtbf == pytest.approx(310.2340, abs=1e-3)
    assert own.sentence == "From its own 10 failures in 1500 running hours."
    assert own.survive(6) == own.fit.survive(6)
    four = outlook(NIST[:4], 400, prior)
    assert not four.own
    assert four.fit == GammaRate(shape=6, hours=500)
    assert four.mtbf == pytest.approx(500 / 6)
    assert four.mtbf_interval(0.8) == GammaRate(shape=6, hours=500).mtbf_interval(0.8)
    assert four.sentence.startswith("Own history too short (4 failures in 400 running hours)")
    assert "1 failure in" in outlook([3], 20, prior).sentence
    assert outlook([], 0, prior).fit == prior
    assert not outlook([9] * 5, 9, prior).own
    with pytest.raises(ValueError, match="after the end"):
        outlook([1], 0, prior)
