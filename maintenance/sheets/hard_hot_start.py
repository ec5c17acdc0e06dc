"""Starts cold, will hardly start hot."""

from maintenance.fault_sheet import Cause, Sheet, Test, by_cause
from maintenance.sheets.cautions import BATTERY, HOT, LIVE_SPARK, TURNING, VAPOUR

CAUSES = (
    Cause(
        key="boil",
        name="Fuel boils in line or pump",
        chance=0.30,
        act="Shield or move the line from the heat; check the pump's valves.",
    ),
    Cause(
        key="percolate",
        name="Fuel boils over into the intake",
        chance=0.20,
        act="Heat spacer under the carburettor; open the throttle fully when starting hot.",
    ),
    Cause(
        key="coil",
        name="Coil or magneto weak when hot",
        chance=0.18,
        act="Renew or rewind; keep the old one with the vehicle's parts.",
    ),
    Cause(
        key="float", name="Float level or needle", chance=0.12, act="Set the level, renew needle and seat."
    ),
    Cause(
        key="starter",
        name="Starter drags when hot",
        chance=0.10,
        act="Starter out: bushes, brushes; check the cable and the earth strap.",
    ),
    Cause(
        key="air",
        name="Air leak on the suction side",
        chance=0.10,
        act="Renew hoses and washers on the suction side.",
    ),
)

SHEET = Sheet(
    key="hard-hot-start",
    name="Hard to start when hot",
    cautions=(VAPOUR, HOT, LIVE_SPARK),
    causes=CAUSES,
    tests=(
        Test(
            key="delivery",
            name="Hot: pump into a can through a clear hose, watch",
            minutes=5,
            cautions=(VAPOUR,),
            table=by_cause(
                CAUSES,
                ("bubbles", "weak, no bubbles", "solid"),
                (0.06, 0.06, 0.88),
                boil=(0.80, 0.10, 0.10),
                air=(0.60, 0.20, 0.20),
            ),
            says={
                "bubbles": "Vapour or air: the wet cloth tells which.",
                "solid": "Fuel arrives: look at flooding and spark.",
            },
        ),
        Test(
            key="plug",
            name="Smell the intake and draw one plug",
            minutes=8,
            cautions=(HOT,),
            table=by_cause(
                CAUSES,
                ("wet", "dry", "as usual"),
                (0.15, 0.10, 0.75),
                boil=(0.05, 0.70, 0.25),
                percolate=(0.80, 0.05, 0.15),
                float=(0.75, 0.10, 0.15),
                air=(0.05, 0.60, 0.35),
                coil=(0.40, 0.05, 0.55),
            ),
            says={"wet": "Too much fuel, or no spark to burn it.", "dry": "No fuel arrives."},
        ),
        Test(
            key="spark",
            name="Hot: spark with the fitted coil, then with a known good one",
            minutes=10,
            cautions=(LIVE_SPARK, TURNING),
            table=by_cause(
                CAUSES, ("better with the other", "no difference"), (0.05, 0.95), coil=(0.88, 0.12)
            ),
            says={"better with the other": "The coil fails with heat."},
        ),
        Test(
            key="volts",
            name="Hot: battery volts while cranking",
            minutes=5,
            cautions=(BATTERY, TURNING),
            table=by_cause(
                CAUSES, ("below 9.6 V, or 4.8 V of 6", "holds"), (0.06, 0.94), starter=(0.85, 0.15)
            ),
            says={"below 9.6 V, or 4.8 V of 6": "Starter, battery or cable. Repeat it cold to compare."},
        ),
        Test(
            key="level",
            name="Cool: fuel level in the float chamber against the manual",
            minutes=15,
            cautions=(VAPOUR,),
            table=by_cause(CAUSES, ("high or creeps up", "right"), (0.06, 0.94), float=(0.90, 0.10)),
            says={"high or creeps up": "Needle, seat or level."},
        ),
        Test(
            key="cloth",
            name="Wet cloth on pump and line for five minutes, try again",
            minutes=5,
            cautions=(HOT,),
            table=by_cause(
                CAUSES, ("starts", "no difference"), (0.10, 0.90), boil=(0.85, 0.15), percolate=(0.25, 0.75)
            ),
            says={"starts": "Heat at pump or line."},
        ),
        Test(
            key="suction",
            name="Hot: grease each suction joint in turn, watch the clear hose",
            minutes=15,
            cautions=(
                VAPOUR,
                HOT,
            ),
            table=by_cause(CAUSES, ("bubbles stop", "no difference"), (0.03, 0.97), air=(0.92, 0.08)),
        ),
        Test(
            key="open",
            name="Hot: five minutes bonnet open, then start with the throttle held wide",
            minutes=10,
            cautions=(TURNING,),
            table=by_cause(
                CAUSES, ("starts", "no difference"), (0.10, 0.90), percolate=(0.90, 0.10), boil=(0.25, 0.75)
            ),
        ),
        Test(
            key="seat",
            name="Cool: needle out; look at seat and float, shake the float",
            minutes=20,
            cautions=(VAPOUR,),
            table=by_cause(CAUSES, ("worn, sunk or bent", "good"), (0.05, 0.95), float=(0.94, 0.06)),
        ),
    ),
)
