"""Lead-acid batteries: charge from volts at rest, density brought to one temperature.

Sources: TM 5-3805-262-20 (12 V at rest); service manual page (density, +-.004 for 10 degrees Fahrenheit from
80); TM 9-6140-200-14 and TM 5-3805-281-24-2 (spread between cells, which they put differently). Halving for 6 V and doubling for 24 V is common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from maintenance.limits import Limit, Reading, Verdict, judge
from maintenance.units import Number, convert, exact, rounded

CAUTIONS = (
    "WARNING. Acid and explosive gas. Goggles, no flame. Earth lead off first, on last; look which pole is "
    "earthed, some vehicles have the positive.",
)

# TM 5-3805-262-20: volts at rest of a 12 V battery and percent of charge.
REST = (("11.7", 0), ("12.0", 25), ("12.2", 50), ("12.4", 75), ("12.6", 100))


def charge(volts: Number | str, nominal: int = 12) -> Decimal:
    """Percent of charge from the volts at rest, whole percent, on straight lines between the table's rows.

    Args:
        volts: after hours without load or charge.
        nominal: 6, 12 or 24.

    Raises:
        ValueError: another nominal voltage.
    """
    if nominal not in {6, 12, 24}:
        raise ValueError("Batteries of 6, 12 or 24 V are known.")
    rest = exact(volts) * 12 / nominal
    rows = [(exact(volt), Fraction(percent)) for volt, percent in REST]
    if rest <= rows[0][0]:
        return Decimal(0)
    for (low, less), (high, more) in pairwise(rows):
        if rest <= high:
            return rounded(less + (more - less) * (rest - low) / (high - low), 0)
    return Decimal(100)


def density_at_80f(density: Number | str, temperature: Number | str, unit: str = "°F") -> Decimal:
    """Density as it would be at 80 degrees Fahrenheit: +.004 for each 10 degrees above, -.004 below.

    Args:
        density: as read, kg/L.
        temperature: of the acid.
        unit: "°F" or "°C" of the temperature.

    Returns:
        The density, three decimals.
    """
    warmer = convert(temperature, unit, "°F") - 80
    return rounded(exact(density) + warmer / 10 * Fraction("0.004"), 3)


CELL_SPREADS = tuple(
    Limit(kind="spread", source=source, high=Decimal(most), unit="kg/L")
    for source, most in (("TM 9-6140-200-14", "0.025"), ("TM 5-3805-281-24-2", "0.050"))
)


def judge_cells(densities: Sequence[Reading]) -> tuple[Verdict, ...]:
    """The spread between the cells by both published figures, .025 and .050 kg/L; equal passes.

    Args:
        densities: one for each cell, in kg/L, all at one temperature.

    Returns:
        One verdict for each figure, the stricter first; each flags the low cells, counted from 0.
    """
    names = [f"cell {place}" for place in range(1, len(densities) + 1)]
    return tuple(judge(limit, densities, names=names) for limit in CELL_SPREADS)
