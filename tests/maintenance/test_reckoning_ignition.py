"""Ignition against FAA-H-8083-32, exact slider-crank figures and properties."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.reckoning.ignition import (
    CAUTIONS,
    FIRING_ORDERS,
    End,
    Rotation,
    Turn,
    as_found,
    degrees_from_rim,
    degrees_from_travel,
    firing_interval,
    leads,
    magneto_mark,
    magneto_ratio,
    magneto_runs,
    plugs_by_magneto,
    rim_travel,
    travel_from_degrees,
)

CLOCKWISE = Rotation(turn=Turn.CLOCKWISE, seen_from=End.DRIVE)


@pytest.mark.parametrize(
    ("cylinders", "sparks", "ratio"),
    # FAA-H-8083-32: cylinders / (2 x sparks per magneto turn).
    [
        (4, 2, "1"),
        (6, 2, "1.5"),
        (6, 4, "0.75"),
        (9, 4, "1.125"),
        (8, 2, "2"),
        (12, 4, "1.5"),
        (14, 4, "1.75"),
        (18, 4, "2.25"),
    ],
)
def test_magneto_speed(cylinders, sparks, ratio):
    assert magneto_ratio(cylinders, sparks) == Fraction(ratio)


def test_intervals():
    # FAA-H-8083-32: 720 / n crank degrees in a four-stroke.
    assert [firing_interval(n) for n in (1, 4, 6, 9, 14)] == [720, 180, 120, 80, Fraction(360, 7)]
    assert firing_interval(2, strokes=2) == 180
    assert magneto_ratio(1, 1, strokes=2) == 1


@given(st.integers(1, 24), st.integers(1, 8), st.sampled_from([2, 4]))
def test_the_magneto_sparks_once_for_each_interval(cylinders, sparks, strokes):
    sparks_per_crank_degree = magneto_ratio(cylinders, sparks, strokes) * sparks / 360
    assert sparks_per_crank_degree * firing_interval(cylinders, strokes) == 1


@pytest.mark.parametrize("bad", [(0, 4), (-1, 4), (True, 4), (1.5, 4), (4, 3)])
def test_engines_that_are_none(bad):
    with pytest.raises(ValueError):
        firing_interval(*bad)
    with pytest.raises(ValueError):
        magneto_ratio(4, 0)


@pytest.mark.parametrize(
    ("degrees", "travel"),
    # Stroke 100, rod 200, recomputed from the slider-crank formula.
    [
        (5, 0.238),
        (10, 0.948),
        (15, 2.123),
        (20, 3.748),
        (25, 5.804),
        (30, 8.267),
        (45, 17.794),
        (90, 56.351),
        (180, 100),
    ],
)
def test_travel(degrees, travel):
    assert travel_from_degrees(degrees, 100, 200) == pytest.approx(travel, abs=5e-4)
    assert travel_from_degrees(-degrees, 100, 200) == pytest.approx(travel, abs=5e-4)
    assert degrees_from_travel(travel_from_degrees(degrees, 100, 200), 100, 200) == pytest.approx(degrees)


@given(st.floats(1e-4, 180), st.floats(1, 500), st.floats(1.05, 6))
def test_there_and_back(degrees, stroke, relative):
    rod = stroke * relative
    travel = travel_from_degrees(degrees, stroke, rod)
    assert 0 <= travel <= stroke * (1 + 1e-9)
    back = degrees_from_travel(min(travel, stroke), stroke, rod)
    assert back == pytest.approx(degrees, rel=1e-6, abs=1e-4)


@given(st.floats(0, 179), st.floats(0.01, 1), st.floats(1.05, 6))
def test_more_degrees_more_travel(degrees, more, relative):
    assert travel_from_degrees(degrees + more, 100, 100 * relative) > travel_from_degrees(
        degrees, 100, 100 * relative
    )


def test_a_very_long_rod_gives_the_cosine():
    assert travel_from_degrees(30, 100, 1e7) == pytest.approx(50 * (1 - math.cos(math.radians(30))), abs=1e-4)


@pytest.mark.parametrize("bad", [(10, 0, 200), (10, 100, 50), (10, math.nan, 200), (10, 100, math.inf)])
def test_cranks_that_cannot_be(bad):
    with pytest.raises(ValueError):
        travel_from_degrees(*bad)


@pytest.mark.parametrize("travel", [-0.1, 100.1])
def test_travel_outside_the_stroke(travel):
    with pytest.raises(ValueError, match="between nought and the stroke"):
        degrees_from_travel(travel, 100, 200)


@pytest.mark.parametrize(("diameter", "per_degree"), [(300, 2.61799), (400, 3.49066), (14, 0.12217)])
def test_rim(diameter, per_degree):
    # pi D / 360.
    assert rim_travel(1, diameter) == pytest.approx(per_degree, abs=5e-6)
    assert degrees_from_rim(rim_travel(-12.5, diameter), diameter) == pytest.approx(-12.5)


def test_a_rim_without_a_diameter():
    with pytest.raises(ValueError, match="diameter"):
        rim_travel(1, 0)


# FAA-H-8083-32, typed from the table.
PUBLISHED = {
    "4 opposed": ["1-3-2-4", "1-4-2-3"],
    "6 in line": ["1-5-3-6-2-4"],
    "6 opposed": ["1-4-5-2-3-6"],
    "9 radial": ["1-3-5-7-9-2-4-6-8"],
    "14 radial": ["1-10-5-14-9-4-13-8-3-12-7-2-11-6"],
    "18 radial": ["1-12-5-16-9-2-13-6-17-10-3-14-7-18-11-4-15-8"],
}


def test_firing_orders():
    shown = {name: ["-".join(map(str, order)) for order in orders] for name, orders in FIRING_ORDERS.items()}
    assert shown == PUBLISHED


@pytest.mark.parametrize(("count", "step"), [(14, 9), (18, 11)])
def test_two_row_radials_add_a_fixed_number(count, step):
    # FAA-H-8083-32: 14 cylinders +9 -5, 18 cylinders +11 -7.
    (order,) = FIRING_ORDERS[f"{count} radial"]
    for here, there in zip(order, order[1:] + order[:1], strict=True):
        assert (here + step - 1) % count + 1 == there


def test_posts_are_sparks_and_not_cylinders():
    found = leads(FIRING_ORDERS["6 in line"][0])
    assert [(one.post, one.cylinder, one.degrees) for one in found] == [
        (1, 1, 0),
        (2, 5, 120),
        (3, 3, 240),
        (4, 6, 360),
        (5, 2, 480),
        (6, 4, 600),
    ]
    with pytest.raises(ValueError, match="every cylinder once"):
        leads((1, 3, 3, 4))


def test_rotation_keeps_its_viewpoint():
    assert CLOCKWISE.seen(End.DRIVE) is Turn.CLOCKWISE
    assert CLOCKWISE.seen(End.FREE) is Turn.ANTICLOCKWISE
    assert magneto_mark("R") == CLOCKWISE
    assert magneto_mark(" left ") == Rotation(turn=Turn.ANTICLOCKWISE, seen_from=End.DRIVE)
    with pytest.raises(ValueError, match="right or left"):
        magneto_mark("X")


@pytest.mark.parametrize(
    ("reversing", "faces", "turn"),
    [
        (False, False, Turn.ANTICLOCKWISE),
        (True, False, Turn.CLOCKWISE),
        (False, True, Turn.CLOCKWISE),
        (True, True, Turn.ANTICLOCKWISE),
    ],
)
def test_which_magneto_an_engine_needs(reversing, faces, turn):
    # A crank that turns clockwise seen from the free end turns anticlockwise seen from the drive end.
    engine = Rotation(turn=Turn.CLOCKWISE, seen_from=End.FREE)
    found = magneto_runs(engine, reversing=reversing, faces_engine=faces)
    assert (found.turn, found.seen_from) == (turn, End.DRIVE)


def test_plugs_by_magneto():
    radial = plugs_by_magneto("radial", 9)
    assert {(row.left, row.right) for row in radial} == {("rear", "front")}
    assert [row.cylinder for row in radial] == list(range(1, 10))
    flat = plugs_by_magneto("opposed, top and bottom", 4)
    assert {(row.left, row.right) for row in flat} == {("bottom", "top")}
    crossed = plugs_by_magneto("opposed, crossed", 4)
    assert [(row.left, row.right) for row in crossed] == [("top", "bottom"), ("bottom", "top")] * 2
    with pytest.raises(ValueError, match="Known layouts"):
        plugs_by_magneto("vee", 4)


def test_late_is_cured_against_the_rotation():
    found = as_found(
        found=20, wanted=26, tolerance=2, ratio=magneto_ratio(6, 4), runs=CLOCKWISE, diameter=400
    )
    assert (found.word, found.crank_degrees, found.turn) == ("late", 6, Turn.ANTICLOCKWISE)
    assert found.body_degrees == pytest.approx(4.5)
    assert found.rim == pytest.approx(6 * 3.49066, abs=1e-3)
    assert found.sentence == (
        "6.0° late at the crank. Turn the body 4.5° anticlockwise, seen from its drive end (against the rotation)."
    )


def test_early_is_cured_with_the_rotation():
    seen_behind = Rotation(turn=Turn.CLOCKWISE, seen_from=End.FREE)
    found = as_found(found=12, wanted=8, runs=seen_behind)
    assert (found.word, found.body_degrees, found.turn) == ("early", 2, Turn.ANTICLOCKWISE)
    assert "(with the rotation)" in found.sentence
    assert found.rim is None


@pytest.mark.parametrize(("found", "word"), [(8, "right"), (12, "right"), (12.001, "early"), (7.9, "late")])
def test_equal_to_the_tolerance_is_right(found, word):
    assert as_found(found=found, wanted=10, tolerance=2, runs=CLOCKWISE).word == word


def test_on_its_mark_leave_it():
    found = as_found(found=-3, wanted=-3, runs=CLOCKWISE)
    assert (found.turn, found.body_degrees, found.sentence) == (None, 0, "On its mark. Leave it.")


@given(st.floats(-40, 60), st.floats(-40, 60), st.sampled_from(Turn), st.sampled_from(End))
def test_turning_as_told_puts_it_right(found, wanted, turn, end):
    runs = Rotation(turn=turn, seen_from=end)
    told = as_found(found=found, wanted=wanted, runs=runs)
    with_rotation = told.turn is runs.seen(End.DRIVE)
    moved = told.body_degrees * 2 * (-1 if with_rotation else 1)
    if told.turn is not None:
        assert found + moved == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize("bad", [{"found": math.nan}, {"tolerance": -1}, {"ratio": 0}])
def test_bad_timing_is_refused(bad):
    with pytest.raises(ValueError, match="finite"):
        as_found(**{"found": 10.0, "wanted": 10.0, "runs": CLOCKWISE, **bad})


def test_the_live_magneto_is_said_first():
    assert CAUTIONS[0].startswith("WARNING. A magneto with a broken earth lead is live")
