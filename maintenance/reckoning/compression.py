"""Cylinder compression: every published rule side by side, because they disagree.

A set that one manual passes another fails. All are shown, each with its source; the vehicle's own manual
decides, and the museum may choose its house rule.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from maintenance.limits import Limit, Reading, Verdict, judge
from maintenance.units import exact, rounded

CAUTIONS = (
    "WARNING. All plugs out or injectors cut off, ignition earthed, out of gear, chocks in, nobody in the arc "
    "of fan and handle.",
)

LOWEST_OF_HIGHEST = Limit(
    kind="spread",
    source="TM 5-4210-230-14&P-1 (fire truck)",
    measure="lowest of highest",
    low=Decimal(75),
    unit="psi",
)
BELOW_AVERAGE = Limit(
    kind="spread", source="TM 1-1500-204-23-1", measure="below average", high=Decimal(20), unit="psi"
)
SPREAD = Limit(kind="spread", source="TM 5-3895-359-14&P, at 600 rev/min", high=Decimal(25), unit="psi")

# TM 5-3895-359-14&P: altitude in feet, least compression in psi, for the diesel engine of that manual.
MINIMUM_BY_ALTITUDE = ((500, 515), (2500, 480), (5000, 440), (7500, 410), (10000, 380))


def minimum_at(altitude_ft: int) -> Limit:
    """The published minimum for this altitude.

    Between two rows the row of the lower altitude holds, which is the stricter; above the table its last.
    """
    row = MINIMUM_BY_ALTITUDE[0]
    for candidate in MINIMUM_BY_ALTITUDE:
        if candidate[0] <= altitude_ft:
            row = candidate
    return Limit(
        kind="min",
        source=f"TM 5-3895-359-14&P, at 600 rev/min and {row[0]} ft",
        low=Decimal(row[1]),
        unit="psi",
    )


def judge_by_every_rule(
    readings: Sequence[Reading], *, unit: str = "psi", altitude_ft: int | None = None
) -> tuple[Verdict, ...]:
    """One verdict for each published rule, in the order: lowest of highest, below average, spread, minimum.

    Args:
        readings: one for each cylinder, in order; None where one was not taken.
        unit: in which they were read.
        altitude_ft: of the place; the minimum is judged only when it is given, because it is that of one
            diesel engine.

    Returns:
        The verdicts; each carries its source and the cylinders that it flags, counted from 0.
    """
    rules = [LOWEST_OF_HIGHEST, BELOW_AVERAGE, SPREAD]
    if altitude_ft is not None:
        rules.append(minimum_at(altitude_ft))
    names = [f"cylinder {place}" for place in range(1, len(readings) + 1)]
    return tuple(judge(rule, readings, unit=unit, names=names) for rule in rules)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wet:
    """What a spoon of oil told about one cylinder.

    Attributes:
        rise: percent, one decimal.
        suspect: "rings" or "valve or gasket".
        sentence: in plain words.
    """

    rise: Decimal
    suspect: str
    sentence: str


def wet_test(dry: Reading, wet: Reading, *, telling: int = 15) -> Wet:
    """Compares the reading after a spoon of oil with the dry one of the same, low, cylinder.

    Args:
        dry: before, above nought.
        wet: after, same unit.
        telling: percent of rise above which the rings are suspected (house figure, common practice).

    Raises:
        ValueError: a reading is missing or the dry one is not above nought.
    """
    if dry is None or wet is None or exact(dry) <= 0:
        raise ValueError("A wet test needs both readings, the dry one above nought.")
    rise = (exact(wet) - exact(dry)) / exact(dry) * 100
    shown = rounded(rise, 1)
    if rise > Fraction(telling):
        return Wet(rise=shown, suspect="rings", sentence=f"Rises {shown}% with oil: rings or bore.")
    return Wet(
        rise=shown,
        suspect="valve or gasket",
        sentence=f"Rises {shown}% with oil: a valve or the head gasket.",
    )
