"""Air or vacuum for the brakes is lost."""

from maintenance.fault_sheet import Cause, Sheet, Test, by_cause
from maintenance.sheets.cautions import AIR, GAS, LIFTED, TURNING

CAUSES = (
    Cause(
        key="supply",
        name="Compressor, pump or its one-way valve",
        chance=0.20,
        act="Valve off and clean; then the pump.",
    ),
    Cause(
        key="joint",
        name="Pipe joint or hose leaks",
        chance=0.30,
        act="Remake or renew; look at its neighbours of the same age.",
    ),
    Cause(key="valve", name="Foot valve leaks", chance=0.18, act="Rebuild the valve on the bench."),
    Cause(
        key="chamber",
        name="Chamber or servo diaphragm perished",
        chance=0.20,
        act="Must not run. Diaphragms in pairs by axle.",
    ),
    Cause(key="tank", name="Tank or its drain", chance=0.07, act="Drain tap first; a rusted tank is scrap."),
    Cause(key="gauge", name="Gauge or its line", chance=0.05, act="Compare with a test gauge."),
)

SHEET = Sheet(
    key="brake-air-loss",
    name="Brake air or vacuum falls away",
    cautions=(AIR, "WARNING. The vehicle must not run until the loss is found, cured and timed again."),
    causes=CAUSES,
    tests=(
        Test(
            key="gauge",
            name="Test gauge on the tank beside the vehicle's own",
            minutes=8,
            cautions=(AIR,),
            table=by_cause(CAUSES, ("own gauge wrong", "agree"), (0.03, 0.97), gauge=(0.93, 0.07)),
        ),
        Test(
            key="build",
            name="Time the build-up at the set engine speed, brake off",
            minutes=6,
            cautions=(GAS, TURNING),
            table=by_cause(
                CAUSES,
                ("slow", "in time"),
                (0.20, 0.80),
                supply=(0.88, 0.12),
                joint=(0.40, 0.60),
                tank=(0.50, 0.50),
                gauge=(0.10, 0.90),
            ),
        ),
        Test(
            key="off",
            name="Engine off, brake off: fall in three minutes",
            minutes=5,
            table=by_cause(
                CAUSES,
                ("falls", "holds"),
                (0.50, 0.50),
                supply=(0.55, 0.45),
                joint=(0.85, 0.15),
                valve=(0.55, 0.45),
                chamber=(0.12, 0.88),
                tank=(0.93, 0.07),
                gauge=(0.10, 0.90),
            ),
        ),
        Test(
            key="on",
            name="The same with the brake held on",
            minutes=5,
            table=by_cause(
                CAUSES,
                ("falls faster", "as before"),
                (0.06, 0.94),
                chamber=(0.92, 0.08),
                valve=(0.50, 0.50),
                joint=(0.25, 0.75),
            ),
            says={"falls faster": "Beyond the foot valve: chambers, hoses, the valve itself."},
            stops=("falls faster",),
        ),
        Test(
            key="soap",
            name="Soapy water (air), or a smoke pencil (vacuum), along every joint and at the valve's vent",
            minutes=25,
            cautions=(AIR, LIFTED),
            table=by_cause(
                CAUSES,
                ("at a joint", "at the valve's vent", "at a chamber", "at the tank", "nowhere"),
                (0.03, 0.03, 0.03, 0.03, 0.88),
                joint=(0.86, 0.03, 0.03, 0.03, 0.05),
                valve=(0.03, 0.84, 0.04, 0.02, 0.07),
                chamber=(0.04, 0.06, 0.80, 0.02, 0.08),
                tank=(0.04, 0.02, 0.02, 0.86, 0.06),
            ),
        ),
        Test(
            key="blank",
            name="Blank the supply at the tank and time the fall again",
            minutes=10,
            cautions=(AIR,),
            table=by_cause(
                CAUSES, ("holds now", "falls still"), (0.08, 0.92), supply=(0.85, 0.15), gauge=(0.50, 0.50)
            ),
            says={"holds now": "It goes back through the one-way valve."},
        ),
        Test(
            key="drain",
            name="Drain tap under soapy water, tank tapped and looked over",
            minutes=12,
            cautions=(AIR,),
            table=by_cause(CAUSES, ("bubbles or thin metal", "sound"), (0.02, 0.98), tank=(0.95, 0.05)),
        ),
    ),
)
