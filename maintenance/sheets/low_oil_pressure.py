"""Oil pressure low when hot."""

from maintenance.fault_sheet import Cause, Sheet, Test, by_cause
from maintenance.sheets.cautions import HOT, LIFTED, TURNING

CAUSES = (
    Cause(
        key="gauge",
        name="Gauge, sender or its line",
        chance=0.22,
        act="Renew; put the test gauge's figures on the record.",
    ),
    Cause(key="level", name="Oil low", chance=0.12, act="Fill, find where it goes."),
    Cause(
        key="thin",
        name="Oil thin: wrong grade or fuel in it",
        chance=0.20,
        act="Change oil and filter; find the fuel's way in before it runs again.",
    ),
    Cause(
        key="valve",
        name="Relief valve stuck or spring tired",
        chance=0.16,
        act="Valve out, clean, measure the spring.",
    ),
    Cause(
        key="screen",
        name="Pick-up screen blocked or drawing air",
        chance=0.08,
        act="Sump off; clean; new gasket on the suction pipe.",
    ),
    Cause(key="pump", name="Pump worn", chance=0.08, act="Measure end float and teeth; rebuild."),
    Cause(key="bearing", name="Bearings worn", chance=0.14, act="Do not run it. Plan the strip."),
)

SHEET = Sheet(
    key="low-oil-pressure",
    name="Oil pressure low when hot",
    cautions=("CAUTION. Stop the engine at once if the pressure falls to nothing or it knocks.", HOT),
    causes=CAUSES,
    tests=(
        Test(
            key="dip",
            name="Dipstick: level, smell, feel; drop on paper",
            minutes=4,
            table=by_cause(
                CAUSES,
                ("low", "thin or smells of fuel", "good"),
                (0.05, 0.08, 0.87),
                level=(0.93, 0.03, 0.04),
                thin=(0.03, 0.80, 0.17),
            ),
            says={
                "low": "Fill it first, then read the gauge again.",
                "thin or smells of fuel": "Vapour in the crankcase: no running until changed.",
            },
        ),
        Test(
            key="gauge",
            name="Test gauge in place of the sender, oil at 70 °C or more",
            minutes=20,
            cautions=(HOT, TURNING),
            table=by_cause(CAUSES, ("pressure is good", "low too"), (0.04, 0.96), gauge=(0.95, 0.05)),
        ),
        Test(
            key="rise",
            name="Same gauge: idle, then 1500 rev/min",
            minutes=5,
            needs=("gauge",),
            cautions=(TURNING,),
            table=by_cause(
                CAUSES,
                ("rises with speed", "stays low", "flutters"),
                (0.60, 0.33, 0.07),
                valve=(0.12, 0.80, 0.08),
                screen=(0.10, 0.25, 0.65),
                pump=(0.35, 0.60, 0.05),
                bearing=(0.75, 0.20, 0.05),
            ),
            says={"flutters": "Air on the suction side.", "stays low": "Relief valve or pump."},
        ),
        Test(
            key="valve",
            name="Relief valve out: look, measure the spring",
            minutes=30,
            cautions=(HOT,),
            table=by_cause(CAUSES, ("stuck, scored or short", "good"), (0.06, 0.94), valve=(0.93, 0.07)),
        ),
        Test(
            key="filter",
            name="Cut the filter open, magnet through the oil",
            minutes=20,
            table=by_cause(
                CAUSES,
                ("bright metal", "sludge", "clean"),
                (0.04, 0.16, 0.80),
                bearing=(0.80, 0.10, 0.10),
                pump=(0.30, 0.15, 0.55),
                screen=(0.06, 0.70, 0.24),
            ),
            says={"bright metal": "Stop: it must not run."},
            stops=("bright metal",),
        ),
        Test(
            key="sump",
            name="Sump off: screen, suction pipe, one main cap",
            minutes=180,
            cautions=(LIFTED,),
            table=by_cause(
                CAUSES,
                ("screen or pipe", "bearing worn", "neither"),
                (0.03, 0.05, 0.92),
                screen=(0.92, 0.03, 0.05),
                bearing=(0.03, 0.92, 0.05),
            ),
        ),
        Test(
            key="change",
            name="Oil and filter changed to the right grade, pressure again hot",
            minutes=45,
            cautions=(HOT,),
            needs=("gauge",),
            table=by_cause(
                CAUSES, ("as it should be", "low still"), (0.06, 0.94), thin=(0.92, 0.08), level=(0.60, 0.40)
            ),
        ),
        Test(
            key="pump",
            name="Pump out: end float and teeth against the manual",
            minutes=60,
            cautions=(LIFTED,),
            needs=("sump",),
            table=by_cause(CAUSES, ("past the limit", "within"), (0.04, 0.96), pump=(0.95, 0.05)),
        ),
    ),
)
