"""Pages: degrees to travel and back, which way a magneto turns, as-found timing."""

from __future__ import annotations

import math
from fractions import Fraction

from maintenance.reckoning.ignition import (
    CAUTIONS,
    End,
    Rotation,
    Turn,
    as_found,
    degrees_bounds,
    degrees_from_rim,
    degrees_from_travel,
    magneto_mark,
    magneto_runs,
    rim_travel,
    travel_bounds,
    travel_from_degrees,
)
from maintenance.reckoning.pages.base import (
    Given,
    Input,
    Keep,
    Line,
    Reckoning,
    Result,
    Said,
    Trouble,
    between,
    frac,
    line,
    text,
)

BOUND = (
    "No rod was given: the two figures are bounds, that of an endlessly long rod and that of a rod of 1.4 "
    "strokes, shorter than any usual one (common practice). Measure the rod before you time by this."
)
ENDS = (("drive", "Its drive end (usual)"), ("other", "The other end"))
MARKS = (("R", "R, right: clockwise"), ("L", "L, left: anticlockwise"))
RIM = Input(
    name="diameter",
    label="Diameter of the marked rim",
    unit="mm",
    needed=False,
    low=0,
    above=True,
    symbol="D",
    help="Flywheel or pulley, measured across the rim where the mark is.",
)


def _given_once(given: Given) -> str:
    there = [name for name in ("degrees", "travel", "rim") if given[name] is not None]
    if len(there) > 1:
        raise Trouble(there[1], "Give one of degrees, travel and rim: the others are worked out.")
    if not there:
        raise Trouble("degrees", "Give one of degrees, travel and rim.")
    return there[0]


def _degrees(given: Given) -> Result:
    kind = _given_once(given)
    stroke = float(given["stroke"])
    rod = None if given["rod"] is None else float(given["rod"])
    wide = None if given["diameter"] is None else float(given["diameter"])
    if rod is not None and rod <= stroke / 2:
        raise Trouble("rod", "A connecting rod is longer than half the stroke.")
    if kind == "travel":
        return _from_travel(given, stroke, rod, wide)
    if kind == "rim" and wide is None:
        raise Trouble("diameter", "A length along the rim needs the diameter of the rim.")
    found: list[Line] = []
    if kind == "rim" and wide is not None:
        degrees = degrees_from_rim(float(given["rim"]), wide)
        if degrees > 180:
            raise Trouble("rim", "That is more than half a turn of the rim.")
        found.append(line("Crank degrees", degrees, "°", 2))
    else:
        degrees = float(given["degrees"])
    flags: tuple[str, ...] = ()
    keeps = [Keep(name="degrees", label="Degrees", unit="°", values=(frac(degrees),))]
    if rod is None:
        found.append(between("Piston travel", *travel_bounds(degrees, stroke), "mm", 2))
        flags = (BOUND,)
    else:
        travel = travel_from_degrees(degrees, stroke, rod)
        found.append(line("Piston travel", travel, "mm", 2))
        keeps.append(Keep(name="travel", label="Piston travel", unit="mm", values=(frac(travel),)))
    if wide is not None and kind == "degrees":
        along = rim_travel(degrees, wide)
        found.append(line("Along the rim", along, "mm", 1))
        keeps.append(Keep(name="rim", label="Along the rim", unit="mm", values=(frac(along),)))
    return Result(lines=tuple(found), flags=flags, keeps=tuple(keeps), draw=_crank(degrees))


def _from_travel(given: Given, stroke: float, rod: float | None, wide: float | None) -> Result:
    travel = float(given["travel"])
    if travel > stroke:
        raise Trouble("travel", "The piston travels no farther than the stroke.")
    if rod is None:
        long, short = degrees_bounds(travel, stroke)
        bounds = [between("Crank degrees", long, short, "°", 2)]
        if wide is not None:
            bounds.append(between("Along the rim", rim_travel(long, wide), rim_travel(short, wide), "mm", 1))
        return Result(lines=tuple(bounds), flags=(BOUND,), draw=_crank((long + short) / 2))
    degrees = degrees_from_travel(travel, stroke, rod)
    found = [line("Crank degrees", degrees, "°", 2)]
    keeps = [Keep(name="degrees", label="Degrees", unit="°", values=(frac(degrees),))]
    if wide is not None:
        along = rim_travel(degrees, wide)
        found.append(line("Along the rim", along, "mm", 1))
        keeps.append(Keep(name="rim", label="Along the rim", unit="mm", values=(frac(along),)))
    return Result(lines=tuple(found), keeps=tuple(keeps), draw=_crank(degrees))


