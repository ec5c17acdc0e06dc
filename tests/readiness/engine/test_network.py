"""The critical path and the chance of one path, against published exercises."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from readiness.engine.estimates import Pert
from readiness.engine.network import NetworkError, critical_path, path_probability

# Project-management textbook exercise: seven activities, critical path 1-3-5-7, mean 24, P(28) .9633.
SEVEN = [(5, 8, 17), (7, 10, 13), (3, 5, 7), (1, 3, 5), (4, 6, 8), (3, 3, 3), (3, 4, 5)]

# Published exercise with its table: fourteen activities; end 50.83, critical A-C-E-H-I-K-M-N.
FOURTEEN = {
    "A": ((5, 5, 7), ()),
    "B": ((1, 2, 5), ()),
    "C": ((5, 5, 5), "A"),
    "D": ((4, 8, 13), "A"),
    "E": ((1, 10, 17), "BC"),
    "F": ((1, 5, 7), "D"),
    "G": ((2, 6, 9), "D"),
    "H": ((4, 4, 6), "EF"),
    "I": ((2, 7, 10), "GH"),
    "J": ((2, 4, 7), "I"),
    "K": ((6, 10, 13), "I"),
    "L": ((2, 6, 6), "J"),
    "M": ((2, 2, 3), "K"),
    "N": ((7, 7, 12), "LM"),
}


def test_the_textbook_path_of_four():
    on_path = [SEVEN[i - 1] for i in (1, 3, 5, 7)]
    assert [Pert(*one).mean for one in SEVEN] == [9, 10, 5, 3, 6, 3, 4]
    assert sum(Pert(*one).mean for one in on_path) == 24
    assert sum(Pert(*one).classic_variance for one in on_path) == pytest.approx(5.0)
    assert path_probability(on_path, 28) == pytest.approx(0.9633, abs=2e-4)
    assert path_probability([Pert(*one) for one in on_path], 28) == pytest.approx(0.963181, abs=1e-6)


def test_the_published_table_of_fourteen():
    found = critical_path(FOURTEEN)
    assert found.path == tuple("ACEHIKMN")
    assert found.length == pytest.approx(50.8333, abs=1e-4)
    assert found.variance == pytest.approx(11.19444, abs=1e-5)
    finishes = {name: round(found.activities[name].early_finish, 2) for name in "ACDFE"}
    assert finishes == {"A": 5.33, "C": 10.33, "D": 13.5, "F": 18.17, "E": 20}
    slack = {name: round(found.activities[name].slack, 2) for name in "BDF"}
    assert slack == {"B": 8, "D": 1.83, "F": 1.83}
    on_path = [FOURTEEN[name][0] for name in found.path]
    assert path_probability(on_path, 53) == pytest.approx(0.74137, abs=1e-5)
    assert path_probability(on_path, 55) == pytest.approx(0.893496, abs=1e-6)


def three_point(mean, deviation):
    """Three figures of this mean and this classic deviation, even about the mean."""
    return (mean - 3 * deviation, mean, mean + 3 * deviation)


@pytest.mark.parametrize(("target", "published"), [(25, 0.311), (30, 0.975)])
def test_the_published_path_of_mean_26(target, published):
    # Published exercise, tolerance 1e-3 : path mean 26, variance 4.11.
    path = [three_point(26, 4.11**0.5)]
    assert path_probability(path, target) == pytest.approx(published, abs=1e-3)


def test_the_published_path_of_three():
    # Published exercise: means 3, 8, 6; deviations 1, 2, 2; T = 20 gives .84.
    path = [three_point(3, 1), three_point(8, 2), three_point(6, 2)]
    assert path_probability(path, 20) == pytest.approx(0.841345, abs=1e-6)


def test_a_path_without_variance_is_in_time_or_not():
    certain = [(2, 2, 2), (0.1, 0.1, 0.1)]
    assert path_probability(certain, 2.1) == 1
    assert path_probability(certain, 2.0999) == 0
    assert path_probability([], 0) == 1


def test_plain_numbers_and_an_empty_list():
    found = critical_path({"strip": (2, []), "clean": (1.5, ["strip"]), "paint": (1, ["strip"])})
    assert found.path == ("strip", "clean")
    assert found.length == 3.5
    assert found.activities["paint"].slack == 0.5
    assert found.activities["paint"].late_start == 2.5
    assert found.variance == 0
    assert critical_path({}).path == ()


def test_of_two_equal_paths_the_less_certain_is_told():
    found = critical_path({"a": ((4, 4, 4), []), "b": ((1, 4, 7), []), "end": (1, ["a", "b"])})
    assert found.path == ("b", "end")
    assert found.variance == pytest.approx(1)
    assert found.activities["a"].slack == 0


def test_a_circle_is_told_by_name():
    with pytest.raises(NetworkError, match="circle") as caught:
        critical_path({"in": (1, []), "a": (1, ["in", "c"]), "b": (1, ["a"]), "c": (1, ["b"])})
    turns = {("a", "b", "c"), ("b", "c", "a"), ("c", "a", "b")}
    assert caught.value.names in turns
    assert "in" not in caught.value.names


def test_a_job_that_waits_for_itself_is_a_circle():
    with pytest.raises(NetworkError) as caught:
        critical_path({"a": (1, ["a"])})
    assert caught.value.names == ("a",)


def test_an_unknown_name_is_told():
    with pytest.raises(NetworkError, match="weld, wheel") as caught:
        critical_path({"paint": (1, ["wheel", "weld"])})
    assert caught.value.names == ("weld", "wheel")


@pytest.mark.parametrize("bad", [-1, float("nan"), float("inf")])
def test_a_bad_duration_is_refused(bad):
    with pytest.raises(ValueError, match="duration"):
        critical_path({"a": (bad, [])})


@st.composite
def networks(draw):
    count = draw(st.integers(1, 7))
    names = [f"j{i}" for i in range(count)]
    found = {}
    for i, name in enumerate(names):
        needs = draw(st.sets(st.sampled_from(names[:i]))) if i else set()
        found[name] = (draw(st.integers(0, 9)), needs)
    return found


@given(networks())
def test_the_length_is_that_of_the_longest_chain_by_trying_all(network):
    chains = [
        chain
        for size in range(1, len(network) + 1)
        for chain in itertools.permutations(network, size)
        if all(a in network[b][1] for a, b in itertools.pairwise(chain))
    ]
    longest = max(sum(network[name][0] for name in chain) for chain in chains)
    found = critical_path(network)
    assert found.length == pytest.approx(longest)
    assert sum(network[name][0] for name in found.path) == pytest.approx(longest)
    assert all(timing.slack >= 0 for timing in found.activities.values())
    assert all(found.activities[name].slack == 0 for name in found.path)


def test_the_whole_network_is_never_likelier_than_one_path():
    rng = np.random.default_rng(7)
    draws = {name: Pert(*three).ppf(rng.random(4000)) for name, (three, _) in FOURTEEN.items()}
    finish = {}
    for name, (_, needs) in FOURTEEN.items():
        finish[name] = draws[name] + (np.max([finish[n] for n in needs], axis=0) if needs else 0)
    path = sum(draws[name] for name in critical_path(FOURTEEN).path)
    for target in (48, 51, 54):
        whole = np.mean(finish["N"] <= target)
        assert whole <= np.mean(path <= target)
