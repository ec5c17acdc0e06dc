"""Engine runs too hot."""

from maintenance.fault_sheet import Cause, Sheet, Test, by_cause
from maintenance.sheets.cautions import GAS, HOT, TURNING

CAUSES = (
    Cause(
        key="low",
        name="Coolant low from a leak",
        chance=0.18,
        act="Find the leak cold under pressure; refill to strength.",
    ),
    Cause(
        key="core",
        name="Radiator silted or blocked",
        chance=0.24,
        act="Back-flush; if cold patches stay, rod or recore.",
    ),
    Cause(key="stat", name="Thermostat stuck shut", chance=0.12, act="Renew it; do not leave it out."),
    Cause(
        key="fan",
        name="Belt slips or fan drives badly",
        chance=0.12,
        act="Renew or tighten the belt; check the fan's pitch and shroud.",
    ),
    Cause(key="pump", name="Water pump impeller loose or worn", chance=0.08, act="Pump off; rebuild."),
    Cause(key="late", name="Ignition late", chance=0.12, act="Set the timing on a verified mark."),
    Cause(
        key="gasket",
        name="Head gasket blows into the water",
        chance=0.08,
        act="Stop running it. Head off, check for cracks and flatness.",
    ),
    Cause(
        key="gauge",
        name="Gauge reads wrong",
        chance=0.06,
        act="Compare with a test gauge; put the true figures on the record.",
    ),
)

SHEET = Sheet(
    key="overheating",
    name="Runs too hot",
    cautions=(HOT, "CAUTION. Let it cool before water goes in: a hot block cracks."),
    causes=CAUSES,
    tests=(
        Test(
            key="level",
            name="Cold: look at level, hoses and the ground",
            minutes=5,
            table=by_cause(
                CAUSES, ("low or wet", "full and dry"), (0.12, 0.88), low=(0.92, 0.08), gasket=(0.65, 0.35)
            ),
            says={"low or wet": "Fill, mark the level, and watch it on the next run."},
        ),
        Test(
            key="probe",
            name="Warm: probe at the outlet against the gauge",
            minutes=10,
            cautions=(TURNING, HOT),
            table=by_cause(CAUSES, ("gauge reads high", "they agree"), (0.04, 0.96), gauge=(0.92, 0.08)),
            says={"gauge reads high": "It may not be hot at all."},
        ),
        Test(
            key="belt",
            name="Belt by thumb, fan by hand, engine stopped",
            minutes=5,
            cautions=(TURNING,),
            table=by_cause(CAUSES, ("slack or glazed", "good"), (0.08, 0.92), fan=(0.88, 0.12)),
            says={"slack or glazed": "Put it right, then repeat the run."},
        ),
        Test(
            key="core",
            name="Hot: infrared over the radiator, top to bottom",
            minutes=8,
            cautions=(HOT, TURNING),
            table=by_cause(
                CAUSES,
                ("cold patches", "cold all over", "even"),
                (0.06, 0.06, 0.88),
                core=(0.78, 0.07, 0.15),
                stat=(0.05, 0.80, 0.15),
                pump=(0.10, 0.50, 0.40),
                low=(0.10, 0.25, 0.65),
            ),
            says={"cold patches": "Blocked there.", "cold all over": "No flow: thermostat or pump."},
        ),
        Test(
            key="stat",
            name="Thermostat out, in a pan with a thermometer",
            minutes=40,
            cautions=(HOT,),
            table=by_cause(CAUSES, ("stays shut", "opens"), (0.04, 0.96), stat=(0.93, 0.07)),
        ),
        Test(
            key="timing",
            name="Lamp on the verified mark",
            minutes=15,
            cautions=(TURNING,),
            table=by_cause(CAUSES, ("late", "on its mark"), (0.10, 0.90), late=(0.92, 0.08)),
            says={"late": "Set it, then repeat the run."},
        ),
        Test(
            key="bubbles",
            name="Filler open from cold, engine running: watch for bubbles",
            minutes=8,
            cautions=(GAS, TURNING),
            table=by_cause(
                CAUSES,
                ("steady bubbles", "none"),
                (0.05, 0.95),
                gasket=(0.85, 0.15),
                low=(0.15, 0.85),
                pump=(0.10, 0.90),
            ),
            says={"steady bubbles": "Gas in the water: do not run it further."},
            stops=("steady bubbles",),
        ),
        Test(
            key="hold",
            name="Cold: 0.2 bar on the filler neck for five minutes",
            minutes=15,
            cautions=(HOT,),
            table=by_cause(CAUSES, ("falls", "holds"), (0.04, 0.96), low=(0.94, 0.06), gasket=(0.40, 0.60)),
        ),
        Test(
            key="gas",
            name="Combustion gas tester on the open filler, engine warm",
            minutes=12,
            cautions=(
                HOT,
                GAS,
            ),
            table=by_cause(CAUSES, ("colour turns", "stays"), (0.02, 0.98), gasket=(0.94, 0.06)),
        ),
        Test(
            key="flow",
            name="Thermostat out: watch the flow in the filler at a fast idle",
            minutes=15,
            cautions=(
                HOT,
                TURNING,
            ),
            needs=("stat",),
            table=by_cause(
                CAUSES, ("little flow", "strong flow"), (0.05, 0.95), pump=(0.92, 0.08), core=(0.30, 0.70)
            ),
        ),
        Test(
            key="impeller",
            name="Pump off: impeller, shaft and clearance against the manual",
            minutes=60,
            cautions=(HOT,),
            table=by_cause(CAUSES, ("loose, worn or corroded", "sound"), (0.03, 0.97), pump=(0.95, 0.05)),
            needs=("flow",),
        ),
    ),
)
