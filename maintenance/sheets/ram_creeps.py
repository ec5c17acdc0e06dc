"""A hydraulic ram creeps down under load."""

from maintenance.fault_sheet import Cause, Sheet, Test, by_cause
from maintenance.sheets.cautions import JET, UNDER_LOAD

CAUSES = (
    Cause(key="piston", name="Piston seal in the ram", chance=0.34, act="Ram off; reseal; look at the bore."),
    Cause(key="valve", name="Control valve spool leaks", chance=0.26, act="Valve off; clean or renew."),
    Cause(
        key="check",
        name="Load-holding or relief valve leaks",
        chance=0.20,
        act="Out, clean its seat, set and seal by the manual.",
    ),
    Cause(
        key="hose",
        name="Hose, pipe or gland leaks outside",
        chance=0.12,
        act="Renew; look at its neighbours of the same age.",
    ),
    Cause(
        key="air",
        name="Air or cold oil: settles, then holds",
        chance=0.08,
        act="Bleed, warm through, time it again.",
    ),
)

SHEET = Sheet(
    key="ram-creeps",
    name="Ram creeps down",
    cautions=(
        UNDER_LOAD,
        JET,
        "WARNING. Gear that creeps under a person must not be used, whatever the figure.",
    ),
    causes=CAUSES,
    tests=(
        Test(
            key="look",
            name="Propped: look along hoses, pipes and the rod with card, never with a hand",
            minutes=8,
            cautions=(JET,),
            table=by_cause(CAUSES, ("oil outside", "dry"), (0.08, 0.92), hose=(0.94, 0.06)),
            stops=("oil outside",),
        ),
        Test(
            key="curve",
            name="Creep every two minutes for ten, oil warm",
            minutes=15,
            cautions=(UNDER_LOAD,),
            table=by_cause(CAUSES, ("stops after a while", "steady"), (0.05, 0.95), air=(0.90, 0.10)),
        ),
        Test(
            key="blank",
            name="Load propped, pressure to nought: blank the ram's lines, then let the load on slowly",
            minutes=25,
            cautions=(UNDER_LOAD, JET),
            table=by_cause(
                CAUSES,
                ("creeps still", "holds"),
                (0.06, 0.94),
                piston=(0.93, 0.07),
                hose=(0.40, 0.60),
                air=(0.30, 0.70),
            ),
            says={"creeps still": "Inside the ram.", "holds": "Valves or lines."},
        ),
        Test(
            key="back",
            name="Return line of the spool into a can, lever in neutral",
            minutes=15,
            cautions=(JET, UNDER_LOAD),
            table=by_cause(
                CAUSES, ("drips steadily", "dry"), (0.06, 0.94), valve=(0.90, 0.10), piston=(0.15, 0.85)
            ),
        ),
        Test(
            key="holding",
            name="Listen at the holding and relief valve with a rod, load on",
            minutes=8,
            cautions=(UNDER_LOAD,),
            table=by_cause(CAUSES, ("hisses", "quiet"), (0.08, 0.92), check=(0.80, 0.20), valve=(0.15, 0.85)),
        ),
        Test(
            key="dry",
            name="Wiped dry, ten minutes under load, then card along every joint again",
            minutes=15,
            cautions=(
                JET,
                UNDER_LOAD,
            ),
            table=by_cause(CAUSES, ("wet again", "dry"), (0.03, 0.97), hose=(0.95, 0.05)),
        ),
        Test(
            key="bleed",
            name="Bled and warmed through, creep timed again",
            minutes=25,
            cautions=(UNDER_LOAD,),
            table=by_cause(CAUSES, ("holds now", "creeps still"), (0.03, 0.97), air=(0.95, 0.05)),
        ),
    ),
)
