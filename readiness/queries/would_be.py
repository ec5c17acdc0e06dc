"""What the board would say of an entry before it is written: the same snapshot, gates, crew and forecast, nothing kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np
from django.conf import settings

from readiness.engine.crew import Flag, judge_crew
from readiness.engine.forecast import forecast
from readiness.engine.gates import Verdict, with_chance
from readiness.engine.reasons import Reason, Weight
from readiness.engine.state import CrewDuty, Entry, Event, Museum
from readiness.engine.workshop import WorkshopError
from readiness.models import Event as EventRow
from readiness.models import Slot as SlotRow
from readiness.services.working_out import WORDS, judge_all
from readiness.snapshot import Rows, fetch, museum_state, workload
from readiness.snapshot.museum import slot_name

WEIGHT_WORDS = {
    Weight.DOWN: "Stood down",
    Weight.BARRED: "Barred",
    Weight.OPEN: "To be cleared",
    Weight.UNJUDGED: "Not judged",
    Weight.LIMIT: "Limit",
    Weight.NOTE: "Noted",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """An entry as it is filled in. `replaces` is the code of the vehicle whose entry this changes."""

    vehicle: str
    replaces: str = ""
    covers: str = ""
    ready_minutes: int | None = None
    km: Decimal | None = None
    hours: Decimal | None = None
    crewed_inside: bool = True
    crew: tuple[CrewDuty, ...] = ()
    ticks: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """The answer: standing and reasons of the entry, what is said of its people, and what else would be said anew."""

    standing: str
    word: str
    percent: int | None
    reasons: tuple[tuple[str, str, str], ...]
    flags: tuple[tuple[str, str], ...]
    elsewhere: tuple[str, ...]

    @property
    def is_barred(self) -> bool:
        return self.standing in {"barred", "down"}


def would_be(*, event: EventRow, slot: SlotRow, wish: Wish, rows: Rows | None = None) -> Said | None:
    """Judge the entry as if it were written. None when the event is over or called off: nothing is judged there."""
    rows = rows or fetch()
    museum = museum_state(rows)
    before = next((e for e in museum.events if e.uid == event.code), None)
    row = next((e for e in rows.events if e.pk == event.pk), None)
    if (
        before is None
        or row is None
        or before.last_day < museum.now.date()
        or wish.vehicle not in museum.vehicles
    ):
        return None
    uid = f"{slot_name(rows, row, slot)}:{wish.vehicle}"
    changed = _with(museum, before, slot_name(rows, row, slot), uid, wish)
    judged = judge_all(changed)
    if uid not in judged:
        return None
    after, _, verdict = judged[uid]
    percent = _percent(rows, changed, judged, uid, verdict)
    standing = with_chance(
        verdict, percent, likely_from=museum.rules.likely_from, doubtful_from=museum.rules.doubtful_from
    )
    return _said(
        standing, percent, verdict, judge_crew(museum, before), judge_crew(changed, after), uid, changed
    )


def _with(museum: Museum, event: Event, slot_uid: str, uid: str, wish: Wish) -> Museum:
    """The museum with the entry in it, and its use moved from the old vehicle's meters to the new one's."""
    slot = next(s for s in event.slots if s.uid == slot_uid)
    entry = Entry(
        uid=uid,
        slot=slot,
        vehicle=wish.vehicle,
        covers=wish.covers,
        ready_minutes=wish.ready_minutes,
        km=wish.km,
        hours=wish.hours,
        crewed_inside=wish.crewed_inside,
        ticks=wish.ticks,
        crew=wish.crew,
    )
    gone = [e for e in event.entries if e.uid in {uid, f"{slot_uid}:{wish.replaces}"}]
    kept = tuple(e for e in event.entries if e not in gone)
    vehicles = dict(museum.vehicles)
    for old in gone:
        planned = list(vehicles[old.vehicle].planned)
        if old.use in planned:
            planned.remove(old.use)
        vehicles[old.vehicle] = replace(vehicles[old.vehicle], planned=tuple(planned))
    planned = sorted([*vehicles[wish.vehicle].planned, entry.use], key=lambda u: u.at)
    vehicles[wish.vehicle] = replace(vehicles[wish.vehicle], planned=tuple(planned))
    entries = tuple(sorted((*kept, entry), key=lambda e: (e.slot.starts, e.slot.code, e.vehicle)))
    events = tuple(replace(e, entries=entries) if e.uid == event.uid else e for e in museum.events)
    return replace(museum, vehicles=vehicles, events=events)


def _percent(
    rows: Rows, museum: Museum, judged: dict[str, tuple[Event, Entry, Verdict]], uid: str, verdict: Verdict
) -> int | None:
    """The chance with the board's own samples and seed, so that the number stays when the entry is written."""
    if verdict.standing != "open":
        return None
    if verdict.impossible:
        return 0
    load = workload(rows, museum, judged)
    goals = load.goals.get(uid, ())
    if not goals:
        return 100
    samples = settings.FORECAST_SAMPLES
    try:
        answer = forecast(load.workshop, samples=samples, seed=settings.FORECAST_SEED)
    except WorkshopError:
        return None
    clear = int(np.logical_and.reduce([answer.goals[g].clear for g in goals]).sum())
    return (200 * clear + samples) // (2 * samples)


def _said(
    standing: str,
    percent: int | None,
    verdict: Verdict,
    flags_before: Sequence[Flag],
    flags_after: Sequence[Flag],
    uid: str,
    museum: Museum,
) -> Said:
    slot = uid.rpartition(":")[0]
    mine = [f for f in flags_after if f.slot == slot and f.entry in {"", uid}]
    known = {(f.slot, f.entry, f.words) for f in flags_before}
    others = [f for f in flags_after if f not in mine and (f.slot, f.entry, f.words) not in known]
    return Said(
        standing=standing,
        word=WORDS[standing],
        percent=percent,
        reasons=tuple((WEIGHT_WORDS[r.weight], _sentence(r.words), r.act) for r in _worth(verdict.reasons)),
        flags=tuple(dict.fromkeys((_sentence(f.words), f.act) for f in mine)),
        elsewhere=tuple(dict.fromkeys(_elsewhere(f, museum) for f in others)),
    )


def _worth(reasons: Sequence[Reason]) -> list[Reason]:
    """Reasons that do something to the standing first; notes last."""
    return sorted(reasons, key=lambda r: list(Weight).index(r.weight))


def _elsewhere(flag: Flag, museum: Museum) -> str:
    code = flag.slot.split(":")[1]
    entry = flag.entry.rpartition(":")[2]
    whose = f", {museum.vehicles[entry].name}" if entry in museum.vehicles else ""
    return f"{code}{whose}: {flag.words}"


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]
