"""Three-point estimates against published and independently computed figures."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from readiness.engine.estimates import Lognormal, Pert

# Shape, mean, exact variance and quantiles recomputed with scipy.stats.beta.
SHAPES = [
    ((1, 4, 7), 3, 3, 4, 1.285714, (2.479819, 4, 5.520181)),
    ((5, 8, 17), 2, 4, 9, 4.571429, (6.346820, 8.765722, 12.006685)),
    ((2, 7, 10), 3.5, 2.5, 6.666667, 2.222222, (4.614779, 6.745240, 8.600189)),
    ((3, 4, 11), 1.5, 4.5, 5, 1.714286, (3.478469, 4.768959, 6.871226)),
]


@pytest.mark.parametrize(("figures", "alpha", "beta", "mean", "variance", "quantiles"), SHAPES)
def test_the_beta_shape(figures, alpha, beta, mean, variance, quantiles):
    pert = Pert(*figures)
    assert (pert.alpha, pert.beta) == pytest.approx((alpha, beta))
    assert pert.mean == pytest.approx(mean, abs=1e-6)
    assert pert.variance == pytest.approx(variance, abs=1e-6)
    assert pert.ppf(np.array([0.1, 0.5, 0.9])) == pytest.approx(quantiles, abs=1e-6)
    assert pert.ppf(0.1) == pytest.approx(quantiles[0], abs=1e-6)


def test_the_variance_is_that_of_the_beta_and_not_the_rule_of_thumb():
    pert = Pert(5, 8, 17)
    assert pert.variance == pytest.approx(stats.beta(2, 4, 5, 12).var())
    assert pert.classic_variance == pytest.approx(4.0)
    assert pert.variance != pytest.approx(pert.classic_variance)


figures = st.lists(st.floats(0, 1e4), min_size=3, max_size=3).map(sorted)


@given(figures, st.floats(0, 1))
def test_a_quantile_lies_between_best_and_bad_and_the_chance_leads_back(three, chance):
    pert = Pert(*three)
    at = pert.ppf(chance)
    assert pert.low <= at <= pert.high * (1 + 1e-12)
    if pert.high - pert.low > 1e-3:
        assert pert.cdf(at) == pytest.approx(chance, abs=1e-4)


@given(figures)
def test_scaling_the_figures_scales_the_mean(three):
    assert Pert(*[2 * one for one in three]).mean == pytest.approx(2 * Pert(*three).mean)


def test_one_certain_figure():
    certain = Pert(3, 3, 3)
    assert certain.certain
    assert (certain.mean, certain.variance, certain.classic_variance) == (3, 0, 0)
    assert list(certain.ppf(np.array([0.0, 0.5, 1.0]))) == [3, 3, 3]
    assert [certain.cdf(x) for x in (2.999, 3, 4)] == [0, 1, 1]
    assert certain.alpha == certain.beta == 3


def test_a_number_gives_a_number_and_an_array_an_array():
    pert = Pert(1, 2, 6)
    assert type(pert.ppf(0.5)) is float
    assert type(pert.cdf(2.0)) is float
    assert pert.ppf(np.full((2, 3), 0.5)).shape == (2, 3)
    assert list(pert.cdf(np.array([0.0, 1.0, 6.0, 9.0]))) == [0, 0, 1, 1]


@pytest.mark.parametrize("bad", [(2, 1, 3), (1, 4, 3), (-1, 2, 3), (1, 2, math.inf), (1, math.nan, 3)])
def test_bad_figures_are_refused(bad):
    with pytest.raises(ValueError, match="estimate"):
        Pert(*bad)


@pytest.mark.parametrize("chance", [-0.1, 1.1, math.nan])
def test_a_chance_outside_nought_to_one_is_refused(chance):
    with pytest.raises(ValueError, match="chance"):
        Pert(1, 2, 3).ppf(chance)


def test_the_guess_is_lognormal():
    guess = Lognormal(4, 0.5)
    published = stats.lognorm(0.5, scale=4)
    assert guess.ppf(0.5) == pytest.approx(4)
    assert guess.ppf(np.array([0.1, 0.9])) == pytest.approx(published.ppf([0.1, 0.9]))
    assert guess.mean == pytest.approx(published.mean())
    assert guess.variance == pytest.approx(published.var())
    assert guess.cdf(np.array([-1.0, 0.0, 2.0, 4.0])) == pytest.approx([0, 0, published.cdf(2), 0.5])
    area, _ = integrate.quad(guess.ppf, 0, 1)
    assert area == pytest.approx(guess.mean, rel=1e-5)


def test_a_guess_without_scatter_is_certain():
    certain = Lognormal(4, 0)
    assert certain.ppf(0.9) == 4
    assert [certain.cdf(3.9), certain.cdf(4.0)] == [0, 1]
    assert certain.variance == 0


@pytest.mark.parametrize("bad", [(0, 0.5), (-1, 0.5), (math.inf, 0.5), (4, -0.1), (4, math.nan)])
def test_bad_guesses_are_refused(bad):
    with pytest.raises(ValueError, match="guess"):
        Lognormal(*bad)
