"""Will not start at all: petrol engine with coil or magneto."""

from maintenance.fault_sheet import Cause, Sheet, Test, by_cause
from maintenance.sheets.cautions import BATTERY, LIVE_SPARK, TURNING, VAPOUR

CAUSES = (
    Cause(
        key="battery",
        name="Battery flat or a bad connection",
        chance=0.24,
        act="Charge, clean and tighten; prove it again cranking.",
    ),
    Cause(key="starter", name="Starter or its switch", chance=0.10, act="Starter out; bench test."),
    Cause(key="fuel", name="No fuel arrives", chance=0.20, act="Tap, filter, line, pump, in that order."),
    Cause(
        key="needle",
        name="Carburettor jammed or blocked",
        chance=0.12,
        act="Bowl off; clean; check float and needle.",
    ),
    Cause(
        key="points",
        name="Points dirty, closed or condenser dead",
        chance=0.16,
        act="Clean and gap; renew the condenser.",
    ),
    Cause(
        key="coil",
        name="Coil, magneto or rotor arm dead",
        chance=0.10,
        act="Swap with a known good one to prove it.",
    ),
    Cause(
        key="timing",
        name="Timing slipped or leads crossed",
        chance=0.05,
        act="Time it on number 1, leads by firing order.",
    ),
    Cause(key="squeeze", name="No compression", chance=0.03, act="Compression test on every cylinder."),
)

SHEET = Sheet(
    key="no-start",
    name="Will not start",
    cautions=(TURNING, VAPOUR, LIVE_SPARK),
    causes=CAUSES,
    tests=(
        Test(
            key="crank",
            name="Turn it on the starter, lamps on",
            minutes=2,
            cautions=(TURNING,),
            table=by_cause(
                CAUSES,
                ("lamps die, slow or nothing", "lamps stay, nothing", "turns well"),
                (0.05, 0.03, 0.92),
                battery=(0.90, 0.06, 0.04),
                starter=(0.25, 0.70, 0.05),
            ),
            says={
                "lamps die, slow or nothing": "Battery or connection first.",
                "lamps stay, nothing": "Switch or starter.",
            },
        ),
        Test(
            key="volts",
            name="Volts across the battery, then across each connection, cranking",
            minutes=10,
            cautions=(BATTERY, TURNING),
            table=by_cause(
                CAUSES,
                ("low or lost at a joint", "good"),
                (0.06, 0.94),
                battery=(0.93, 0.07),
                starter=(0.15, 0.85),
            ),
        ),
        Test(
            key="spark",
            name="Spark at a plug lead, held in insulated pliers",
            minutes=8,
            cautions=(LIVE_SPARK, TURNING),
            table=by_cause(
                CAUSES,
                ("none or weak", "strong"),
                (0.06, 0.94),
                battery=(0.30, 0.70),
                points=(0.92, 0.08),
                coil=(0.93, 0.07),
            ),
            says={
                "none or weak": "Points and condenser before coil or magneto.",
                "strong": "Fuel, timing or compression.",
            },
        ),
        Test(
            key="points",
            name="Look at the points, gap and clean, try the spark again",
            minutes=12,
            needs=("spark",),
            cautions=(LIVE_SPARK,),
            table=by_cause(CAUSES, ("spark comes back", "no change"), (0.04, 0.96), points=(0.85, 0.15)),
        ),
        Test(
            key="delivery",
            name="Fuel at the carburettor into a can",
            minutes=8,
            cautions=(VAPOUR,),
            table=by_cause(CAUSES, ("none or little", "plenty"), (0.05, 0.95), fuel=(0.93, 0.07)),
        ),
        Test(
            key="plug",
            name="Draw a plug after trying",
            minutes=8,
            table=by_cause(
                CAUSES,
                ("dry", "wet", "damp"),
                (0.15, 0.25, 0.60),
                fuel=(0.85, 0.03, 0.12),
                needle=(0.45, 0.45, 0.10),
                points=(0.05, 0.65, 0.30),
                coil=(0.05, 0.65, 0.30),
            ),
            says={"dry": "No fuel gets in.", "wet": "Fuel gets in and is not burnt."},
        ),
        Test(
            key="thumb",
            name="Number 1 plug out: thumb over the hole, mark and rotor in sight",
            minutes=12,
            cautions=(LIVE_SPARK, TURNING),
            table=by_cause(
                CAUSES,
                ("no push", "push, rotor elsewhere", "push, rotor at number 1"),
                (0.03, 0.04, 0.93),
                timing=(0.04, 0.88, 0.08),
                squeeze=(0.85, 0.05, 0.10),
            ),
        ),
        Test(
            key="bowl",
            name="Carburettor bowl off: level, needle, jets",
            minutes=25,
            cautions=(VAPOUR,),
            table=by_cause(
                CAUSES, ("jammed, dirty or low", "as it should be"), (0.05, 0.95), needle=(0.93, 0.07)
            ),
        ),
        Test(
            key="swap",
            name="Coil or magneto changed for one that is known good, spark again",
            minutes=20,
            cautions=(
                LIVE_SPARK,
                TURNING,
            ),
            needs=("spark",),
            table=by_cause(CAUSES, ("spark comes back", "no change"), (0.04, 0.96), coil=(0.92, 0.08)),
        ),
        Test(
            key="squeeze",
            name="Compression of every cylinder, throttle open",
            minutes=25,
            cautions=(
                LIVE_SPARK,
                TURNING,
            ),
            table=by_cause(CAUSES, ("low", "within the manual"), (0.03, 0.97), squeeze=(0.96, 0.04)),
        ),
    ),
)