def _crank(degrees: float) -> dict[str, str]:
    """Pin and piston of the drawing: centre (90, 132), throw 30, rod 74, in its own units."""
    slope = math.radians(degrees)
    pin_x, pin_y = 90 - 30 * math.sin(slope), 132 - 30 * math.cos(slope)
    piston = pin_y - math.sqrt(74 * 74 - (90 - pin_x) ** 2)
    return {
        name: f"{value:.1f}"
        for name, value in (
            ("x", pin_x),
            ("y", pin_y),
            ("p", piston),
            ("top", piston - 11),
            ("turn", -degrees),
        )
    }


def stamped(given: Given) -> Rotation:
    """The sense that a stamp means, with the end from which it is meant."""
    seen = magneto_mark(given["mark"])
    return seen if given["seen"] == "drive" else Rotation(turn=seen.turn, seen_from=End.FREE)


def _mark(given: Given) -> Result:
    runs = stamped(given)
    found = [
        Line(label="Seen from its drive end", value=str(runs.seen(End.DRIVE))),
        Line(label="Seen from its other end", value=str(runs.seen(End.FREE))),
    ]
    flags = ["Store the direction together with the end from which it was seen: alone it is worth nothing."]
    if given["seen"] == "other":
        flags.append("Most makers mean the drive end. Make sure of it in the magneto's own manual.")
    said: list[Said] = []
    if given["engine"]:
        engine = Rotation(turn=Turn(given["engine"]), seen_from=End(given["engine_end"]))
        wanted = magneto_runs(
            engine, reversing=given["drive"] == "gears", faces_engine=given["faces"] == "free end"
        )
        needed = wanted.seen(End.DRIVE)
        found.append(Line(label="The engine drives it, seen from its drive end", value=str(needed)))
        fits = needed is runs.seen(End.DRIVE)
        letter = "R" if needed is Turn.CLOCKWISE else "L"
        said.append(
            Said(
                kind="within" if fits else "past",
                head="The magneto fits its drive" if fits else "The magneto runs the wrong way",
                detail=f"The drive asks for {needed}, stamp {letter} where the stamp is meant from the drive end.",
            )
        )
    return Result(
        lines=tuple(found), said=tuple(said), flags=tuple(flags), draw={"turn": str(runs.seen(End.DRIVE))}
    )


def _timing(given: Given) -> Result:
    runs = stamped(given)
    wide = None if given["diameter"] is None else float(given["diameter"])
    found, wanted = float(given["found"]), float(given["wanted"])
    finding = as_found(
        found=found,
        wanted=wanted,
        tolerance=float(given["tolerance"]),
        ratio=Fraction(given["ratio"]),
        runs=runs,
        diameter=wide,
    )
    lines = [
        line(
            f"Off at the crank{'' if finding.word == 'right' else f', {finding.word}'}",
            finding.crank_degrees,
            "°",
            1,
        )
    ]
    if finding.turn is not None:
        lines.append(
            line(f"Turn the body {finding.turn}, seen from its drive end", finding.body_degrees, "°", 1)
        )
        lines.append(Line(label="Seen from its other end, that is", value=str(finding.turn.other)))
    if finding.rim is not None:
        lines.append(line("Off along the rim", finding.rim, "mm", 1))
    head = "On its mark" if finding.word == "right" else f"{finding.word.capitalize()}"
    said = Said(kind="within" if finding.word == "right" else "past", head=head, detail=finding.sentence)
    return Result(
        lines=tuple(lines),
        said=(said,),
        keeps=(Keep(name="found", label="Timing as found", unit="°", values=(Fraction(given["found"]),)),),
        draw={"found": text(-found, 1), "wanted": text(-wanted, 1)},
    )


