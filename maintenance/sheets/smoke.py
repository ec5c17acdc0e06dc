"""Smoke, by colour, on a warm engine."""

from maintenance.fault_sheet import Cause, Sheet, Test, by_cause
from maintenance.sheets.cautions import GAS, HOT, LIVE_SPARK, TURNING, VAPOUR

CAUSES = (
    Cause(
        key="rich",
        name="Too much fuel: choke, float or injector",
        chance=0.22,
        act="Choke and float first; injectors to the bench.",
    ),
    Cause(key="air", name="Air cleaner choked", chance=0.12, act="Clean or refill its oil bath."),
    Cause(
        key="rings",
        name="Rings or bores",
        chance=0.20,
        act="Plan the strip; top up and watch the use meanwhile.",
    ),
    Cause(key="guides", name="Valve guides or seals", chance=0.18, act="Head work; watch the use meanwhile."),
    Cause(
        key="overfull",
        name="Oil overfull or breather blocked",
        chance=0.08,
        act="Level and breather, then run again.",
    ),
    Cause(key="water", name="Water in a cylinder", chance=0.12, act="Do not run it: gasket or crack."),
    Cause(
        key="misfire",
        name="One cylinder does not fire",
        chance=0.08,
        act="Plug, lead, injector of that cylinder.",
    ),
)

SHEET = Sheet(
    key="smoke",
    name="Smokes when warm",
    cautions=(GAS, TURNING),
    causes=CAUSES,
    tests=(
        Test(
            key="colour",
            name="Warm, ten minutes: colour and smell at the tail pipe",
            minutes=12,
            cautions=(GAS, HOT),
            table=by_cause(
                CAUSES,
                ("black", "blue", "white, sweet or wet", "white, smells of fuel"),
                (0.25, 0.25, 0.25, 0.25),
                rich=(0.88, 0.03, 0.02, 0.07),
                air=(0.88, 0.05, 0.02, 0.05),
                rings=(0.04, 0.88, 0.03, 0.05),
                guides=(0.03, 0.90, 0.03, 0.04),
                overfull=(0.03, 0.88, 0.04, 0.05),
                water=(0.02, 0.03, 0.88, 0.07),
                misfire=(0.15, 0.05, 0.05, 0.75),
            ),
            says={
                "black": "Fuel not burnt: air or fuel.",
                "blue": "Oil.",
                "white, sweet or wet": "Water: stop and look at the level.",
            },
            stops=("white, sweet or wet",),
        ),
        Test(
            key="when",
            name="Watch when it smokes: on the throttle, or after running down a slope on a closed one",
            minutes=8,
            cautions=(TURNING,),
            table=by_cause(
                CAUSES,
                ("on the throttle", "after a closed throttle", "always"),
                (0.30, 0.10, 0.60),
                rings=(0.70, 0.10, 0.20),
                guides=(0.08, 0.82, 0.10),
                rich=(0.40, 0.08, 0.52),
            ),
        ),
        Test(
            key="level",
            name="Oil and water levels, oil's look, breather",
            minutes=5,
            table=by_cause(
                CAUSES,
                ("oil high or breather blocked", "water low or oil milky", "as they should be"),
                (0.06, 0.05, 0.89),
                overfull=(0.92, 0.03, 0.05),
                water=(0.06, 0.82, 0.12),
            ),
        ),
        Test(
            key="cleaner",
            name="Run with the air cleaner off for a minute, well clear",
            minutes=6,
            cautions=(TURNING, VAPOUR),
            table=by_cause(CAUSES, ("clears", "no change"), (0.04, 0.96), air=(0.92, 0.08)),
        ),
        Test(
            key="short",
            name="Cut out one cylinder after another, listen and watch",
            minutes=12,
            cautions=(LIVE_SPARK, TURNING),
            table=by_cause(
                CAUSES,
                ("one makes no difference", "all alike"),
                (0.08, 0.92),
                misfire=(0.92, 0.08),
                rings=(0.25, 0.75),
                water=(0.40, 0.60),
            ),
        ),
        Test(
            key="wet",
            name="Compression dry, then with a spoon of oil",
            minutes=40,
            cautions=(TURNING, HOT),
            table=by_cause(
                CAUSES,
                ("low and rises", "low and stays", "good"),
                (0.05, 0.06, 0.89),
                rings=(0.85, 0.06, 0.09),
                guides=(0.05, 0.25, 0.70),
                water=(0.05, 0.55, 0.40),
            ),
        ),
    ),
)
