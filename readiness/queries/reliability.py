"""How often a vehicle has failed while running, and what that says about its slots; for its page."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from fleet.models import Vehicle
from readiness.engine.reasons import day_words
from readiness.engine.reliability import laplace
from readiness.snapshot.failures import Lasting, fault_days, fleet_lasting

CLEARLY = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotLasts:
    """One slot of the vehicle: the chance that it runs it through without a failure, once it starts fit."""

    where: str
    hours: str
    percent: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FailureHistory:
    """`rests_on` in words; the rest is empty where nothing can be said."""

    rests_on: str
    outings: int
    between: str
    bounds: str
    trend: str
    slots: tuple[SlotLasts, ...]


def failure_history(vehicle: Vehicle, entries: Iterable[dict[str, Any]] = ()) -> FailureHistory:
    """Three queries, whatever the fleet. `entries` are the vehicle's stored entries of the event shown."""
    vehicles = Vehicle.objects.prefetch_related("outings").order_by("code")
    found = fleet_lasting(vehicles, fault_days())[vehicle.code]
    low, high = found.outlook.mtbf_interval() if found.outlook else (0.0, 0.0)
    upper = f"{_hours(high)} h" if high < 1e5 else "no upper bound"
    return FailureHistory(
        rests_on=found.words,
        outings=found.history.outings,
        between=f"{_hours(found.outlook.mtbf)} h" if found.outlook else "",
        bounds=f"{_hours(low)} to {upper}" if found.outlook else "",
        trend=_trend(found),
        slots=tuple(_slots(found, entries)),
    )


def _hours(value: float) -> str:
    return f"{value:.0f}" if value >= 10 else f"{value:.1f}"


def _trend(found: Lasting) -> str:
    """By Laplace's test, and only where the vehicle's own failures are in use."""
    if found.outlook is None or not found.outlook.own:
        return ""
    lean = laplace(found.history.times, found.history.hours)
    if abs(lean) < CLEARLY:
        return "No trend can be told."
    return f"It clearly fails {'more' if lean > 0 else 'less'} often than it used to."


def _slots(found: Lasting, entries: Iterable[dict[str, Any]]) -> Iterable[SlotLasts]:
    for e in entries:
        hours = e.get("run_hours") or 0
        chance = found.survive(hours) if hours else None
        if chance is not None:
            day = dt.datetime.fromisoformat(e["starts"]).date()
            yield SlotLasts(
                where=f"{e['slot']} {e['slot_name']}, {day_words(day)}",
                hours=f"{hours:g} h",
                percent=round(100 * chance),
            )
