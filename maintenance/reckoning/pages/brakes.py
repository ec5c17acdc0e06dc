"""Pages: brake efficiency and imbalance from a roller test, and efficiency from a stop."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from maintenance.reckoning.brakes import (
    CAUTIONS,
    efficiency,
    efficiency_from_stop,
    judge_efficiency,
    judge_imbalance,
)
from maintenance.reckoning.pages.base import (
    Given,
    Input,
    Keep,
    Reckoning,
    Result,
    Row,
    Said,
    Trouble,
    judged,
    line,
)
from maintenance.units import convert, rounded

AXLES = (("front", "Front axle"), ("second", "Second axle"), ("third", "Third axle"))
LEAST = Input(
    name="least",
    label="Least that applies",
    unit="%",
    needed=False,
    low=0,
    high=100,
    help="From the law for its age and class. 58% for a car from 1 September 2010 (UK inspection).",
)
SOURCE = (
    "UK roadworthiness inspection. Old vehicles have lower figures by age and class: the local table rules"
)


def _brakes(given: Given) -> Result:
    efforts: list[Fraction] = []
    said: list[Said] = []
    keeps: list[Keep] = []
    lines = []
    for name, label in AXLES:
        row: Row | None = given[name]
        if row is None:
            continue
        if len(row.values) != 2:
            raise Trouble(name, "Two figures: nearside, then offside.")
        if max(row.values) <= 0:
            raise Trouble(name, "Neither wheel brakes: look at the tester first.")
        efforts += [convert(one, row.unit, "kgf") for one in row.values]
        said.append(judged(f"{label}, imbalance", judge_imbalance(row.values)))
        gap = Fraction(max(row.values) - min(row.values)) / Fraction(max(row.values)) * 100
        lines.append(line(f"{label}, imbalance", gap, "%", 1))
        keeps.append(Keep(name=f"{name}-gap", label=f"{label}, imbalance", unit="%", values=(gap,)))
        keeps.append(
            Keep(name=name, label=f"{label}, efforts", unit=row.unit, values=tuple(map(Fraction, row.values)))
        )
    if given["weight"] is not None:
        weight = given["weight"]  # kg on the scales press with as many kgf
        lines.insert(0, line("Efficiency", efficiency(efforts, weight), "%", 1))
        share = sum(efforts, Fraction(0)) / weight * 100
        keeps.insert(0, Keep(name="efficiency", label="Efficiency", unit="%", values=(share,)))
        if given["least"] is not None:
            verdict = judge_efficiency(
                efforts, weight, least=rounded(given["least"], 6), source="The least that was typed"
            )
            said.insert(0, judged("Efficiency", verdict))
    return Result(lines=tuple(lines), said=tuple(said), keeps=tuple(keeps))


def _stop(given: Given) -> Result:
    shown = efficiency_from_stop(rounded(given["speed"], 9), rounded(given["distance"], 9))
    if shown > 100:
        raise Trouble("distance", f"That would be {shown}%: more than tyres hold. Measure again.")
    said: tuple[Said, ...] = ()
    if given["least"] is not None:
        left = shown - Decimal(rounded(given["least"], 6))
        said = (
            Said(
                kind="within" if left >= 0 else "past",
                head="At or above the least" if left >= 0 else "Below the least",
                detail=f"By {abs(left)}%. One stop proves little: three runs, both ways.",
            ),
        )
    return Result(
        lines=(line("Efficiency", shown, "%", 1),),
        said=said,
        keeps=(Keep(name="efficiency", label="Efficiency", unit="%", values=(Fraction(shown),)),),
        flags=("Dry level road, engine out of gear, no wheel locked: otherwise the figure means little.",),
    )


PAGES = (
    Reckoning(
        slug="brakes",
        name="Brakes on the rollers",
        short="Imbalance of each axle, and efficiency against the weight.",
        inputs=(
            Input(name="front", label="Front axle: nearside, offside", kind="row", unit="kN", low=0, help="Two figures from the roller tester, such as 2.0 1.3, or 200 130 kgf.", system="BRK"),
            Input(name="second", label="Second axle: nearside, offside", kind="row", unit="kN", needed=False, low=0),
            Input(name="third", label="Third axle: nearside, offside", kind="row", unit="kN", needed=False, low=0),
            Input(name="weight", label="Weight as tested", unit="kg", needed=False, low=0, above=True, help="Weighbridge, with driver. Left empty, only the imbalance is worked out."),
            LEAST,
        ),
        work=_brakes,
        formula=("imbalance = (high - low) / high", "efficiency = sum of efforts / weight"),
        source=SOURCE,
        cautions=("WARNING. Rollers and wheels turn: nobody near them, sleeves and rags away.",),
        drawing="axle",
    ),
    Reckoning(
        slug="stopping",
        name="Brakes by a stop",
        short="Efficiency from speed and stopping distance.",
        inputs=(
            Input(name="speed", label="Speed at the mark", unit="km/h", low=0, above=True, symbol="v", help="Speedometer checked, or timed between two marks; mph may be typed."),
            Input(name="distance", label="Distance to the stop", unit="m", low=0, above=True, symbol="d", help="Tape, from the mark at which the pedal went down."),
            LEAST,
        ),
        work=_stop,
        formula=("efficiency = v² / (2 g d)",),
        source="Mechanics; g = 9.80665 m/s². The least: the local table rules",
        cautions=CAUTIONS,
        drawing="stop",
    ),
)  # fmt: skip
