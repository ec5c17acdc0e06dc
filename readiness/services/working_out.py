"""Snapshot to engine to plain result: the same words and numbers for every screen, print, digest and command."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from decimal import Decimal
from enum import Enum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from readiness.engine import ENGINE_VERSION, programme
from readiness.engine.crew import Flag, judge_crew
from readiness.engine.forecast import Forecast, forecast
from readiness.engine.gates import Verdict, judge, slots_judged, with_chance, worst
from readiness.engine.reasons import Weight
from readiness.engine.state import Entry, Event, Museum, Slot
from readiness.engine.whatif import Change, altered
from readiness.engine.workshop import Workshop, WorkshopError
from readiness.snapshot import Rows, museum_state, workload

WORDS = {
    "down": "Stood down",
    "barred": "Barred",
    "unlikely": "Unlikely",
    "doubtful": "Doubtful",
    "unjudged": "Not judged",
    "likely": "Likely",
    "limits": "Fit with limits",
    "fit": "Fit",
    "open": "Open",
}
SURE = 100
Judged = dict[str, tuple[Event, Entry, Verdict]]
Clear = NDArray[np.bool_]
Imagined = Callable[[Museum], Museum]


def canonical(thing: Any) -> Any:
    """Any engine input as plain JSON values in a fixed order, for hashing."""
    if is_dataclass(thing) and not isinstance(thing, type):
        return {f.name: canonical(getattr(thing, f.name)) for f in fields(thing)}
    if isinstance(thing, Mapping):
        return sorted(([canonical(k), canonical(v)] for k, v in thing.items()), key=repr)
    if isinstance(thing, (frozenset, set)):
        return sorted((canonical(x) for x in thing), key=repr)
    if isinstance(thing, (list, tuple)):
        return [canonical(x) for x in thing]
    if isinstance(thing, Enum):
        return str(thing.value)
    if isinstance(thing, (dt.datetime, dt.date, dt.time)):
        return thing.isoformat()
    if isinstance(thing, (Decimal, dt.timedelta)):
        return str(thing)
    return thing


def hash_of(*things: Any) -> str:
    return hashlib.sha256(json.dumps([canonical(t) for t in things], sort_keys=True).encode()).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """Chance of an entry being clear in time: `percent` as shown; `clear` per sample for joint use."""

    percent: int
    error: float
    even: dt.datetime | None
    eight: dt.datetime | None
    float_hours: float | None
    holds: tuple[dict[str, Any], ...]
    clear: Clear


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """Everything worked out from one snapshot, before it is turned into plain results per event."""

    museum: Museum
    judged: Judged
    chances: dict[str, Chance]
    flags: dict[str, tuple[Flag, ...]]
    problems: tuple[str, ...]
    guesses: tuple[str, ...]
    workshop: Workshop
    jobs: int
    parts: int
    input_hash: str
    samples: int
    seed: int


def judge_all(museum: Museum) -> Judged:
    """Judge every entry of every event that is not over. For a later event, work put after the first one counts too."""
    judged: Judged = {}
    later = replace(
        museum,
        vehicles={
            uid: replace(v, jobs=tuple(replace(j, before_event=True) for j in v.jobs))
            for uid, v in museum.vehicles.items()
        },
    )
    coming = [e for e in museum.events if e.last_day >= museum.now.date()]
    for n, event in enumerate(sorted(coming, key=lambda e: (e.freeze, e.uid))):
        for entry in event.entries:
            judged[entry.uid] = (event, entry, judge(museum if n == 0 else later, event, entry))
    return judged


def work_out(
    rows: Rows, *, samples: int, seed: int, imagined: Sequence[Imagined] = (), changes: Sequence[Change] = ()
) -> Worked:
    """Judge, forecast and say who is short, from one fetched snapshot.

    `imagined` alters the museum before it is judged, `changes` the workshop before it is played: for a what-if. The
    draws of everything that neither touches stay the same, so that answers can be compared sample by sample.
    """
    museum = museum_state(rows)
    for alter in imagined:
        museum = alter(museum)
    judged = judge_all(museum)
    load = workload(rows, museum, judged)
    if changes:
        load = replace(load, workshop=altered(load.workshop, changes))
    problems: tuple[str, ...] = ()
    answer: Forecast | None = None
    if load.workshop.goals:
        try:
            answer = forecast(load.workshop, samples=samples, seed=seed)
        except WorkshopError as error:
            problems = error.problems
    chances = {}
    for uid, (_, _, verdict) in judged.items():
        chance = _chance(uid, verdict, load.goals.get(uid, ()), answer, samples)
        if chance is not None:
            chances[uid] = chance
    return Worked(
        museum=museum,
        judged=judged,
        chances=chances,
        problems=problems,
        flags={e.uid: judge_crew(museum, e) for e in {ev.uid: ev for ev, _, _ in judged.values()}.values()}
        | {e.uid: judge_crew(museum, e) for e in museum.events if e.last_day >= museum.now.date()},
        guesses=tuple(f"{f.code}: {f.subject}" for f in answer.flags) if answer else (),
        workshop=load.workshop,
        jobs=len(load.workshop.works),
        parts=len(load.workshop.deliveries),
        input_hash=hash_of(museum, load.workshop, ENGINE_VERSION, samples, seed),
        samples=samples,
        seed=seed,
    )


def _chance(
    uid: str, verdict: Verdict, goals: tuple[str, ...], answer: Forecast | None, samples: int
) -> Chance | None:
    if verdict.standing != "open":
        return None
    if verdict.impossible:
        return Chance(
            percent=0,
            error=0.0,
            even=None,
            eight=None,
            float_hours=None,
            holds=(),
            clear=np.zeros(samples, dtype=np.bool_),
        )
    if not goals:
        return Chance(
            percent=SURE,
            error=0.0,
            even=None,
            eight=None,
            float_hours=None,
            holds=(),
            clear=np.ones(samples, dtype=np.bool_),
        )
    if answer is None:
        return None
    found = [answer.goals[g] for g in goals]
    clear = np.logical_and.reduce([g.clear for g in found])
    share = float(clear.mean())
    evens, eights = [g.even for g in found], [g.eight_in_ten for g in found]
    main = found[0]
    return Chance(
        percent=int((200 * int(clear.sum()) + samples) // (2 * samples)),
        error=float(np.sqrt(share * (1 - share) / samples)),
        even=None if None in evens else max(e for e in evens if e),
        eight=None if None in eights else max(e for e in eights if e),
        float_hours=main.float_hours,
        holds=tuple(
            {"kind": h.kind, "subject": h.subject, "label": h.label, "share": round(h.share, 4)}
            for h in main.holds
        ),
        clear=clear,
    )


def result_of(worked: Worked, event: Event) -> dict[str, Any]:
    """The plain result of one event, as stored and as printed by `assess --json`."""
    entries = [
        _entry(worked, event, e)
        for e in sorted(event.entries, key=lambda e: (e.slot.starts, e.slot.code, e.vehicle))
    ]
    return {
        "event": {
            "code": event.code,
            "name": event.name,
            "freeze": event.freeze.isoformat(),
            "first_day": event.first_day.isoformat(),
            "last_day": event.last_day.isoformat(),
        },
        "judged_at": worked.museum.now.isoformat(),
        "seed": worked.seed,
        "samples": worked.samples,
        "engine_version": ENGINE_VERSION,
        "input_hash": worked.input_hash,
        "worked_from": {"jobs": worked.jobs, "parts": worked.parts, "guesses": list(worked.guesses)},
        "problems": list(worked.problems),
        "entries": entries,
        "vehicles": _vehicles(worked, entries),
        "slots": _slots(worked, event),
    }


def standing_of(worked: Worked, uid: str) -> tuple[str, Chance | None]:
    """The standing with its chance, as shown everywhere."""
    _, _, verdict = worked.judged[uid]
    chance = worked.chances.get(uid)
    rules = worked.museum.rules
    standing = with_chance(
        verdict,
        chance.percent if chance else None,
        likely_from=rules.likely_from,
        doubtful_from=rules.doubtful_from,
    )
    return standing, chance


def _entry(worked: Worked, event: Event, entry: Entry) -> dict[str, Any]:
    _, _, verdict = worked.judged[entry.uid]
    standing, chance = standing_of(worked, entry.uid)
    vehicle, slot = worked.museum.vehicles[entry.vehicle], entry.slot
    flags = [f for f in worked.flags[event.uid] if f.slot == slot.uid and f.entry in {"", entry.uid}]
    return {
        "id": entry.uid,
        "slot": slot.code,
        "slot_name": slot.name,
        "day": slot.day.isoformat(),
        "starts": slot.starts.isoformat(),
        "ends": slot.ends.isoformat(),
        "role": slot.role,
        "vehicle": vehicle.uid,
        "number": vehicle.number,
        "name": vehicle.name,
        "covers": entry.covers,
        "standing": standing,
        "word": WORDS[standing],
        "gates_open": verdict.is_open,
        "not_judged": verdict.is_unjudged,
        "percent": chance.percent if chance else None,
        "error": round(chance.error, 5) if chance else None,
        "even": chance.even.isoformat() if chance and chance.even else None,
        "eight_in_ten": chance.eight.isoformat() if chance and chance.eight else None,
        "float_days": round(chance.float_hours / 24, 2)
        if chance and chance.float_hours is not None
        else None,
        "holds": list(chance.holds) if chance else [],
        "reasons": [r.as_dict() for r in verdict.reasons],
        "needs": list(verdict.needs),
        "limits": [r.words for r in verdict.reasons if r.weight is Weight.LIMIT],
        "flags": sorted({f.flag for f in flags if f.entry == entry.uid}),
        "flag_details": [_flag(f) for f in flags if f.entry == entry.uid],
    }


def _flag(flag: Flag) -> dict[str, str]:
    return {
        "flag": flag.flag,
        "code": str(flag.code),
        "entry": flag.entry,
        "person": flag.person,
        "words": flag.words,
        "act": flag.act,
    }


def _vehicles(worked: Worked, entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The board's rows: a vehicle stands as its worst entry; one stood down is on the rail even without an entry."""
    by_vehicle: dict[str, list[dict[str, Any]]] = {}
    for entry in entries:
        by_vehicle.setdefault(entry["vehicle"], []).append(entry)
    found = []
    for uid, vehicle in sorted(worked.museum.vehicles.items()):
        mine = by_vehicle.get(uid, [])
        if not mine:
            if vehicle.status not in {"stood down", "laid up"}:
                continue
            found.append(
                {
                    "vehicle": uid,
                    "number": vehicle.number,
                    "name": vehicle.name,
                    "standing": "down",
                    "word": WORDS["down"],
                    "entry": "",
                    "percent": None,
                }
            )
            continue
        standing = worst([e["standing"] for e in mine if e["standing"] != "open"] or ["unjudged"])
        if any(e["standing"] == "open" for e in mine) and standing not in {"down", "barred"}:
            standing = "open"
        at = [e for e in mine if e["standing"] == standing]
        row = min(
            at, key=lambda e: (e["percent"] if e["percent"] is not None else SURE + 1, e["starts"], e["slot"])
        )
        found.append(
            {
                "vehicle": uid,
                "number": vehicle.number,
                "name": vehicle.name,
                "standing": standing,
                "word": WORDS[standing],
                "entry": row["id"],
                "percent": row["percent"],
            }
        )
    return found


