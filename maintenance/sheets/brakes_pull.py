"""Hydraulic drum brakes pull to the nearside."""

from maintenance.fault_sheet import Cause, SetUp, Sheet, Test, two
from maintenance.sheets.cautions import DUST, LIFTED

_SPLIT = "WARNING. Split rims burst: deflate fully before the nuts, both tyres of a twin."

SHEET = Sheet(
    key="brakes-pull",
    name="Brakes pull to the nearside",
    cautions=(
        "WARNING. Test on private level ground, at most 20 km/h, with a marshal and nobody ahead.",
        "WARNING. If the pedal sinks under your foot, stop: the vehicle must not run.",
    ),
    causes=(
        Cause(
            key="C1",
            name="Offside hose choked inside",
            chance=0.10,
            act="Renew both front hoses, bleed, repeat the stop.",
        ),
        Cause(
            key="C2",
            name="Offside wheel cylinder stuck",
            chance=0.20,
            act="Free or renew the cylinders on both ends of the axle.",
        ),
        Cause(
            key="C3",
            name="Offside lining wet",
            chance=0.18,
            act="Oil: hub seal. Fluid: cylinder. The lining is scrap; reline both sides.",
        ),
        Cause(
            key="C4",
            name="Offside adjuster slack or seized",
            chance=0.16,
            act="Free it and adjust both sides alike.",
        ),
        Cause(
            key="C5",
            name="Offside drum oversize with a standard lining",
            chance=0.07,
            act="Fit lining to suit the drum, or another drum; pair by axle. Check what is written about the drum.",
        ),
        Cause(
            key="C6",
            name="Nearside grabs or binds",
            chance=0.09,
            act="Strip the nearside: return spring, cylinder, lining edge.",
        ),
        Cause(
            key="C7",
            name="Tyres unequal",
            chance=0.10,
            act="Correct the pressures, compare the tyres, repeat the stop.",
        ),
        Cause(
            key="C8",
            name="Axle or spring moves",
            chance=0.06,
            act="Must not run. Open a steering or axle job.",
        ),
        Cause(key="C9", name="Air in the offside line", chance=0.04, act="Find where it enters, then bleed."),
    ),
    set_ups=(SetUp(key="stands", name="Front up on stands", minutes=10),),
    tests=(
        Test(
            key="T1",
            name="Measure the front tyre pressures, cold",
            minutes=6,
            table=two("unequal", "alike", (0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 0.95, 0.05, 0.05)),
            says={"unequal": "Correct them and repeat the stop before anything else."},
        ),
        Test(
            key="T2",
            name="Three stops, then feel both front drums with the thermometer",
            minutes=15,
            table={
                "offside cool": (0.70, 0.85, 0.80, 0.75, 0.70, 0.05, 0.10, 0.05, 0.60),
                "nearside hot": (0.10, 0.05, 0.05, 0.05, 0.05, 0.85, 0.10, 0.05, 0.05),
                "alike": (0.20, 0.10, 0.15, 0.20, 0.25, 0.10, 0.80, 0.90, 0.35),
            },
            says={
                "offside cool": "That wheel does little: supply, cylinder, lining, adjuster or fit of the drum.",
                "nearside hot": "Look for drag on the nearside.",
                "alike": "Suspect the tyres or the axle.",
            },
        ),
        Test(
            key="T3",
            name="Spin both front wheels and count the adjuster clicks",
            minutes=15,
            set_up="stands",
            cautions=(LIFTED,),
            table={
                "offside slack": (0.10, 0.20, 0.10, 0.90, 0.20, 0.05, 0.05, 0.05, 0.10),
                "nearside drags": (0.05, 0.05, 0.05, 0.05, 0.05, 0.70, 0.05, 0.05, 0.05),
                "alike": (0.85, 0.75, 0.85, 0.05, 0.75, 0.25, 0.90, 0.90, 0.85),
            },
            says={"offside slack": "Adjust both sides alike, then repeat the three stops."},
        ),
        Test(
            key="T4",
            name="Watch the axle while the brake is pressed; bar the U-bolts",
            minutes=8,
            table=two("moves", "firm", (0.04, 0.04, 0.04, 0.04, 0.04, 0.04, 0.04, 0.90, 0.04)),
            says={"moves": "Stop. The vehicle must not run: open a steering or axle job."},
            stops=("moves",),
        ),
        Test(
            key="T5",
            name="Open the offside bleed screw and press the pedal",
            minutes=12,
            set_up="stands",
            cautions=(LIFTED,),
            table={
                "weak": (0.85, 0.05, 0.05, 0.05, 0.05, 0.05, 0.04, 0.04, 0.05),
                "bubbles": (0.03, 0.05, 0.10, 0.05, 0.05, 0.05, 0.04, 0.04, 0.90),
                "good": (0.12, 0.90, 0.85, 0.90, 0.90, 0.90, 0.92, 0.92, 0.05),
            },
            says={"weak": "Hose or pipe. A wheel that is slow to free after release agrees."},
        ),
        Test(
            key="T6",
            name="Offside drum off, look",
            minutes=60,
            cautions=(LIFTED, DUST, _SPLIT),
            table={
                "wet": (0.05, 0.10, 0.90, 0.05, 0.03, 0.04, 0.04, 0.04, 0.08),
                "piston stuck": (0.05, 0.80, 0.04, 0.15, 0.03, 0.04, 0.04, 0.04, 0.04),
                "narrow contact band": (0.05, 0.03, 0.02, 0.05, 0.84, 0.07, 0.04, 0.04, 0.03),
                "nothing": (0.85, 0.07, 0.04, 0.75, 0.10, 0.85, 0.88, 0.88, 0.85),
            },
            says={
                "wet": "Oil: hub seal. Fluid: cylinder. The lining is scrap.",
                "piston stuck": "Do both cylinders on the axle.",
                "narrow contact band": "The radii differ: measure the drum.",
            },
        ),
        Test(
            key="T7",
            name="Measure the drum bore on both sides, two axes",
            minutes=15,
            needs=("T6",),
            cautions=(LIFTED, DUST),
            table=two(
                "more than 0.5 mm apart",
                "alike within 0.5 mm",
                (0.05, 0.05, 0.05, 0.05, 0.97, 0.05, 0.05, 0.05, 0.05),
            ),
            says={
                "more than 0.5 mm apart": "Drum and lining do not belong together: other lining or other drum, "
                "in pairs by axle."
            },
        ),
    ),
)
