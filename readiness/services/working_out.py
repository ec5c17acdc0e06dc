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

from readiness.engine import ENGINE_VERSION
from readiness.engine.crew import Flag, judge_crew
from readiness.engine.forecast import Forecast, forecast
from readiness.engine.gates import Verdict, judge, with_chance
from readiness.engine.state import Entry, Event, Museum
from readiness.engine.whatif import Change, altered
from readiness.engine.workshop import Workshop, WorkshopError
from readiness.snapshot import Rows, museum_state, workload
from readiness.snapshot.failures import Lasting, fleet_lasting

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
NO_HISTORY = (
    "Nothing is on record yet: turn-up, hours, finds and suppliers' promises are the museum's defaults."
)
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
    lasting: Mapping[str, Lasting]


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
    lasting = fleet_lasting(rows.vehicles, rows.fault_days)
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
        guesses=(() if load.has_history else (NO_HISTORY,))
        + (tuple(f"{f.code}: {f.subject}" for f in answer.flags) if answer else ()),
        workshop=load.workshop,
        jobs=len(load.workshop.works),
        parts=len(load.workshop.deliveries),
        input_hash=hash_of(museum, load.workshop, lasting, ENGINE_VERSION, samples, seed),
        samples=samples,
        seed=seed,
        lasting=lasting,
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
