"""From outings and faults to each vehicle's failure history, and what it says about the next running hours.

A failure is an outing that a fault ended early, or a day of an outing on which a fault was reported that takes a needed
function away. It is set at the end of that outing; nobody writes down the minute.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from django.db.models import QuerySet

from fleet.enums import Function
from fleet.models import Outing, Vehicle
from maintenance.enums import DefectState, Effect
from maintenance.models import Defect
from readiness.engine.reliability import (
    GammaRate,
    Outlook,
    fit_chance,
    fleet_rate,
    outlook,
    power_law,
)

ENDS_A_RUN = (
    Function.START, Function.STOP, Function.HOLD, Function.STEER, Function.DRIVE, Function.ROLL, Function.COOL, Function.LUBE,
    Function.FUEL, Function.BREATHE, Function.STEAM,
)  # fmt: skip
LEAST_HOURS = 10.0
"""A fleet with fewer running hours on file says nothing yet (*common practice*)."""
POOR_FIT = 0.05
FIRST_MINUTE = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One time out."""

    day: dt.date
    hours: Decimal
    stopped: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """Running hours on file, and at how many of them each failure came, upward."""

    hours: float = 0.0
    times: tuple[float, ...] = ()
    outings: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Lasting:
    """What is believed of one vehicle. `outlook` None: nothing can be said, and `words` tells why."""

    history: History
    outlook: Outlook | None
    words: str

    def survive(self, hours: float) -> float | None:
        """The chance of running so long without a failure; None where nothing is on file."""
        if self.outlook is None:
            return None
        return self.outlook.survive(hours)


def history(runs: Iterable[Run], fault_days: frozenset[dt.date] = frozenset()) -> History:
    """Add up the outings of one vehicle by day; a fault that was reported counts once, on the day's last outing."""
    rows = sorted(runs, key=lambda r: r.day)
    last_of = {r.day: n for n, r in enumerate(rows)}
    told = {r.day for r in rows if r.stopped}
    at, times = 0.0, []
    for n, run in enumerate(rows):
        at += float(run.hours)
        if run.stopped or (run.day in fault_days and run.day not in told and last_of[run.day] == n):
            times.append(max(at, FIRST_MINUTE))
    if not at:
        return History(outings=len(rows))
    return History(hours=at, times=tuple(min(t, at) for t in times), outings=len(rows))


def lasting(histories: Mapping[str, History]) -> dict[str, Lasting]:
    """The outlook of every vehicle, its own where it has failures enough, else the other vehicles' moved by its own."""
    total = sum(h.hours for h in histories.values())
    return {uid: _one(uid, histories, total) for uid in histories}


def _one(uid: str, histories: Mapping[str, History], total: float) -> Lasting:
    mine = histories[uid]
    if total < LEAST_HOURS:
        words = (
            "no running hours on file" if not total else f"too few running hours on file: {_plain(total)} h"
        )
        return Lasting(history=mine, outlook=None, words=words)
    # The others alone, so that the vehicle's own hours are not counted twice.
    others = [h for other, h in histories.items() if other != uid and h.hours > 0]
    own = f"{_faults(len(mine.times))} in {_plain(mine.hours)} h"
    if not others:
        belief = fleet_rate([len(mine.times)], [mine.hours])
        found = outlook(mine.times, mine.hours, belief)
        if not found.own:
            found = _plain_belief(belief, mine)
        return Lasting(
            history=mine, outlook=found, words=f"from {own}; no other vehicle has running hours on file"
        )
    prior = fleet_rate([len(h.times) for h in others], [h.hours for h in others])
    found = outlook(mine.times, mine.hours, prior)
    fleet = f"{_faults(sum(len(h.times) for h in others))} in {_plain(sum(h.hours for h in others))} h of the others"
    if found.own and not _fits(mine):
        updated = prior.update(len(mine.times), mine.hours)
        return Lasting(
            history=mine, outlook=_plain_belief(updated, mine),
            words=f"from the fleet ({fleet}): this vehicle's {own} follow no law",
        )  # fmt: skip
    if found.own:
        return Lasting(history=mine, outlook=found, words=f"from {own}")
    has = f"this vehicle has {own}" if mine.hours else "this vehicle has no running hours on file"
    return Lasting(history=mine, outlook=found, words=f"from the fleet ({fleet}), {has}")


def _plain_belief(belief: GammaRate, mine: History) -> Outlook:
    return Outlook(fit=belief, own=False, failures=len(mine.times), hours=mine.hours, sentence="")


def _fits(mine: History) -> bool:
    """Whether the vehicle's own law describes it; the draws are always the same ones."""
    return fit_chance(power_law(mine.times, mine.hours), np.random.default_rng(0)) >= POOR_FIT


def _faults(count: int) -> str:
    return f"{count} fault" if count == 1 else f"{count} faults"


def _plain(hours: float) -> str:
    return f"{round(hours, 1):g}"


def fault_days() -> dict[int, frozenset[dt.date]]:
    """Days on which a fault that ends a run was reported, by vehicle key; one query."""
    found: dict[int, set[dt.date]] = defaultdict(set)
    for vehicle, day in stopping_defects().values_list("vehicle_id", "reported_at__date"):
        found[vehicle].add(day)
    return {vehicle: frozenset(days) for vehicle, days in found.items()}


def stopping_defects() -> QuerySet[Defect]:
    return (
        Defect.objects.filter(effects__effect=Effect.LOST, effects__function__in=ENDS_A_RUN)
        .exclude(state__in=[DefectState.SET_ASIDE, DefectState.MERGED])
        .order_by()
        .distinct()
    )


def fleet_lasting(vehicles: Iterable[Vehicle], days: Mapping[int, frozenset[dt.date]]) -> dict[str, Lasting]:
    """By vehicle code, from vehicles whose outings are fetched."""
    return lasting(
        {v.code: history((_run(o) for o in v.outings.all()), days.get(v.pk, frozenset())) for v in vehicles}
    )


def _run(row: Outing) -> Run:
    return Run(day=row.day, hours=row.hours, stopped=row.stopped_by_fault)
