"""A small museum to judge: one lorry in one slot, everything in order, and helpers to change one thing at a time."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from typing import Any

from readiness.engine import gates, state
from readiness.engine.roles import default_table

T = dt.date(2027, 6, 12)  # a Saturday
NOW = dt.datetime(2027, 5, 8, 8, 0)
FREEZE = dt.datetime(2027, 6, 10, 18, 0)
FAR = T + dt.timedelta(days=60)
KINDS = ("brake reading", "running gear", "annual", "extinguishers")
PAPERS = (
    "label", "driver card", "risk assessment", "insurance", "registration", "passenger insurance", "lift plan", "gear list",
)  # fmt: skip


def day(n: int) -> dt.date:
    return T + dt.timedelta(days=n)


def at(n: int, clock: str) -> dt.datetime:
    return dt.datetime.combine(day(n), dt.time.fromisoformat(clock))


def inspections() -> tuple[state.Inspection, ...]:
    return tuple(state.Inspection(uid=f"I-{kind}", kind=kind, name=kind, valid_through=FAR) for kind in KINDS)


def vehicle(**change: Any) -> state.Vehicle:
    base: dict[str, Any] = {
        "uid": "V1", "number": "7", "name": "Lorry", "inspections": inspections(),
        "papers": tuple((kind, FAR) for kind in PAPERS),
    }  # fmt: skip
    return state.Vehicle(**(base | change))


def slot(
    role: str = "arena", start: str = "11:00", end: str = "12:00", n: int = 0, **change: Any
) -> state.Slot:
    base: dict[str, Any] = {
        "uid": f"S1@{n}", "code": "S1", "name": "A slot", "role": role, "starts": at(n, start), "ends": at(n, end),
        "sunrise": dt.time(5), "sunset": dt.time(20, 40),
    }  # fmt: skip
    return state.Slot(**(base | change))


def entry(the_slot: state.Slot | None = None, **change: Any) -> state.Entry:
    base: dict[str, Any] = {"uid": "E1", "slot": the_slot or slot(), "vehicle": "V1"}
    return state.Entry(**(base | change))


def job(**change: Any) -> state.Job:
    base: dict[str, Any] = {
        "uid": "J1",
        "label": "J1 work",
        "state": "booked in",
        "functions": frozenset({"STOP"}),
    }
    return state.Job(**(base | change))


def defect(effect: str = "reduced", function: str = "ROLL", **change: Any) -> state.Defect:
    base: dict[str, Any] = {
        "uid": "D1", "label": "A fault", "assessed": True, "severity": 3, "probability": "C", "effects": ((function, effect),),
        "touches": frozenset({function}),
    }  # fmt: skip
    return state.Defect(**(base | change))


def deferral(*limits: state.Limit, **change: Any) -> state.Deferral:
    base: dict[str, Any] = {
        "uid": "DF1", "signed_on": day(-40), "ends_on": day(30), "severity_without": 3, "probability_without": "C",
        "severity_with": 3, "probability_with": "D", "signers": (("P1", "lead"),), "limits": limits,
    }  # fmt: skip
    return state.Deferral(**(base | change))


def limit(kind: str, value: str | None = None, **change: Any) -> state.Limit:
    base: dict[str, Any] = {
        "uid": "L1",
        "kind": kind,
        "value": Decimal(value) if value else None,
        "words": kind,
    }
    return state.Limit(**(base | change))


def event(*entries: state.Entry, **change: Any) -> state.Event:
    slots = tuple({e.slot.uid: e.slot for e in entries}.values())
    base: dict[str, Any] = {
        "uid": "EV", "code": "EV", "name": "Event", "freeze": FREEZE, "first_day": T, "last_day": day(1),
        "entries": entries, "slots": slots,
    }  # fmt: skip
    return state.Event(**(base | change))


def museum(
    *vehicles: state.Vehicle, the_event: state.Event, people: tuple[state.Person, ...] = (), **change: Any
) -> state.Museum:
    base: dict[str, Any] = {
        "now": NOW, "rules": state.Rules(table=default_table()), "vehicles": {v.uid: v for v in vehicles},
        "people": {p.uid: p for p in people}, "events": (the_event,), "event_ends": (the_event.last_day,),
    }  # fmt: skip
    return state.Museum(**(base | change))


def judge(
    the_vehicle: state.Vehicle,
    the_entry: state.Entry | None = None,
    *,
    others: tuple[state.Entry, ...] = (),
    **change: Any,
) -> gates.Verdict:
    """The verdict on one vehicle in one slot, with the vehicle's planned use filled in from its entries."""
    one = the_entry or entry()
    the_event = event(one, *others)
    planned = tuple(e.use for e in the_event.entries if e.vehicle == the_vehicle.uid) + the_vehicle.planned
    whole = museum(replace(the_vehicle, planned=planned), the_event=the_event, **change)
    return gates.judge(whole, the_event, one)


def codes(verdict: gates.Verdict, *weights: str) -> list[str]:
    return [str(r.code) for r in verdict.reasons if not weights or str(r.weight) in weights]