TURNS = (("", "Not asked"), (str(Turn.CLOCKWISE), "Clockwise"), (str(Turn.ANTICLOCKWISE), "Anticlockwise"))
MARK = Input(
    name="mark",
    label="Stamped on the magneto",
    kind="choice",
    choices=MARKS,
    start="R",
    help="On its plate or body.",
)
SEEN = Input(
    name="seen",
    label="The stamp is meant as seen from",
    kind="choice",
    choices=ENDS,
    start="drive",
    help="The drive end is where the coupling or gear sits. The magneto's own manual says which is meant.",
)

PAGES = (
    Reckoning(
        slug="degrees",
        name="Degrees, piston travel and rim",
        short="From degrees before top dead centre to millimetres down the bore or along the rim, and back.",
        inputs=(
            Input(name="degrees", label="Degrees before top dead centre", unit="°", needed=False, low=0, high=180, symbol="a", help="Give this, or one of the next two.", system="IGN"),
            Input(name="travel", label="Piston travel from top dead centre", unit="mm", needed=False, low=0, symbol="x", help="Depth gauge through the plug hole."),
            Input(name="rim", label="Length along the rim", unit="mm", needed=False, low=0, help="Tape along the rim, from the mark to the pointer."),
            Input(name="stroke", label="Stroke", unit="mm", low=0, above=True, symbol="S", help="Manual or plate; measured: the whole travel of the piston."),
            Input(name="rod", label="Connecting rod between centres", unit="mm", needed=False, low=0, above=True, symbol="L", help="Manual. Left empty, two bounds are shown instead of one figure."),
            RIM,
        ),
        work=_degrees,
        formula=(
            "x = r + L - r cos a - √(L² - r² sin² a), r = S / 2",
            "along the rim = π D a / 360",
        ),
        source="Geometry of crank and rod, exact for a pin in line with the crank",
        cautions=CAUTIONS,
        drawing="crank",
        idle=_crank(35),
    ),
    Reckoning(
        slug="rotation",
        name="Which way the magneto turns",
        short="What L and R mean, seen from which end, and whether it fits its drive.",
        inputs=(
            MARK,
            SEEN,
            Input(name="engine", label="The engine turns", kind="choice", choices=TURNS, needed=False, help="Watch it on the handle. Leave it at Not asked to read the stamp alone."),
            Input(name="engine_end", label="Seen from the engine's", kind="choice", choices=((str(End.FREE), "Free end, with the handle"), (str(End.DRIVE), "Drive end, with the flywheel")), start=str(End.FREE)),
            Input(name="drive", label="It is driven by", kind="choice", choices=(("straight", "Coupling, chain or an even number of meshes"), ("gears", "One mesh or an odd number: it runs backwards")), start="straight"),
            Input(name="faces", label="Its drive end points to the engine's", kind="choice", choices=(("free end", "Free end"), ("drive end", "Drive end")), start="free end", help="Look at its coupling. If you look towards the flywheel, it points to the free end."),
        ),
        work=_mark,
        formula=("R = clockwise, L = anticlockwise, seen from the drive end",),
        source="Common practice; the magneto's own manual decides",
        cautions=CAUTIONS,
        drawing="ends",
        idle={"turn": "clockwise"},
    ),
    Reckoning(
        slug="timing",
        name="Timing as found",
        short="How far the spark is off its mark, and how far to turn the body which way.",
        inputs=(
            Input(name="found", label="Sparks at, before top dead centre", unit="°", low=-180, high=180, help="Timing lamp on a verified mark, or points just opening. After top dead centre is negative.", system="IGN"),
            Input(name="wanted", label="Should spark at, before top dead centre", unit="°", low=-180, high=180, help="The vehicle's manual."),
            Input(name="tolerance", label="Passes within, either way", unit="°", low=0, start="2", help="The manual; 2° is a house figure."),
            Input(name="ratio", label="Turns of the rotor for one of the crank", low=0, above=True, start="0.5", help="0.5 for a distributor of a four-stroke. A magneto: see How fast the magneto turns."),
            MARK,
            SEEN,
            RIM,
        ),
        work=_timing,
        formula=("body = crank degrees off × turns of the rotor", "against the rotation is earlier, with it later"),
        source="Geometry; common practice",
        cautions=CAUTIONS,
        drawing="mark",
        idle={"found": "-24", "wanted": "-12"},
    ),
)  # fmt: skip
