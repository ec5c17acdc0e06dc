"""Ignition timing: intervals, magneto speed, degrees to travel and back, marks with their viewpoint.

Sources: FAA-H-8083-32 (magneto speed, firing intervals and firing orders). Slider-crank geometry is exact
for a gudgeon pin in line with the crank. The rules on marks and viewpoints are common practice.

Before any of it: a magneto with a broken earth lead is live with the switch off, and an engine turned by
hand may fire. ``CAUTIONS`` are shown first.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from types import MappingProxyType

CAUTIONS = (
    "WARNING. A magneto with a broken earth lead is live with the switch off. Treat every engine as live: "
    "plugs out or leads off before it is turned by hand, nobody in the arc of fan, handle or propeller.",
    "WARNING. Out of gear, chocks in, isolator out.",
)

# FAA-H-8083-32. Two are published for the flat four: the maker's plate decides.
FIRING_ORDERS: Mapping[str, tuple[tuple[int, ...], ...]] = MappingProxyType(
    {
        "4 opposed": ((1, 3, 2, 4), (1, 4, 2, 3)),
        "6 in line": ((1, 5, 3, 6, 2, 4),),
        "6 opposed": ((1, 4, 5, 2, 3, 6),),
        "9 radial": ((1, 3, 5, 7, 9, 2, 4, 6, 8),),
        "14 radial": ((1, 10, 5, 14, 9, 4, 13, 8, 3, 12, 7, 2, 11, 6),),
        "18 radial": ((1, 12, 5, 16, 9, 2, 13, 6, 17, 10, 3, 14, 7, 18, 11, 4, 15, 8),),
    }
)


def _whole(value: int, what: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise ValueError(f"{what} is a whole number, 1 or more.")
    return value


def _strokes(strokes: int) -> int:
    if strokes not in {2, 4}:
        raise ValueError("An engine has two strokes or four.")
    return strokes


def firing_interval(cylinders: int, strokes: int = 4) -> Fraction:
    """Mean crank degrees between sparks: 720 / n for four strokes, 360 / n for two.

    An engine with uneven throws fires unevenly about this mean.

    Raises:
        ValueError: no cylinder, or strokes other than 2 and 4.
    """
    return Fraction(180 * _strokes(strokes), _whole(cylinders, "The number of cylinders"))


def magneto_ratio(cylinders: int, sparks_per_turn: int, strokes: int = 4) -> Fraction:
    """Turns of the magneto for one turn of the crank: cylinders / (2 x sparks per turn) for four strokes.

    Args:
        cylinders: served by this magneto.
        sparks_per_turn: lobes on the cam.
        strokes: 4, or 2 for cylinders / sparks per turn.

    Raises:
        ValueError: a figure below 1, or strokes other than 2 and 4.
    """
    sparks = _whole(sparks_per_turn, "Sparks per turn")
    return Fraction(2 * _whole(cylinders, "The number of cylinders"), _strokes(strokes) * sparks)


def _crank(stroke: float, rod: float) -> tuple[float, float]:
    if not (math.isfinite(stroke) and math.isfinite(rod) and stroke > 0):
        raise ValueError("Stroke and rod must be finite and the stroke above nought.")
    if rod <= stroke / 2:
        raise ValueError("A connecting rod is longer than half the stroke.")
    return stroke / 2, rod


def travel_from_degrees(degrees: float, stroke: float, rod: float) -> float:
    """Piston travel from top dead centre for a crank angle.

    x = r + l - r cos(theta) - sqrt(l^2 - r^2 sin^2(theta)), r half the stroke, l the rod between centres.

    Args:
        degrees: crank angle before or after top dead centre, any sign.
        stroke: in any length.
        rod: in the same length.

    Returns:
        Travel in that length, 0 to the stroke.

    Raises:
        ValueError: a length is not above nought or the rod is too short.
    """
    r, rod = _crank(stroke, rod)
    theta = math.radians(degrees)
    # 1 - cos as 2 sin^2(half) and the root's fall by division: no digits lost near top dead centre.
    rise = 2 * r * math.sin(theta / 2) ** 2
    side = (r * math.sin(theta)) ** 2
    return rise + side / (rod + math.sqrt(rod * rod - side))


def degrees_from_travel(travel: float, stroke: float, rod: float) -> float:
    """Crank degrees from top dead centre for a piston travel: ``travel_from_degrees`` solved for the angle.

    With y = r + l - x the height of the pin: cos(theta) = (y^2 + r^2 - l^2) / (2 r y).

    Raises:
        ValueError: a travel below nought or beyond the stroke, or lengths as above.
    """
    r, rod = _crank(stroke, rod)
    if not 0 <= travel <= stroke * (1 + 1e-12):
        raise ValueError("The piston travels between nought and the stroke.")
    y = r + rod - travel
    # Half-angle form, again for the sake of small angles: sin^2(half) = (l^2 - (y - r)^2) / (4 r y).
    square = (rod - (y - r)) * (rod + (y - r)) / (4 * r * y)
    return math.degrees(2 * math.asin(math.sqrt(min(1.0, max(0.0, square)))))


# Without the rod's length the angle lies between two curves: that of an endless rod, and that of a rod 1.4
# strokes long, shorter than those of the engines met in old vehicles (common practice).
SHORT_ROD = 1.4


def travel_bounds(degrees: float, stroke: float) -> tuple[float, float]:
    """Piston travel from top dead centre without the rod: the long-rod and the short-rod bound.

    A shorter rod moves the piston farther near the top: the true travel lies between the endless rod,
    r (1 - cos(theta)), and a rod of 1.4 strokes.

    Args:
        degrees: crank angle from top dead centre.
        stroke: in any length.

    Returns:
        Travel with the long rod, then with the short one, in that length.

    Raises:
        ValueError: a stroke not above nought.
    """
    long = stroke / 2 * 2 * math.sin(math.radians(degrees) / 2) ** 2
    return long, travel_from_degrees(degrees, stroke, SHORT_ROD * stroke)


def degrees_bounds(travel: float, stroke: float) -> tuple[float, float]:
    """Crank degrees for a piston travel without the rod: the long-rod and the short-rod bound.

    Args:
        travel: from top dead centre.
        stroke: in the same length.

    Returns:
        Degrees with the long rod (the greater), then with the short one.

    Raises:
        ValueError: a travel below nought or beyond the stroke.
    """
    short = degrees_from_travel(travel, stroke, SHORT_ROD * stroke)
    return math.degrees(2 * math.asin(math.sqrt(min(1.0, travel / stroke)))), short


def rim_travel(degrees: float, diameter: float) -> float:
    """Length along the rim of a flywheel or pulley: pi x diameter x degrees / 360, with the sign of degrees."""
    if not (math.isfinite(diameter) and diameter > 0):
        raise ValueError("A diameter must be above nought.")
    return math.pi * diameter * degrees / 360


def degrees_from_rim(length: float, diameter: float) -> float:
    """Degrees for a length along the rim: the reverse of ``rim_travel``."""
    return length / rim_travel(1.0, diameter)


class Turn(StrEnum):
    """Sense of rotation as somebody sees it."""

    CLOCKWISE = "clockwise"
    ANTICLOCKWISE = "anticlockwise"

    @property
    def other(self) -> Turn:
        """The opposite sense."""
        return Turn.ANTICLOCKWISE if self is Turn.CLOCKWISE else Turn.CLOCKWISE


class End(StrEnum):
    """Where one stands: an engine has a drive (flywheel) and a free (starting handle) end, a magneto likewise."""

    DRIVE = "drive end"
    FREE = "free end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rotation:
    """A sense of rotation is worth nothing without the end from which it was seen: always both."""

    turn: Turn
    seen_from: End

    def seen(self, end: End) -> Turn:
        """The sense as seen from this end."""
        return self.turn if end is self.seen_from else self.turn.other


def magneto_mark(mark: str) -> Rotation:
    """What the letter on a magneto means: R or right is clockwise, L or left anticlockwise, from the drive end.

    Common practice; check against the vehicle's own manual.

    Raises:
        ValueError: another mark.
    """
    found = {
        "r": Turn.CLOCKWISE,
        "right": Turn.CLOCKWISE,
        "l": Turn.ANTICLOCKWISE,
        "left": Turn.ANTICLOCKWISE,
    }
    turn = found.get(mark.strip().lower())
    if turn is None:
        raise ValueError("A magneto is marked right or left (R or L).")
    return Rotation(turn=turn, seen_from=End.DRIVE)


def magneto_runs(engine: Rotation, *, reversing: bool, faces_engine: bool) -> Rotation:
    """The sense in which the magneto must run, seen from its own drive end.

    Args:
        engine: the crankshaft's sense.
        reversing: the drive turns the magneto against the crank (an odd number of gear meshes); a chain, a
            straight coupling or an even number does not.
        faces_engine: the magneto's drive end points to the engine's free end, so that who looks at that
            drive end looks toward the engine's drive end, as one does from the engine's free end.

    Returns:
        The needed sense, from the drive end of the magneto.
    """
    along = engine.seen(End.FREE if faces_engine else End.DRIVE)
    return Rotation(turn=along.other if reversing else along, seen_from=End.DRIVE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """One lead of a distributor, in the order in which the posts are passed.

    Attributes:
        post: number of the post, from 1, in the sense of rotation of the rotor.
        cylinder: cylinder that it must reach.
        degrees: crank degrees after the spark of the first cylinder.
    """

    post: int
    cylinder: int
    degrees: Fraction


def leads(order: tuple[int, ...], strokes: int = 4) -> tuple[Lead, ...]:
    """Which post goes to which cylinder.

    The numbers on a distributor are an order of sparks, not cylinder numbers: post 2 serves the second
    cylinder of the firing order.

    Raises:
        ValueError: the order does not name every cylinder once.
    """
    if sorted(order) != list(range(1, len(order) + 1)):
        raise ValueError("A firing order names every cylinder once.")
    step = firing_interval(len(order), strokes)
    return tuple(Lead(post=i + 1, cylinder=cylinder, degrees=i * step) for i, cylinder in enumerate(order))


@dataclass(frozen=True, slots=True, kw_only=True)
class PlugRow:
    """Which row of plugs each magneto fires in one cylinder."""

    cylinder: int
    left: str
    right: str


def plugs_by_magneto(layout: str, cylinders: int) -> tuple[PlugRow, ...]:
    """Which plug of each cylinder the left and the right magneto fire: a starting point only.

    Arrangements differ between makers, so the vehicle's own diagram decides. The usual ones (radial after
    FAA-H-8083-32, the others common practice):

    - "radial": the right magneto fires the front plugs, the left the rear plugs.
    - "opposed, top and bottom": the right magneto fires all top plugs, the left all bottom plugs.
    - "opposed, crossed": the right magneto fires the bottom plugs of the right bank and the top plugs of the
      left bank, so that the wet bottom plugs are shared out. Odd cylinders are taken as the right bank.

    Args:
        layout: one of the three.
        cylinders: how many.

    Raises:
        ValueError: an unknown layout or no cylinder.
    """
    numbers = range(1, _whole(cylinders, "The number of cylinders") + 1)
    if layout == "radial":
        return tuple(PlugRow(cylinder=number, left="rear", right="front") for number in numbers)
    if layout == "opposed, top and bottom":
        return tuple(PlugRow(cylinder=number, left="bottom", right="top") for number in numbers)
    if layout == "opposed, crossed":
        odd, even = ("top", "bottom"), ("bottom", "top")
        pairs = ((number, odd if number % 2 else even) for number in numbers)
        return tuple(PlugRow(cylinder=number, left=left, right=right) for number, (left, right) in pairs)
    raise ValueError("Known layouts: radial; opposed, top and bottom; opposed, crossed.")


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingFinding:
    """As-found timing against the mark.

    Attributes:
        word: "right", "late" or "early".
        crank_degrees: how far off, without sign, in crank degrees.
        body_degrees: how far to turn the magneto or distributor body, in its own degrees.
        turn: which way to turn the body, seen from its drive end; None when nothing is to be done.
        rim: the same off along a rim, when its diameter is given, in the unit of the diameter.
        sentence: in plain words.
    """

    word: str
    crank_degrees: float
    body_degrees: float
    turn: Turn | None
    rim: float | None
    sentence: str


def as_found(
    *,
    found: float,
    wanted: float,
    tolerance: float = 0.0,
    ratio: Fraction | float = Fraction(1, 2),
    runs: Rotation,
    diameter: float | None = None,
) -> TimingFinding:
    """How far the spark is from its mark, and which way to turn the body.

    Turning the body *against* its rotor's rotation makes the spark earlier, with it later. A body turns by
    crank degrees x ratio, because the rotor turns that much for one turn of the crank.

    Args:
        found: crank degrees before top dead centre at which it sparks; after is negative.
        wanted: crank degrees before top dead centre of the mark.
        tolerance: degrees either way that pass; equal passes.
        ratio: rotor turns for one of the crank (``magneto_ratio``; 1/2 for a four-stroke distributor).
        runs: rotation of the rotor.
        diameter: of the marked rim, for the length along it.

    Returns:
        The finding.

    Raises:
        ValueError: a figure that is not finite, or a tolerance or ratio out of range.
    """
    if not (math.isfinite(found) and math.isfinite(wanted) and tolerance >= 0 and ratio > 0):
        raise ValueError(
            "Timing needs finite figures, a tolerance of nought or more and a ratio above nought."
        )
    error = found - wanted
    off = abs(error)
    rim = None if diameter is None else rim_travel(off, diameter)
    if off <= tolerance + 1e-9:
        return TimingFinding(
            word="right",
            crank_degrees=off,
            body_degrees=0.0,
            turn=None,
            rim=rim,
            sentence="On its mark. Leave it.",
        )
    word = "early" if error > 0 else "late"
    seen = runs.seen(End.DRIVE)
    turn = seen if error > 0 else seen.other
    body = off * float(ratio)
    against = "with" if error > 0 else "against"
    return TimingFinding(
        word=word,
        crank_degrees=off,
        body_degrees=body,
        turn=turn,
        rim=rim,
        sentence=f"{off:.1f}° {word} at the crank. Turn the body {body:.1f}° {turn}, seen from its drive end "
        f"({against} the rotation).",
    )
