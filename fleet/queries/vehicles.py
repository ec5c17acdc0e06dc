"""Reading vehicles: the list, meters, and what we know with what it was before."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from fleet.enums import VehicleStatus
from fleet.models import Fact, Meter, MeterReading, Vehicle, VehicleKind


def number_order(number: str) -> tuple[tuple[str, int], ...]:
    """B 2 before B 10, whatever the spaces."""
    return tuple(
        (letters.strip().lower(), int(digits or 0)) for letters, digits in re.findall(r"(\D*)(\d*)", number)
    )


def vehicle_list(*, status: str = "", kind: str = "") -> list[Vehicle]:
    rows = Vehicle.objects.select_related("keeper")
    if status in VehicleStatus.values:
        rows = rows.filter(status=status)
    if kind in VehicleKind.values:
        rows = rows.filter(kind=kind)
    return sorted(rows, key=lambda vehicle: number_order(vehicle.number))


def meters_with_last(vehicle: Vehicle) -> QuerySet[Meter]:
    """Each meter with its newest reading, in one query."""
    newest = MeterReading.objects.filter(meter=OuterRef("pk")).order_by("-read_at", "-pk")
    return vehicle.meters.annotate(
        last_shown=Subquery(newest.values("shown")[:1]),
        last_total=Subquery(newest.values("total")[:1]),
        last_at=Subquery(newest.values("read_at")[:1]),
    ).order_by("kind")


def readings_of(vehicle: Vehicle, most: int = 30) -> QuerySet[MeterReading]:
    rows = MeterReading.objects.filter(meter__vehicle=vehicle).select_related("meter", "by")
    return rows.order_by("-read_at", "-pk")[:most]


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A fact as it stands now, with what it was before (newest first), and uses nobody has settled yet."""

    fact: Fact
    before: tuple[Fact, ...]
    open_uses: int

    @property
    def ids(self) -> list[int]:
        return [self.fact.pk, *(old.pk for old in self.before)]


def known_facts(vehicle: Vehicle) -> list[Known]:
    """Every fact of a vehicle with its history, in one query."""
    rows = list(
        vehicle.facts.select_related("recorded_by", "subsystem")
        .annotate(open_uses=Count("uses", filter=Q(uses__settled_on=None)))
        .order_by("about", "recorded_on", "pk")
    )
    by_id = {row.pk: row for row in rows}
    corrected = {row.corrects_id for row in rows if row.corrects_id}
    return [_known(row, by_id) for row in rows if row.pk not in corrected]


def _known(fact: Fact, by_id: Mapping[int, Fact]) -> Known:
    before, step = [], fact
    while (old := by_id.get(step.corrects_id or 0)) is not None:
        before.append(old)
        step = old
    # A use of what stands now is in order; a use of what was ruled through asks to be looked at.
    uses = sum(row.open_uses for row in before)  # type: ignore[attr-defined]
    return Known(fact=fact, before=tuple(before), open_uses=uses)
