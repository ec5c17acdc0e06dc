"""Dynamo or alternator does not charge."""

from maintenance.fault_sheet import Cause, Sheet, Test, by_cause
from maintenance.sheets.cautions import BATTERY, TURNING

CAUSES = (
    Cause(key="belt", name="Belt slips", chance=0.18, act="Tighten or renew; line up the pulleys."),
    Cause(
        key="joint",
        name="Bad joint or earth in the charging wire",
        chance=0.22,
        act="Clean and remake; look for another like it.",
    ),
    Cause(key="brush", name="Brushes worn or commutator dirty", chance=0.20, act="Clean, bed new brushes."),
    Cause(
        key="field",
        name="Field open or magnetism lost",
        chance=0.08,
        act="Polarise it by the manual, minding which pole is earthed; else rewind.",
    ),
    Cause(
        key="regulator",
        name="Regulator or cut-out",
        chance=0.22,
        act="Clean its points, set it by the manual or renew.",
    ),
    Cause(key="battery", name="Battery takes no charge", chance=0.10, act="Test by cell; renew."),
)

SHEET = Sheet(
    key="charging",
    name="Does not charge",
    cautions=(BATTERY, TURNING, "CAUTION. Never run an alternator with the battery off."),
    causes=CAUSES,
    tests=(
        Test(
            key="belt",
            name="Belt by thumb, engine stopped",
            minutes=3,
            cautions=(TURNING,),
            table=by_cause(CAUSES, ("slack or glazed", "good"), (0.06, 0.94), belt=(0.93, 0.07)),
        ),
        Test(
            key="drop",
            name="Volts lost from the machine to the battery, both wires, on load",
            minutes=10,
            cautions=(BATTERY, TURNING),
            table=by_cause(CAUSES, ("more than 0.5 V", "little"), (0.05, 0.95), joint=(0.92, 0.08)),
        ),
        Test(
            key="cells",
            name="Density of every cell, with temperature",
            minutes=12,
            cautions=(BATTERY,),
            table=by_cause(
                CAUSES,
                ("one cell far off", "all low alike", "good"),
                (0.04, 0.80, 0.16),
                battery=(0.85, 0.10, 0.05),
            ),
            says={"all low alike": "It was not charged, or was left on load."},
        ),
        Test(
            key="bypass",
            name="Regulator out of the way, as the manual shows, volts at the machine at low speed",
            minutes=12,
            cautions=(
                TURNING,
                "CAUTION. Low speed and seconds only: without its regulator the machine burns out.",
            ),
            table=by_cause(
                CAUSES,
                ("volts come", "none"),
                (0.50, 0.50),
                regulator=(0.93, 0.07),
                joint=(0.85, 0.15),
                battery=(0.90, 0.10),
                belt=(0.35, 0.65),
                brush=(0.10, 0.90),
                field=(0.05, 0.95),
            ),
            says={"volts come": "The machine is good: regulator or wires.", "none": "Look into the machine."},
        ),
        Test(
            key="brush",
            name="Band off: look at brushes and commutator",
            minutes=10,
            table=by_cause(CAUSES, ("short, stuck or dirty", "good"), (0.08, 0.92), brush=(0.93, 0.07)),
        ),
        Test(
            key="field",
            name="Ohms of the field, leads off",
            minutes=8,
            table=by_cause(CAUSES, ("open or far off", "by the manual"), (0.03, 0.97), field=(0.80, 0.20)),
        ),
        Test(
            key="known",
            name="Regulator set by the manual or changed for a known good one, volts again",
            minutes=25,
            cautions=(
                BATTERY,
                TURNING,
            ),
            table=by_cause(CAUSES, ("in range", "no change"), (0.04, 0.96), regulator=(0.93, 0.07)),
        ),
        Test(
            key="other",
            name="Known good battery in its place, charge current at the same speed",
            minutes=15,
            cautions=(
                BATTERY,
                TURNING,
            ),
            table=by_cause(CAUSES, ("charges", "no change"), (0.04, 0.96), battery=(0.95, 0.05)),
        ),
    ),
)
