"""Falling due: the meter at a slot, and whether an inspection is valid to its last minute.

Meter at a moment = last reading + background rate x days + outings, rehearsals and slots since that reading.
The rate is total use of the outings on file over their span; its spread treats outings as a compound Poisson
process (var of the rate = sum x^2 / span^2), an assumption. No outings on file: background use 0, said as such.
Equal to a limit passes; meters are decimals. Valid through the due day (*common practice*).
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from readiness.engine.state import ZERO, Inspection, MeterState, Use, Vehicle

LEAST_SPAN_DAYS = 28
LEAST_OUTINGS = 2


def amount(use: Use, kind: str) -> Decimal:
    """What one use adds to a meter of this kind."""
    return {
        "hours": use.hours,
        "steam hours": use.hours,
        "km": use.km,
        "starts": Decimal(use.starts),
        "steamings": Decimal(use.starts),
        "pump hours": use.gear_hours,
        "ladder hours": use.gear_hours,
        "crane hours": use.gear_hours,
    }.get(kind, ZERO)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """Background use per day, its standard error, and from how many outings."""

    per_day: Decimal
    error: float
    shock: float
    outings: int


def usage_rate(outings: Iterable[Use], kind: str, until: dt.datetime) -> Rate:
    """Estimate background use per day from the outings before `until`.

    Returns zero (with `outings` telling how few there were) when fewer than two outings or less than four weeks are
    on file: a rate from less would only pretend.
    """
    past = sorted((o for o in outings if o.at <= until), key=lambda o: o.at)
    if len(past) < LEAST_OUTINGS or (until - past[0].at).days < LEAST_SPAN_DAYS:
        return Rate(per_day=ZERO, error=0.0, shock=0.0, outings=len(past))
    span = (until - past[0].at).days
    uses = [amount(o, kind) for o in past]
    squares = float(sum((u * u for u in uses), ZERO))
    return Rate(
        per_day=sum(uses, ZERO) / span,
        error=math.sqrt(squares) / span,
        shock=math.sqrt(squares / span),
        outings=len(past),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterForecast:
    """Total expected at a moment and its standard deviation; `planned` is what slots and rehearsals add."""

    total: Decimal
    spread: float
    planned: Decimal
    rate: Rate


def meter_at(
    meter: MeterState, vehicle: Vehicle, moment: dt.datetime, *, extra: Iterable[Use] = ()
) -> MeterForecast:
    """Forecast the running total of `meter` at `moment`.

    Every planned use that ends after the reading and not after `moment` counts once, whatever event it belongs to;
    `extra` are uses that a standby would take over.
    """
    rate = usage_rate(vehicle.outings, meter.kind, meter.read_at)
    planned = sum(
        (amount(u, meter.kind) for u in (*vehicle.planned, *extra) if meter.read_at < u.at <= moment), ZERO
    )
    since = sum((amount(o, meter.kind) for o in vehicle.outings if meter.read_at < o.at <= moment), ZERO)
    days = max((moment.date() - meter.read_at.date()).days, 0)
    spread = math.sqrt((rate.error * days) ** 2 + rate.shock**2 * days)
    return MeterForecast(
        total=meter.total + rate.per_day * days + planned + since, spread=spread, planned=planned, rate=rate
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Validity:
    """Answer for one inspection at one moment.

    `state` is "valid", "lapsed", "voided" or "unknown"; `by` says what runs out first ("date", "meter");
    `chance` is the probability of still being valid, where the meter decides; `over` how far past the limit.
    """

    state: str
    by: str = ""
    chance: float = 1.0
    over: Decimal = ZERO
    limit: str = ""
    expected: Decimal | None = None


def validity(
    inspection: Inspection, vehicle: Vehicle | None, moment: dt.datetime, *, extra: Iterable[Use] = ()
) -> Validity:
    """Judge one inspection at the last minute of a slot, by date and forecast meter, whichever comes first."""
    if inspection.voided:
        return Validity(state="voided", by="void", chance=0.0)
    if inspection.unknown and inspection.valid_through is None and inspection.valid_meter is None:
        return Validity(state="unknown", chance=0.0)
    if inspection.valid_through is not None and moment.date() > inspection.valid_through:
        return Validity(state="lapsed", by="date", chance=0.0, limit=inspection.valid_through.isoformat())
    if inspection.valid_meter is None:
        return Validity(state="valid")
    meter = next((m for m in vehicle.meters if m.kind == inspection.meter), None) if vehicle else None
    if meter is None or vehicle is None:
        return Validity(state="unknown", by="meter", chance=0.0)
    forecast = meter_at(meter, vehicle, moment, extra=extra)
    chance = _chance_within(forecast, inspection.valid_meter)
    over = forecast.total - inspection.valid_meter
    state = "lapsed" if over > ZERO else "valid"
    return Validity(
        state=state,
        by="meter",
        chance=chance,
        over=max(over, ZERO),
        limit=f"{inspection.valid_meter.normalize():f}",
        expected=forecast.total,
    )


def _chance_within(forecast: MeterForecast, limit: Decimal) -> float:
    gap = float(limit - forecast.total)
    if forecast.spread == 0.0:
        return 1.0 if gap >= 0 else 0.0
    return 0.5 * (1 + math.erf(gap / (forecast.spread * math.sqrt(2))))


@dataclass(frozen=True, slots=True, kw_only=True)
class DueDate:
    """When an inspection falls due: the earliest, expected and latest day (5, 50 and 95 in 100), `by` date or meter."""

    by: str
    early: dt.date | None
    expected: dt.date | None
    late: dt.date | None


def falling_due(
    inspection: Inspection, vehicle: Vehicle, today: dt.date, *, days_ahead: int = 730
) -> DueDate:
    """The day on which the inspection stops being valid, with the rate's uncertainty. None: not within `days_ahead`."""
    end = inspection.valid_through
    meter = next((m for m in vehicle.meters if m.kind == inspection.meter), None)
    if inspection.valid_meter is None or meter is None:
        return DueDate(by="date", early=end, expected=end, late=end)
    found: dict[float, dt.date | None] = {0.95: None, 0.5: None, 0.05: None}
    for n in range(days_ahead):
        day = today + dt.timedelta(days=n)
        if end is not None and day > end:
            break
        chance = _chance_within(
            meter_at(meter, vehicle, dt.datetime.combine(day, dt.time.max)), inspection.valid_meter
        )
        for level, known in found.items():
            if known is None and chance < level:
                found[level] = day - dt.timedelta(days=1)
        if found[0.05] is not None:
            break
    by = "meter" if found[0.5] is not None else "date"
    return DueDate(by=by, early=found[0.95] or end, expected=found[0.5] or end, late=found[0.05] or end)


def first_failing_run(total_before: Decimal, limit: Decimal, km: Decimal, runs: int | None) -> int | None:
    """In which run of a slot a distance limit is passed, or None when the slot is not in equal runs."""
    if not runs or km <= ZERO:
        return None
    left = limit - total_before
    if left < ZERO:
        return 1
    return min(int(left / (km / runs)) + 1, runs)


def still_helps(
    inspection: Inspection, slots: Iterable[dt.datetime], freeze: dt.date
) -> tuple[dt.date | None, dt.date]:
    """First and last day on which renewing the inspection covers every one of these slot ends (by date).

    The first day is the last slot's day less the interval; the last is the freeze.
    """
    ends = sorted(slots)
    if not ends or inspection.interval_days is None:
        return None, freeze
    return ends[-1].date() - dt.timedelta(days=inspection.interval_days), freeze
