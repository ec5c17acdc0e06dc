"""Differential compression: air in at top dead centre, how much leaks, and where it hisses.

Source: FAA AC 43.13-1B (80 psi regulated, loss above 25 % suspect, orifice by bore). Makers may allow lower
figures: the limit is an argument.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType

from maintenance.limits import Reading
from maintenance.units import exact, rounded

CAUTIONS = (
    "WARNING. Air pressure turns the crank with great force unless the piston stands exactly at top dead "
    "centre. Hold it, keep hands out of fan and handle, let air in slowly.",
)

# Common practice: where the air comes out.
HISSES: Mapping[str, str] = MappingProxyType(
    {
        "exhaust": "exhaust valve",
        "carburettor": "inlet valve",
        "oil filler or breather": "rings or piston",
        "bubbles in the radiator": "head gasket or a crack",
        "next plug hole": "head gasket between the two cylinders",
    }
)


def orifice(bore_in: Decimal | str | int) -> Decimal:
    """Diameter of the tester's orifice in inches: .040 under a bore of 5.00 in, .060 at and above it.

    Raises:
        ValueError: a bore that is not above nought.
    """
    if exact(bore_in) <= 0:
        raise ValueError("A bore must be above nought.")
    return Decimal("0.040") if exact(bore_in) < 5 else Decimal("0.060")


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak:
    """One cylinder.

    Attributes:
        loss: percent lost, one decimal.
        suspect: the loss is above the limit; equal to it passes.
        look_at: the part named by the hiss, or "".
        sentence: in plain words.
    """

    loss: Decimal
    suspect: bool
    look_at: str
    sentence: str


def leak(
    held: Reading | Fraction, supply: Reading | Fraction = 80, *, most: int | Decimal = 25, hisses: str = ""
) -> Leak:
    """Judges one cylinder: loss = (supply - held) / supply x 100.

    Args:
        held: pressure that the cylinder holds.
        supply: regulated pressure, in the same unit.
        most: percent that may be lost.
        hisses: where it is heard, a key of ``HISSES``, or "".

    Raises:
        ValueError: a pressure is missing, the supply is not above nought, the cylinder holds more than is
            supplied, or the place is unknown.
    """
    if held is None or supply is None or exact(supply) <= 0:
        raise ValueError("Both pressures are needed, the supply above nought.")
    if not 0 <= exact(held) <= exact(supply):
        raise ValueError("A cylinder holds between nought and what is supplied.")
    if hisses and hisses not in HISSES:
        raise ValueError(f"Unknown place {hisses!r}.")
    loss = (exact(supply) - exact(held)) / exact(supply) * 100
    shown, part = rounded(loss, 1), HISSES.get(hisses, "")
    suspect = loss > Fraction(most)
    said = f"Loses {shown}%."
    if suspect:
        said += " Suspect: run the engine for 3 minutes or more and take it again before anything is opened."
    if part:
        said += f" Heard at {hisses}: {part}."
    return Leak(loss=shown, suspect=suspect, look_at=part, sentence=said)