def _slots(worked: Worked, event: Event) -> list[dict[str, Any]]:
    covers = _cover(worked, event)
    found = []
    for slot in sorted(event.slots, key=lambda s: (s.starts, s.code)):
        flags = [f for f in worked.flags[event.uid] if f.slot == slot.uid]
        found.append(
            {
                "id": slot.uid,
                "slot": slot.code,
                "name": slot.name,
                "day": slot.day.isoformat(),
                "role": slot.role,
                "starts": slot.starts.isoformat(),
                "ends": slot.ends.isoformat(),
                "vehicles": sorted(e.vehicle for e in event.entries if e.slot.uid == slot.uid),
                "flags": sorted({f.flag for f in flags}),
                "flag_details": [_flag(f) for f in flags],
                "cover": covers.get(slot.uid),
            }
        )
    return found


def _samples_of(worked: Worked, uid: str) -> Clear:
    standing, chance = standing_of(worked, uid)
    if chance is not None and standing != "unjudged":
        return chance.clear
    return np.full(worked.samples, standing in {"fit", "limits"}, dtype=np.bool_)


def _cover(worked: Worked, event: Event) -> dict[str, dict[str, Any]]:
    """What becomes of each slot, from the joint samples; a standby without a current driver covers nothing."""
    if any(worked.judged[e.uid][2].standing == "open" and e.uid not in worked.chances for e in event.entries):
        return {}
    short = {f.entry for f in worked.flags[event.uid] if f.flag == "crew short" and f.entry}
    standby: dict[str, list[str]] = {}
    clear: dict[tuple[str, str], Clear] = {}
    for entry in event.entries:
        if entry.slot.role == "standby":
            for slot in slots_judged(entry, event) if entry.uid not in short else ():
                standby.setdefault(slot.uid, []).append(entry.vehicle)
                clear[slot.uid, entry.vehicle] = _samples_of(worked, entry.uid)
        else:
            clear[entry.slot.uid, entry.vehicle] = _samples_of(worked, entry.uid)
    shapes = [_shape(event, s, standby.get(s.uid, [])) for s in event.slots if s.role != "standby"]
    shapes = [s for s in shapes if s.entries]
    if not shapes:
        return {}
    answer = programme.cover(shapes, clear, seed=worked.seed)
    return {
        c.key: {
            "as_entered": round(c.as_entered, 4),
            "with_standby": round(c.with_standby, 4),
            "not_run": round(c.not_run, 4),
            "standbys": sorted(standby.get(c.key, [])),
        }
        for c in answer.slots
    }


def _shape(event: Event, slot: Slot, standby: list[str]) -> programme.Slot:
    entered = tuple(sorted(e.vehicle for e in event.entries if e.slot.uid == slot.uid))
    return programme.Slot(
        key=slot.uid,
        start=slot.starts,
        end=slot.ends,
        entries=entered,
        standbys=tuple(sorted(set(standby) - set(entered))),
        needed=slot.at_least,
    )
