"""One of two ignition systems is weak: too much drop when running on it alone."""

from maintenance.fault_sheet import Cause, SetUp, Sheet, Test, by_cause
from maintenance.sheets.cautions import HOT, LIVE_SPARK, TURNING

CAUSES = (
    Cause(
        key="plug",
        name="One fouled or cracked plug",
        chance=0.34,
        act="Clean, gap or renew; find out why it fouled.",
    ),
    Cause(
        key="lead",
        name="One lead leaks to earth",
        chance=0.18,
        act="Renew the lead; keep it off hot and sharp metal.",
    ),
    Cause(
        key="cap",
        name="Distributor block tracked or damp",
        chance=0.12,
        act="Clean and dry; renew if a burnt track shows.",
    ),
    Cause(
        key="points",
        name="Points worn or gap wrong on that unit",
        chance=0.14,
        act="Gap, then time again: gap moves timing.",
    ),
    Cause(key="timing", name="That unit late against the other", chance=0.12, act="Synchronise both units."),
    Cause(
        key="coil", name="Winding or condenser fails", chance=0.07, act="Unit off; bench test hot; rewind."
    ),
    Cause(
        key="earth",
        name="Switch or earth lead earths it partly",
        chance=0.03,
        act="Renew switch or lead, then prove that off is off.",
    ),
)

SHEET = Sheet(
    key="twin-ignition",
    name="One of two ignition systems weak",
    cautions=(
        "WARNING. A magneto with a broken earth lead is live with the switch off. Treat it as live.",
        LIVE_SPARK,
        TURNING,
    ),
    causes=CAUSES,
    set_ups=(SetUp(key="cover", name="Cover and screens off", minutes=10),),
    tests=(
        Test(
            key="cold",
            name="Run on that unit alone for a minute, then feel for the cold exhaust port with the thermometer",
            minutes=10,
            cautions=(HOT, TURNING),
            table=by_cause(
                CAUSES,
                ("one cold", "several cold", "all alike"),
                (0.08, 0.12, 0.80),
                plug=(0.88, 0.04, 0.08),
                lead=(0.85, 0.07, 0.08),
                cap=(0.35, 0.50, 0.15),
                coil=(0.06, 0.34, 0.60),
            ),
            says={"one cold": "Plug or lead of that cylinder.", "several cold": "Block or unit."},
        ),
        Test(
            key="swap",
            name="Change the plug of the cold cylinder for a good one",
            minutes=12,
            needs=("cold",),
            cautions=(HOT,),
            table=by_cause(CAUSES, ("cured", "no change"), (0.04, 0.96), plug=(0.93, 0.07)),
        ),
        Test(
            key="lead",
            name="Lead tester on each lead of that unit",
            minutes=15,
            cautions=(LIVE_SPARK,),
            table=by_cause(
                CAUSES, ("one leaks", "all hold"), (0.04, 0.96), lead=(0.92, 0.08), cap=(0.20, 0.80)
            ),
        ),
        Test(
            key="sync",
            name="Timing lamps on both units, crank pulled up to the mark",
            minutes=20,
            set_up="cover",
            cautions=(LIVE_SPARK, TURNING),
            table=by_cause(
                CAUSES, ("that one late", "together"), (0.05, 0.95), timing=(0.93, 0.07), points=(0.50, 0.50)
            ),
            says={"that one late": "Look at its gap before the body is moved."},
        ),
        Test(
            key="gap",
            name="Look at the points, measure the gap",
            minutes=8,
            set_up="cover",
            cautions=(LIVE_SPARK,),
            table=by_cause(
                CAUSES, ("burnt or wrong", "good"), (0.06, 0.94), points=(0.93, 0.07), coil=(0.30, 0.70)
            ),
        ),
        Test(
            key="block",
            name="Distributor block off: look for a burnt track, dry it",
            minutes=8,
            set_up="cover",
            table=by_cause(CAUSES, ("track or damp", "clean"), (0.06, 0.94), cap=(0.92, 0.08)),
        ),
        Test(
            key="earth",
            name="Earth lead off at the unit, leads off all plugs: meter across switch and lead",
            minutes=10,
            cautions=(LIVE_SPARK,),
            table=by_cause(
                CAUSES, ("leaks to earth with the switch on", "open"), (0.03, 0.97), earth=(0.92, 0.08)
            ),
            says={
                "leaks to earth with the switch on": "While it is off the unit is live: nobody turns the engine."
            },
        ),
        Test(
            key="again",
            name="Gap set to the manual, run on that unit alone again",
            minutes=12,
            cautions=(
                HOT,
                TURNING,
            ),
            needs=("gap",),
            set_up="cover",
            table=by_cause(
                CAUSES, ("cured", "no change"), (0.04, 0.96), points=(0.92, 0.08), timing=(0.12, 0.88)
            ),
        ),
        Test(
            key="known",
            name="Coil and condenser changed for known good ones, run hot on that unit alone",
            minutes=30,
            cautions=(
                LIVE_SPARK,
                TURNING,
            ),
            set_up="cover",
            table=by_cause(CAUSES, ("cured", "no change"), (0.03, 0.97), coil=(0.93, 0.07)),
        ),
    ),
)
