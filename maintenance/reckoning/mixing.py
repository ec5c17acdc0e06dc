"""Mixing: oil in fuel, and bringing a coolant to strength. Exact, because it is all parts of a whole."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from maintenance.units import Number, exact

CAUTIONS = ("CAUTION. Antifreeze, oil and fuel harm skin, paint and drains. Spill kit by, cans labelled.",)


def oil_for(fuel: Number | str, parts: Number | str) -> Fraction:
    """Oil for this much fuel at one part of oil in ``parts`` of fuel (1 to 25 is ``parts`` 25).

    Raises:
        ValueError: fuel below nought or parts not above nought.
    """
    if exact(fuel) < 0 or exact(parts) <= 0:
        raise ValueError("Fuel cannot be negative and the parts must be above nought.")
    return exact(fuel) / exact(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Exchange:
    """What to drain and what to fill in its place, in the unit of the volume."""

    drain: Fraction
    fill: Fraction


def strengthen(
    volume: Number | str, now: Number | str, wanted: Number | str, fill: Number | str = 100
) -> Exchange:
    """How much of a full system to exchange: volume x (wanted - now) / (fill - now).

    Args:
        volume: of the whole system.
        now: percent of strength, measured.
        wanted: percent of strength aimed at.
        fill: percent of what is filled in: 100 neat, 0 water (to weaken).

    Returns:
        Drain and fill, equal, because the system was full.

    Raises:
        ValueError: a percent outside 0 to 100, a volume not above nought, or an aim that this filling
            cannot reach.
    """
    size, here, aim, new = exact(volume), exact(now), exact(wanted), exact(fill)
    if size <= 0 or any(not 0 <= share <= 100 for share in (here, aim, new)):
        raise ValueError("The volume must be above nought and every strength between 0 and 100%.")
    if aim == here:
        return Exchange(drain=Fraction(0), fill=Fraction(0))
    if new == here or not 0 < (aim - here) / (new - here) <= 1:
        raise ValueError("That filling cannot bring it there.")
    part = size * (aim - here) / (new - here)
    return Exchange(drain=part, fill=part)


def blend(parts: list[tuple[Number | str, Number | str]]) -> tuple[Fraction, Fraction]:
    """Volume and strength of several parts put together, each (volume, percent).

    Raises:
        ValueError: nothing at all, or a part out of range.
    """
    pairs = [(exact(volume), exact(share)) for volume, share in parts]
    if any(volume < 0 or not 0 <= share <= 100 for volume, share in pairs):
        raise ValueError("Volumes cannot be negative and every strength lies between 0 and 100%.")
    total = sum((volume for volume, _ in pairs), Fraction(0))
    if total == 0:
        raise ValueError("Nothing was mixed.")
    return total, sum((volume * share for volume, share in pairs), Fraction(0)) / total
