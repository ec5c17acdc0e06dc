"""A reckoned figure kept as a reading: judged like any other, with what it was reckoned from."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from fleet.models import Person
from maintenance.models import JobCard, Measure, Reading
from maintenance.services.readings import reading_add
from maintenance.units import rounded

PLACES = 4
NOTE = 200


def reckoning_keep(
    *,
    by: Person,
    measure: Measure,
    values: Sequence[Fraction],
    reckoning: str,
    inputs: str,
    origin: str = "",
    card: JobCard | None = None,
    moment_of: str = "check",
) -> Reading:
    """Write the result down as a reading; its note says from which reckoning and which inputs."""
    said = f"Reckoned by {reckoning}: {inputs}."
    if origin.strip():
        said = f"{said} From {origin.strip().rstrip('.')}."
    return reading_add(
        by=by,
        measure=measure,
        values=[rounded(value, PLACES) for value in values],
        card=card,
        moment_of=moment_of,
        note=said if len(said) <= NOTE else f"{said[: NOTE - 1]}…",
    )
