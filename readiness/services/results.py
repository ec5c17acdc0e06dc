"""One event's answer as plain values: as stored, as shown on every screen, as printed by `assess --json`."""

from __future__ import annotations

from typing import Any

import numpy as np

from readiness.engine import ENGINE_VERSION, programme
from readiness.engine.crew import Flag
from readiness.engine.gates import slots_judged, worst
from readiness.engine.reasons import Weight
from readiness.engine.state import Entry, Event, Slot, use_of
from readiness.services.working_out import SURE, WORDS, Clear, Worked, standing_of


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
        "run_hours": float(entry.use.hours),
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


def _survives(worked: Worked, entry: Entry, slot: Slot) -> float:
    """The chance to last the slot's running hours once it has started fit; 1 where no running hours are on file."""
    found = worked.lasting.get(entry.vehicle)
    chance = found.survive(float(use_of(entry, slot).hours)) if found is not None else None
    return 1.0 if chance is None else chance


def _cover(worked: Worked, event: Event) -> dict[str, dict[str, Any]]:
    """What becomes of each slot, from the joint samples; a standby without a current driver covers nothing."""
    if any(worked.judged[e.uid][2].standing == "open" and e.uid not in worked.chances for e in event.entries):
        return {}
    short = {f.entry for f in worked.flags[event.uid] if f.flag == "crew short" and f.entry}
    standby: dict[str, list[str]] = {}
    clear: dict[tuple[str, str], Clear] = {}
    survive: dict[tuple[str, str], float] = {}
    for entry in event.entries:
        if entry.slot.role == "standby":
            for slot in slots_judged(entry, event) if entry.uid not in short else ():
                standby.setdefault(slot.uid, []).append(entry.vehicle)
                clear[slot.uid, entry.vehicle] = _samples_of(worked, entry.uid)
                survive[slot.uid, entry.vehicle] = _survives(worked, entry, slot)
        else:
            clear[entry.slot.uid, entry.vehicle] = _samples_of(worked, entry.uid)
            survive[entry.slot.uid, entry.vehicle] = _survives(worked, entry, entry.slot)
    shapes = [_shape(event, s, standby.get(s.uid, [])) for s in event.slots if s.role != "standby"]
    shapes = [s for s in shapes if s.entries]
    if not shapes:
        return {}
    answer = programme.cover(shapes, clear, survive=survive, seed=worked.seed)
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
