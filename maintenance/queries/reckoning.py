"""What a reckoning needs of a vehicle: its measures that can hold a result, and its readings to start from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from fleet.models import Vehicle
from maintenance.enums import Judgement
from maintenance.models import JobCard, Measure, Reading
from maintenance.reckoning.pages.base import Input, Keep, Reckoning
from maintenance.units import UNITS

LONGEST_KEY = 18


def card_of(text: str, vehicle: Vehicle | None) -> JobCard | None:
    """The job of this number, if it is one of this vehicle."""
    if vehicle is None or not text.isdecimal() or len(text) > LONGEST_KEY:
        return None
    return JobCard.objects.filter(pk=int(text), vehicle=vehicle).first()


def figures_of(vehicle: Vehicle) -> list[Measure]:
    """What is measured in figures on it."""
    return list(vehicle.measures.exclude(judgement=Judgement.LOOK))


def choices_of(keeps: Sequence[Keep], measures: Sequence[Measure]) -> list[tuple[str, list[tuple[str, str]]]]:
    """Each result with the measures that can hold it, as the groups of a select."""
    found = []
    for keep in keeps:
        rows = [
            (f"{keep.name}:{one.pk}", f"{one.name}, {one.unit}")
            for one in measures
            if keep.fits(one.unit, len(one.positions))
        ]
        if rows:
            found.append((keep.label, rows))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """A reading that one of the inputs can start from."""

    reading: Reading
    into: Input
    text: str


def starts_of(page: Reckoning, measures: Sequence[Measure]) -> list[Start]:
    """The newest reading of each measure, of the right system and quantity, from which an input may start."""
    asked = [one for one in page.inputs if one.system]
    if not asked or not measures:
        return []
    newest: dict[int, Reading] = {}
    live = Reading.objects.filter(measure__in=measures, replaced_by=None).select_related("measure")
    for row in live.order_by("at", "pk"):
        newest[row.measure_id] = row
    found = []
    for measure in measures:
        last = newest.get(measure.pk)
        into = next((one for one in asked if _starts(one, measure)), None)
        if last is not None and into is not None and all(last.values):
            told = " ".join(f"{Decimal(value).normalize():f}" for value in last.values)
            behind = "" if measure.unit == into.unit else f" {measure.unit}"
            found.append(Start(reading=last, into=into, text=f"{told}{behind}"))
    return found


def _starts(asked: Input, measure: Measure) -> bool:
    if not measure.system.startswith(asked.system):
        return False
    if measure.unit not in UNITS or UNITS[measure.unit].quantity != UNITS[asked.unit].quantity:
        return False
    return (len(measure.positions) > 1) == (asked.kind == "row")
