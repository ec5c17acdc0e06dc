"""Programme cover by hand, by enumeration and against published k-out-of-n figures."""

import itertools
import math
from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from readiness.engine.programme import Candidate, Slot, advise, at_least, cover, uniforms

NOON = datetime(2031, 6, 14, 12)


def hour(h):
    return NOON + timedelta(hours=h)


def slot(key, start, end, entries, standbys="", needed=None, weight=1.0):
    return Slot(
        key=key,
        start=hour(start),
        end=hour(end),
        entries=tuple(entries),
        standbys=tuple(standbys),
        needed=needed,
        weight=weight,
    )


def bits(text):
    return np.array([letter == "1" for letter in text])


@pytest.mark.parametrize(
    ("k", "n", "p", "published"),
    [
        (3, 4, 0.9, 0.9477),  # reliability handbook example
        (2, 4, 0.9, 0.9963),
        (1, 4, 0.9, 0.9999),
        (2, 3, 0.9, 0.972),
        (3, 4, 0.97, 0.99481357),
    ],
)
def test_k_out_of_n(k, n, p, published):
    assert at_least(k, [p] * n) == pytest.approx(published, abs=1e-8)


@given(st.lists(st.floats(0, 1), max_size=7), st.integers(-1, 9))
def test_unequal_chances_by_enumeration(chances, k):
    by_hand = math.fsum(
        math.prod(p if up else 1 - p for p, up in zip(chances, ups, strict=True))
        for ups in itertools.product([False, True], repeat=len(chances))
        if sum(ups) >= k
    )
    assert at_least(k, chances) == pytest.approx(by_hand, abs=1e-12)


def test_unequal_chances_against_scipy():
    chances = [0.1, 0.35, 0.5, 0.77, 0.9, 0.99]
    law = stats.poisson_binom(chances)
    for k in range(8):
        assert at_least(k, chances) == pytest.approx(law.sf(k - 1), abs=1e-12)


def test_a_chance_above_one_is_refused():
    with pytest.raises(ValueError, match="chance"):
        at_least(1, [1.1])


def test_a_slot_by_hand():
    found = cover(
        [slot("run", 0, 1, "A", "SR")],
        {("run", "A"): bits("11110000"), ("run", "S"): bits("11001100"), ("run", "R"): bits("10100010")},
    )
    (one,) = found.slots
    assert (one.as_entered, one.with_standby, one.not_run) == (0.5, 0.375, 0.125)
    assert one.standby_share == {"S": 0.25, "R": 0.125}
    assert one.runs == 0.875
    assert one.error == pytest.approx(math.sqrt(0.875 * 0.125 / 8))
    assert (found.all_run, found.expected, found.samples) == (0.875, 0.875, 8)


def test_joint_samples_are_not_multiplied():
    both = {("a", "A"): bits("10"), ("b", "B"): bits("10")}
    found = cover([slot("a", 0, 1, "A"), slot("b", 0, 1, "B")], both)
    assert found.all_run == 0.5


def test_one_standby_covers_one_slot_at_a_time():
    clear = {("a", "A"): bits("0"), ("b", "B"): bits("0"), ("a", "S"): bits("1"), ("b", "S"): bits("1")}
    together = cover([slot("a", 0, 2, "A", "S"), slot("b", 1, 3, "B", "S")], clear)
    touching = cover([slot("a", 0, 1, "A", "S"), slot("b", 1, 2, "B", "S")], clear)
    assert [one.with_standby for one in together.slots] == [1, 0]
    assert [one.with_standby for one in touching.slots] == [1, 1]


def test_of_two_slots_at_once_the_weightier_has_the_standby():
    clear = {("a", "A"): bits("0"), ("b", "B"): bits("0"), ("a", "S"): bits("1"), ("b", "S"): bits("1")}
    found = cover([slot("a", 0, 2, "A", "S"), slot("b", 0, 2, "B", "S", weight=3)], clear)
    assert {one.key: one.runs for one in found.slots} == {"a": 0, "b": 1}
    assert found.expected == 3


def test_a_standby_with_an_entry_of_its_own_at_that_time_does_not_cover():
    clear = {("a", "A"): bits("0"), ("b", "S"): bits("1"), ("a", "S"): bits("1")}
    clash = cover([slot("a", 0, 2, "A", "S"), slot("b", 1, 3, "S")], clear)
    apart = cover([slot("a", 0, 1, "A", "S"), slot("b", 1, 3, "S")], clear)
    assert [one.runs for one in clash.slots] == [0, 1]
    assert clash.slots[0].standby_share == {"S": 0}
    assert [one.runs for one in apart.slots] == [1, 1]


def test_a_standby_is_gated_slot_by_slot():
    clear = {("a", "A"): bits("0"), ("b", "B"): bits("0"), ("a", "S"): bits("0"), ("b", "S"): bits("1")}
    found = cover([slot("a", 0, 1, "A", "S"), slot("b", 1, 2, "B", "S")], clear)
    assert [one.runs for one in found.slots] == [0, 1]


def test_one_bus_will_do():
    clear = {("bus", "A"): bits("1100"), ("bus", "B"): bits("1010")}
    both = cover([slot("bus", 0, 1, "AB")], clear).slots[0]
    one = cover([slot("bus", 0, 1, "AB", needed=1)], clear).slots[0]
    assert both.as_entered == 0.25
    assert one.as_entered == 0.75


