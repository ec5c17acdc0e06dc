"""Wanders: needs correcting all the time on a level road."""

from maintenance.fault_sheet import Cause, SetUp, Sheet, Test, by_cause
from maintenance.sheets.cautions import LIFTED, ROAD

CAUSES = (
    Cause(
        key="tyre", name="Tyres: pressures or odd pair", chance=0.24, act="Correct, pair by axle, try again."
    ),
    Cause(
        key="joint",
        name="Ball joint or drag link worn",
        chance=0.18,
        act="Must not run until renewed or adjusted, and signed twice.",
    ),
    Cause(
        key="box",
        name="Steering box slack or loose on the frame",
        chance=0.16,
        act="Tighten first; adjust by the manual with the wheels ahead.",
    ),
    Cause(key="pin", name="Kingpins worn", chance=0.14, act="Renew bushes and pins, both sides."),
    Cause(key="hub", name="Wheel bearings loose", chance=0.10, act="Adjust, new split pin or lock tab."),
    Cause(key="toe", name="Toe wrong", chance=0.10, act="Set it after all play is out."),
    Cause(
        key="spring",
        name="Axle moved: U-bolts or centre bolt",
        chance=0.08,
        act="Must not run. Axle back in its place, new bolts, torque again after 50 km.",
    ),
)

SHEET = Sheet(
    key="steering-wander",
    name="Steering wanders",
    cautions=(
        ROAD,
        "WARNING. Play found in joints, box or axle: the vehicle must not run until it is cured.",
    ),
    causes=CAUSES,
    set_ups=(SetUp(key="stands", name="Front up on stands", minutes=10),),
    tests=(
        Test(
            key="tyre",
            name="Pressures cold, sizes and wear of the pair",
            minutes=6,
            table=by_cause(CAUSES, ("unequal", "alike"), (0.08, 0.92), tyre=(0.93, 0.07)),
            says={"unequal": "Put right, then drive it again before anything else."},
        ),
        Test(
            key="rock",
            name="Second person rocks the wheel to and fro on the ground; watch every joint",
            minutes=8,
            table=by_cause(
                CAUSES,
                ("a joint moves", "box moves", "nothing loose"),
                (0.04, 0.04, 0.92),
                joint=(0.88, 0.04, 0.08),
                box=(0.05, 0.80, 0.15),
            ),
            stops=("a joint moves", "box moves"),
        ),
        Test(
            key="bar",
            name="Bar the U-bolts, measure axle to a fixed point on both sides",
            minutes=10,
            table=by_cause(CAUSES, ("moves or unequal", "square"), (0.04, 0.96), spring=(0.92, 0.08)),
            stops=("moves or unequal",),
        ),
        Test(
            key="pull",
            name="Wheel up: pull at top and bottom, then with the brake on",
            minutes=8,
            set_up="stands",
            cautions=(LIFTED,),
            table=by_cause(
                CAUSES,
                ("play goes with the brake on", "play stays", "none"),
                (0.04, 0.04, 0.92),
                hub=(0.90, 0.04, 0.06),
                pin=(0.05, 0.88, 0.07),
            ),
            says={"play goes with the brake on": "Wheel bearing.", "play stays": "Kingpin."},
        ),
        Test(
            key="toe",
            name="Toe with trammel or string, wheels ahead",
            minutes=20,
            table=by_cause(
                CAUSES,
                ("out", "by the manual"),
                (0.10, 0.90),
                toe=(0.93, 0.07),
                joint=(0.30, 0.70),
                pin=(0.30, 0.70),
            ),
        ),
        Test(
            key="joint",
            name="Each ball joint with a bar and a dial gauge",
            minutes=15,
            cautions=(LIFTED,),
            table=by_cause(CAUSES, ("past 1 mm", "within"), (0.03, 0.97), joint=(0.95, 0.05)),
        ),
    ),
)
