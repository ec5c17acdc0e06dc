"""Is a deferral in force at the end of a slot? By the ladder of signers and terms (readiness/engine/risk.py)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from readiness.engine.risk import LADDER, Level, TermKind, level, may_carry, term_end
from readiness.engine.slot_limits import IDLE_KINDS
from readiness.engine.state import Defect, Deferral, Vehicle


@dataclass(frozen=True, slots=True, kw_only=True)
class InForce:
    """`state`: "none", "high", "unsigned", "ended" or "yes"; `ends` is the last day by the ladder."""

    state: str
    deferral: Deferral | None = None
    ends: dt.date | None = None
    words: str = ""


def last_day(deferral: Deferral, vehicle: Vehicle, event_ends: Sequence[dt.date]) -> dt.date:
    """The last day on which the deferral holds: as signed, or earlier where the ladder allows less.

    With no event on file after signing, a term to the end of the next event is held to the days of a Medium one;
    "next inspection" is the vehicle's next inspection due after signing.
    """
    rated = level(deferral.severity_with, deferral.probability_with)
    idle = any(limit.kind in IDLE_KINDS for limit in deferral.limits)
    next_event = min((day for day in event_ends if day >= deferral.signed_on), default=None)
    if next_event is None and LADDER[rated].term.kind is TermKind.NEXT_EVENT:
        next_event = deferral.signed_on + dt.timedelta(days=LADDER[Level.MEDIUM].term.days)
    due = [
        i.valid_through
        for i in vehicle.inspections
        if i.valid_through and i.valid_through > deferral.signed_on
    ]
    return term_end(
        with_limit=rated,
        signed_on=deferral.signed_on,
        next_event_end=next_event,
        next_inspection=min(due, default=None),
        idle=idle,
        asked=deferral.ends_on,
    )


def in_force(defect: Defect, vehicle: Vehicle, through: dt.date, event_ends: Sequence[dt.date]) -> InForce:
    """The best deferral of a defect on a day: one in force if there is any, else why the newest is not."""
    answer = InForce(state="none")
    for deferral in sorted(defect.deferrals, key=lambda d: (d.signed_on, d.uid)):
        found = _one(deferral, vehicle, through, event_ends)
        if found.state == "yes" or answer.state != "yes":
            answer = found
    return answer


def _one(deferral: Deferral, vehicle: Vehicle, through: dt.date, event_ends: Sequence[dt.date]) -> InForce:
    without = level(deferral.severity_without, deferral.probability_without)
    with_limit = level(deferral.severity_with, deferral.probability_with)
    if Level.HIGH in {without, with_limit}:
        return InForce(
            state="high", deferral=deferral, words="High may not be carried forward, whoever signs"
        )
    people: dict[str, str] = {}
    for person, role in deferral.signers:
        people.setdefault(person, role)
    carry = may_carry(without_limit=without, with_limit=with_limit, signed=people.values())
    if not carry.allowed:
        return InForce(state="unsigned", deferral=deferral, words=carry.sentence)
    ends = last_day(deferral, vehicle, event_ends)
    if through > ends:
        return InForce(state="ended", deferral=deferral, ends=ends)
    if through < deferral.signed_on:
        return InForce(state="unsigned", deferral=deferral, ends=ends, words="signed only after that day")
    return InForce(state="yes", deferral=deferral, ends=ends)
