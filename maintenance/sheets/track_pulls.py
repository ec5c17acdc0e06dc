"""Tracked vehicle: the track runs off, or the vehicle pulls to one side."""

from maintenance.fault_sheet import Cause, Sheet, Test, by_cause
from maintenance.sheets.cautions import LIFTED, ROAD, TRACK

CAUSES = (
    Cause(
        key="tension",
        name="Tracks of unequal or wrong tension",
        chance=0.26,
        act="Coast to a stop on level ground, set both sides by the manual.",
    ),
    Cause(
        key="steer",
        name="Steering brake or clutch drags or slips",
        chance=0.26,
        act="Adjust; if it is at its end, reline.",
    ),
    Cause(key="adjuster", name="Adjuster seized or leaking down", chance=0.12, act="Free, clean, new seal."),
    Cause(
        key="align",
        name="Idler or sprocket out of line",
        chance=0.12,
        act="Must not run. Shim or straighten.",
    ),
    Cause(
        key="wear",
        name="Pins or guide horns worn",
        chance=0.14,
        act="Measure ten links on both sides; take out a link or renew.",
    ),
    Cause(
        key="wheel",
        name="Road wheel bearing or tyre gone",
        chance=0.10,
        act="Wheel off; bearing, seal, tyre.",
    ),
)

SHEET = Sheet(
    key="track-pulls",
    name="Track runs off or vehicle pulls",
    cautions=(TRACK, ROAD),
    causes=CAUSES,
    tests=(
        Test(
            key="sag",
            name="Coast to a stop without the brake, measure the sag on both sides",
            minutes=10,
            cautions=(TRACK,),
            table=by_cause(
                CAUSES,
                ("sides unequal", "both slack", "in range"),
                (0.10, 0.10, 0.80),
                tension=(0.65, 0.30, 0.05),
                adjuster=(0.80, 0.08, 0.12),
                wear=(0.25, 0.60, 0.15),
            ),
        ),
        Test(
            key="again",
            name="Set both sides, drive 500 m, measure again",
            minutes=30,
            needs=("sag",),
            cautions=(TRACK, ROAD),
            table=by_cause(
                CAUSES,
                ("one side has gone slack", "stays set and runs true", "stays set and still pulls"),
                (0.05, 0.10, 0.85),
                tension=(0.04, 0.90, 0.06),
                adjuster=(0.88, 0.05, 0.07),
            ),
        ),
        Test(
            key="hands",
            name="Hands off the levers at walking pace, then a light pull on each",
            minutes=10,
            cautions=(ROAD,),
            table=by_cause(
                CAUSES,
                ("pulls by itself", "one lever acts late or not", "both act alike"),
                (0.25, 0.08, 0.67),
                steer=(0.45, 0.48, 0.07),
                tension=(0.50, 0.06, 0.44),
                wheel=(0.45, 0.06, 0.49),
            ),
        ),
        Test(
            key="heat",
            name="After a run: thermometer on both steering drums and every hub",
            minutes=8,
            table=by_cause(
                CAUSES,
                ("one drum hot", "one hub hot", "alike"),
                (0.06, 0.05, 0.89),
                steer=(0.78, 0.04, 0.18),
                wheel=(0.04, 0.86, 0.10),
            ),
        ),
        Test(
            key="horns",
            name="Look along the track: polish on one side of horns and sprocket",
            minutes=8,
            cautions=(TRACK,),
            table=by_cause(
                CAUSES, ("one-sided polish", "even"), (0.12, 0.88), align=(0.92, 0.08), wear=(0.30, 0.70)
            ),
        ),
        Test(
            key="pins",
            name="Ten links tight, tape, both sides",
            minutes=15,
            cautions=(TRACK,),
            table=by_cause(CAUSES, ("3% or more over new", "within"), (0.08, 0.92), wear=(0.92, 0.08)),
        ),
        Test(
            key="lift",
            name="Side up: spin every road wheel, line on idler and sprocket",
            minutes=60,
            cautions=(LIFTED, TRACK),
            table=by_cause(
                CAUSES,
                ("a wheel rough or loose", "out of line", "good"),
                (0.04, 0.05, 0.91),
                wheel=(0.92, 0.03, 0.05),
                align=(0.04, 0.90, 0.06),
            ),
            stops=("out of line",),
        ),
    ),
)
