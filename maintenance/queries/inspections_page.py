"""Inspections by what falls due first: by date, or by the meter at the vehicle's usual use."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Prefetch, QuerySet
from django.utils import timezone

from fleet.models import Meter, MeterReading
from maintenance.enums import OPEN_STATES
from maintenance.models import Inspection, InspectionResult, JobCard

RATE_DAYS = 365
SOON_DAYS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """What a meter shows in all, and how much it moves in a day; None where two readings are not on file."""

    total: Decimal
    a_day: Decimal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One inspection, and what comes first.

    Attributes:
        inspection: the row.
        by_date: last valid day.
        meter_left: what is left on the meter; below nought when it is over.
        by_meter: the day on which the meter gets there at the use of the last year; an estimate.
        first: the earlier of both; None when nothing is due by either.
        code: "void", "never", "over", "soon", "ok" or "open" (no end on file).
        card: the open job that carries it out.
    """

    inspection: Inspection
    by_date: dt.date | None
    meter_left: Decimal | None
    by_meter: dt.date | None
    first: dt.date | None
    code: str
    card: JobCard | None

    @property
    def word(self) -> str:
        return {
            "void": "Void", "never": "No result on file", "over": "Over", "soon": "Due soon", "ok": "Valid", "open": "No end on file",
        }[self.code]  # fmt: skip


def uses(today: dt.date) -> dict[tuple[int, str], Use]:
    """Every meter with its total and its use a day over the last year: two queries."""
    since = timezone.now() - dt.timedelta(days=RATE_DAYS)
    meters = Meter.objects.prefetch_related(
        Prefetch("readings", MeterReading.objects.order_by("read_at", "pk"))
    )
    found = {}
    for meter in meters:
        readings = list(meter.readings.all())
        if not readings:
            continue
        last = readings[-1]
        start = next((row for row in readings if row.read_at >= since), last)
        days = (last.read_at - start.read_at).days
        rate = (last.total - start.total) / days if days >= 1 and last.total > start.total else None
        found[meter.vehicle_id, meter.kind] = Use(total=last.total, a_day=rate)
    return found


def _due(row: Inspection, use: Use | None, today: dt.date) -> Due:
    left = row.due_at_meter - use.total if row.due_at_meter is not None and use is not None else None
    by_meter = None
    if left is not None and left <= 0:
        by_meter = today
    elif left is not None and use is not None and use.a_day:
        by_meter = today + dt.timedelta(days=min(int(left / use.a_day), 36500))
    first = min((day for day in (row.due_on, by_meter) if day is not None), default=None)
    card = next(iter(getattr(row, "open_cards", [])), None)
    return Due(
        inspection=row, by_date=row.due_on, meter_left=left, by_meter=by_meter, first=first, card=card,
        code=_code(row, first, left, today),
    )  # fmt: skip


def _code(row: Inspection, first: dt.date | None, left: Decimal | None, today: dt.date) -> str:
    if row.voided_at is not None:
        return "void"
    if row.never_done:
        return "never"
    if (row.due_on is not None and row.due_on < today) or (left is not None and left < 0):
        return "over"
    if first is None:
        return "ok" if row.due_at_meter is not None else "open"
    return "soon" if (first - today).days <= SOON_DAYS else "ok"


RANK = {"void": 0, "never": 1, "over": 2, "soon": 3, "ok": 4, "open": 5}


def with_cards(rows: QuerySet[Inspection]) -> QuerySet[Inspection]:
    cards = JobCard.objects.filter(state__in=OPEN_STATES).order_by("serial")
    return rows.select_related("vehicle").prefetch_related(Prefetch("cards", cards, to_attr="open_cards"))


def inspections_page(today: dt.date) -> list[Due]:
    """All of them, what is void or over first, then by what falls due first."""
    known = uses(today)
    found = [
        _due(row, known.get((row.vehicle_id or 0, row.interval_meter)), today)
        for row in with_cards(Inspection.objects.all())
    ]
    return sorted(found, key=lambda due: (RANK[due.code], due.first or dt.date.max, str(due.inspection)))


def inspection_page(pk: int, today: dt.date) -> tuple[Due, Sequence[InspectionResult]]:
    """One inspection and what each look found. Raises `Inspection.DoesNotExist`."""
    row = with_cards(Inspection.objects.prefetch_related("skills", "after_cards", "after_inspections")).get(
        pk=pk
    )
    use = uses(today).get((row.vehicle_id or 0, row.interval_meter))
    return _due(row, use, today), list(row.results.select_related("by"))