def test_what_broke_down_is_out_for_the_day():
    clear = {("a", "A"): np.ones(4000, bool), ("b", "A"): np.ones(4000, bool)}
    slots = [slot("a", 0, 1, "A"), slot("b", 2, 3, "A")]
    found = cover(slots, clear, survive={("a", "A"): 0.8, ("b", "A"): 0.5}, seed=4)
    first, second = found.slots
    assert first.runs == pytest.approx(0.8, abs=3 * first.error)
    assert second.runs == pytest.approx(0.4, abs=3 * second.error)
    assert found.all_run == second.runs


def test_a_standby_may_break_down_too_and_is_not_used_again():
    clear = {("a", "A"): bits("0"), ("a", "S"): bits("1"), ("b", "B"): bits("0"), ("b", "S"): bits("1")}
    slots = [slot("a", 0, 1, "A", "S"), slot("b", 1, 2, "B", "S")]
    found = cover(slots, clear, survive={("a", "S"): 0.0})
    assert [one.runs for one in found.slots] == [0, 0]
    assert found.slots[0].standby_share == {"S": 1}
    assert found.slots[1].standby_share == {"S": 0}


def test_one_more_slot_leaves_the_draws_of_the_others_alone():
    clear = {("a", "A"): np.ones(500, bool), ("b", "B"): np.ones(500, bool)}
    chances = {("a", "A"): 0.7, ("b", "B"): 0.6}
    alone = cover([slot("b", 2, 3, "B")], clear, survive=chances, seed=9)
    with_more = cover([slot("a", 0, 1, "A"), slot("b", 2, 3, "B")], clear, survive=chances, seed=9)
    assert with_more.slots[1] == alone.slots[0]
    assert not np.array_equal(uniforms(9, ("a", "A"), 50), uniforms(9, ("b", "B"), 50))
    assert not np.array_equal(uniforms(9, ("a", "A"), 50), uniforms(8, ("a", "A"), 50))


masks = st.lists(st.booleans(), min_size=5, max_size=5).map(np.array)


@given(st.lists(masks, min_size=6, max_size=6), st.floats(0, 1))
def test_the_three_chances_add_to_one_and_a_standby_never_harms_its_slot(rows, chance):
    slots = [slot("a", 0, 2, "AB", needed=1), slot("b", 1, 3, "C")]
    clear = dict(
        zip([("a", "A"), ("a", "B"), ("b", "C"), ("a", "S"), ("b", "S"), ("b", "T")], rows, strict=True)
    )
    chances = {("a", "A"): chance, ("b", "C"): chance, ("b", "S"): chance}
    without = cover(slots, clear, survive=chances)
    covered = cover([slots[0], slot("b", 1, 3, "C", "ST")], clear, survive=chances)
    for one in covered.slots:
        assert one.as_entered + one.with_standby + one.not_run == pytest.approx(1)
    assert covered.slots[1].runs >= without.slots[1].runs
    assert covered.slots[0] == without.slots[0]
    assert covered.all_run <= min(one.runs for one in covered.slots)


def test_the_standby_that_adds_most_comes_first():
    slots = [slot("a", 0, 1, "A"), slot("b", 2, 3, "B", "S")]
    clear = {("a", "A"): bits("1100"), ("b", "B"): bits("1000"), ("b", "S"): bits("0100")}
    found = advise(
        slots,
        clear,
        [
            Candidate(vehicle="U", slots=("a",), clear={"a": bits("1110")}, by="Fri 13 June"),
            Candidate(vehicle="S", slots=("a", "b"), clear={"a": bits("1111"), "b": bits("1111")}),
            Candidate(vehicle="W", slots=("b",), clear={"b": bits("1100")}),
        ],
    )
    assert [(one.vehicle, one.gain) for one in found] == [("S", 0.5), ("U", 0.25), ("W", 0)]
    assert found[0].per_slot == {"a": 0.5}
    assert (found[1].by, found[1].per_slot) == ("Fri 13 June", {"a": 0.25})
    assert found[2].per_slot == {}


@pytest.mark.parametrize(
    ("make", "match"),
    [
        (lambda: slot("a", 1, 1, "A"), "must end after"),
        (lambda: slot("a", 0, 1, "A", "A"), "stands twice"),
        (lambda: slot("a", 0, 1, "AB", needed=3), "cannot need 3 of 2"),
        (lambda: slot("a", 0, 1, "AB", needed=0), "cannot need 0 of 2"),
        (lambda: cover([slot("a", 0, 1, "A")], {}), "at least one"),
        (
            lambda: cover([slot("a", 0, 1, "A")], {("b", "B"): bits("1")}),
            "No samples for vehicle A in slot a",
        ),
        (
            lambda: cover([slot("a", 0, 1, "A")], {("a", "A"): bits("1"), ("b", "A"): bits("10")}),
            "same number",
        ),
        (lambda: cover([slot("a", 0, 1, "A")], {("a", "A"): np.ones((2, 2), bool)}), "same number"),
        (lambda: cover([slot("a", 0, 1, "A"), slot("a", 2, 3, "A")], {("a", "A"): bits("1")}), "share a key"),
        (
            lambda: cover([slot("a", 0, 1, "A")], {("a", "A"): bits("1")}, survive={("a", "A"): 1.5}),
            "chance must lie",
        ),
    ],
)
def test_bad_programmes_are_refused(make, match):
    with pytest.raises(ValueError, match=match):
        make()
