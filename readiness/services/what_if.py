"""What if: one change or several, said in a line, tried on the same draws; only what moves is answered."""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from django.conf import settings

from maintenance.enums import LimitKind
from readiness.engine import state
from readiness.engine.whatif import Change, DayAdded, JobBooked, PartDate, PartOrdered, PersonAway
from readiness.engine.workshop import WorkDay, WorkshopError
from readiness.services.working_out import WORDS, Chance, Clear, Imagined, Worked, standing_of, work_out
from readiness.snapshot import Rows, fetch

EVERY_ROLE = ("lead", "manager", "mechanic")


class NotUnderstood(ValueError):
    """A what-if that names something unknown, or is not one of the forms; the message says what would be right."""


@dataclass(slots=True, kw_only=True)
class Asked:
    """What is to be imagined, in the museum and in the workshop."""

    imagined: list[Imagined] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    words: list[str] = field(default_factory=list)


FORMS = {
    "away": "away P04 [2027-05-01]            a person does not come that day, or at all",
    "in": "in P04 2027-05-01                a person comes on one more day",
    "part": "part PT06 2027-06-01             a part is promised for that day",
    "order": "order PT08 [21]                  a part is ordered now, with its lead time or these days",
    "drop": "drop J05                         a job is left",
    "put-off": 'put-off J34 "arena only"         its defects are put off under a limit, signed as the ladder asks',
    "book": "book J32                         a job that nobody asked for is booked",
    "stand-down": "stand-down V04                   a vehicle is withdrawn",
    "swap": "swap V04 V14 [S6]                another vehicle takes its slots, or one of them",
    "freeze": 'freeze HWW "2027-06-11 18:00"     the freeze is moved',
}


def understand(lines: Sequence[str], museum: state.Museum) -> Asked:
    """Read what-ifs, one a line.

    Raises:
        NotUnderstood: with what is wrong and what would be right.
    """
    asked = Asked()
    for line in lines:
        try:
            words = shlex.split(line)
        except ValueError as error:
            raise NotUnderstood(f"{line!r}: {error}") from error
        if not words or words[0] not in READERS:
            raise NotUnderstood(f"{line!r} is not a what-if. Write one of:\n  " + "\n  ".join(FORMS.values()))
        try:
            READERS[words[0]](words[1:], museum, asked)
        except (IndexError, TypeError, ValueError) as error:
            if isinstance(error, NotUnderstood):
                raise
            raise NotUnderstood(f"{line!r} is not complete. Write: {FORMS[words[0]]}") from error
        asked.words.append(line)
    return asked


def _day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


def _person(uid: str, museum: state.Museum) -> str:
    found = next((p for p in museum.people if p.casefold() == uid.casefold()), None)
    if found is None:
        raise NotUnderstood(f"Nobody has the short name {uid}. Known: {', '.join(sorted(museum.people))}.")
    return found


def _vehicle(uid: str, museum: state.Museum) -> str:
    found = next((v for v in museum.vehicles if v.casefold() == uid.casefold()), None)
    if found is None:
        raise NotUnderstood(
            f"No vehicle has the short name {uid}. Known: {', '.join(sorted(museum.vehicles))}."
        )
    return found


def _job(uid: str, museum: state.Museum) -> tuple[str, str]:
    for vehicle in museum.vehicles.values():
        for job in vehicle.jobs:
            if job.uid.casefold() == uid.casefold():
                return vehicle.uid, job.uid
    raise NotUnderstood(f"No open job is called {uid}.")


def _away(words: list[str], museum: state.Museum, asked: Asked) -> None:
    asked.changes.append(
        PersonAway(hand=_person(words[0], museum), day=_day(words[1]) if len(words) > 1 else None)
    )


def _in(words: list[str], museum: state.Museum, asked: Asked) -> None:
    asked.changes.append(DayAdded(hand=_person(words[0], museum), day=WorkDay.on(_day(words[1]))))


def _part(words: list[str], museum: state.Museum, asked: Asked) -> None:
    asked.changes.append(
        PartDate(delivery=words[0], promised=dt.datetime.combine(_day(words[1]), dt.time(10)))
    )


def _order(words: list[str], museum: state.Museum, asked: Asked) -> None:
    asked.changes.append(
        PartOrdered(delivery=words[0], lead_days=float(words[1]) if len(words) > 1 else None)
    )


def _alter_jobs(vehicle: str, alter: Callable[[state.Job], state.Job | None]) -> Imagined:
    def imagine(museum: state.Museum) -> state.Museum:
        v = museum.vehicles[vehicle]
        jobs = tuple(new for job in v.jobs if (new := alter(job)) is not None)
        return replace(museum, vehicles=museum.vehicles | {vehicle: replace(v, jobs=jobs)})

    return imagine


def _drop(words: list[str], museum: state.Museum, asked: Asked) -> None:
    vehicle, uid = _job(words[0], museum)
    # Left for after the event: its defects stay as they are, and its hours are free for other work.
    asked.imagined.append(
        _alter_jobs(vehicle, lambda j: replace(j, state="carried forward") if j.uid == uid else j)
    )


def _book(words: list[str], museum: state.Museum, asked: Asked) -> None:
    vehicle, uid = _job(words[0], museum)
    asked.imagined.append(_alter_jobs(vehicle, lambda j: replace(j, booked=True) if j.uid == uid else j))
    asked.changes.append(JobBooked(work=uid))


def _put_off(words: list[str], museum: state.Museum, asked: Asked) -> None:
    vehicle, uid = _job(words[0], museum)
    kind = words[1]
    if kind not in LimitKind.values:
        raise NotUnderstood(f"{kind!r} is not a limit. Limits: {', '.join(LimitKind.values)}.")
    signers = tuple((f"what-if-{role}", role) for role in EVERY_ROLE)

    def imagine(whole: state.Museum) -> state.Museum:
        v = whole.vehicles[vehicle]
        defects = tuple(_deferred(d, kind, signers, whole) if uid in d.jobs else d for d in v.defects)
        return replace(whole, vehicles=whole.vehicles | {vehicle: replace(v, defects=defects)})

    asked.imagined.append(imagine)
    _drop([uid], museum, asked)


def _deferred(
    defect: state.Defect, kind: str, signers: tuple[tuple[str, str], ...], museum: state.Museum
) -> state.Defect:
    last = max((e.last_day for e in museum.events), default=museum.now.date())
    limit = state.Limit(uid="what-if", kind=kind, words=kind, text=kind)
    put_off = state.Deferral(
        uid="what-if",
        signed_on=museum.now.date(),
        ends_on=last,
        severity_without=defect.severity or 3,
        probability_without=defect.probability or "C",
        severity_with=defect.severity or 3,
        probability_with="E",
        signers=signers,
        limits=(limit,),
    )
    return replace(defect, deferrals=(*defect.deferrals, put_off))


def _stand_down(words: list[str], museum: state.Museum, asked: Asked) -> None:
    uid = _vehicle(words[0], museum)
    asked.imagined.append(
        lambda whole: replace(
            whole, vehicles=whole.vehicles | {uid: replace(whole.vehicles[uid], status="stood down")}
        )
    )


def _freeze(words: list[str], museum: state.Museum, asked: Asked) -> None:
    code, moment = words[0], dt.datetime.fromisoformat(words[1])
    if all(e.code.casefold() != code.casefold() for e in museum.events):
        raise NotUnderstood(
            f"No event has the code {code}. Known: {', '.join(e.code for e in museum.events)}."
        )
    asked.imagined.append(
        lambda whole: replace(
            whole,
            events=tuple(
                replace(e, freeze=moment) if e.code.casefold() == code.casefold() else e for e in whole.events
            ),
        )
    )


def _swap(words: list[str], museum: state.Museum, asked: Asked) -> None:
    old, new, *only = words
    out, taker = _vehicle(old, museum), _vehicle(new, museum)
    slot = only[0].casefold() if only else ""
    if not any(_is_swapped(e, out, slot) for event in museum.events for e in event.entries):
        raise NotUnderstood(f"{out} is in no slot{f' {only[0]}' if only else ''}: nothing to swap.")

    def imagine(whole: state.Museum) -> state.Museum:
        events, moved = [], []
        for event in whole.events:
            moved += [e for e in event.entries if _is_swapped(e, out, slot)]
            entries = tuple(
                replace(e, vehicle=taker) if _is_swapped(e, out, slot) else e for e in event.entries
            )
            events.append(replace(event, entries=entries))
        uses = tuple(e.use for e in moved)
        vehicle = whole.vehicles[taker]
        # The taker runs up the meters of what it takes over; the other keeps its own forecast, which errs on the safe side.
        planned = tuple(sorted((*vehicle.planned, *uses), key=lambda u: u.at))
        return replace(
            whole, events=tuple(events), vehicles=whole.vehicles | {taker: replace(vehicle, planned=planned)}
        )

    asked.imagined.append(imagine)


def _is_swapped(entry: state.Entry, vehicle: str, slot: str) -> bool:
    return (
        entry.vehicle == vehicle
        and entry.slot.role != "standby"
        and (not slot or entry.slot.code.casefold() == slot)
    )


READERS: dict[str, Callable[[list[str], state.Museum, Asked], None]] = {
    "away": _away,
    "in": _in,
    "part": _part,
    "order": _order,
    "drop": _drop,
    "put-off": _put_off,
    "book": _book,
    "stand-down": _stand_down,
    "swap": _swap,
    "freeze": _freeze,
}


def _clear(standing: str, chance: Chance | None, samples: int) -> Clear | None:
    """In which plays an entry is clear: all where it is fit, none where no work helps, None where it is not judged."""
    if chance is not None:
        return chance.clear
    if standing in {"fit", "limits"}:
        return np.ones(samples, dtype=np.bool_)
    return np.zeros(samples, dtype=np.bool_) if standing in {"barred", "down"} else None


def compare(before: Worked, after: Worked) -> list[dict[str, Any]]:
    """The entries that move: old and new standing and chance, paired difference and its standard error."""
    moved = []
    for uid, (event, entry, _) in before.judged.items():
        if uid not in after.judged:
            continue
        old, old_chance = standing_of(before, uid)
        new, new_chance = standing_of(after, uid)
        a = _clear(old, old_chance, before.samples)
        b = _clear(new, new_chance, before.samples)
        difference = (b.astype(int) - a) if a is not None and b is not None else None
        percents = [c.percent if c is not None else None for c in (old_chance, new_chance)]
        if old == new and percents[0] == percents[1]:
            continue  # what does not change on the board does not move
        vehicle = before.museum.vehicles[entry.vehicle]
        moved.append(
            {
                "entry": uid,
                "event": event.code,
                "slot": entry.slot.code,
                "day": entry.slot.day.isoformat(),
                "vehicle": vehicle.uid,
                "number": vehicle.number,
                "name": vehicle.name,
                "from": {
                    "standing": old,
                    "word": WORDS[old],
                    "percent": old_chance.percent if old_chance else None,
                },
                "to": {
                    "standing": new,
                    "word": WORDS[new],
                    "percent": new_chance.percent if new_chance else None,
                },
                "difference": round(float(difference.mean()), 4) if difference is not None else None,
                "error": round(float(difference.std() / np.sqrt(difference.size)), 5)
                if difference is not None
                else None,
            }
        )
    return sorted(
        moved, key=lambda m: (-abs(m["difference"] if m["difference"] is not None else 1.0), m["entry"])
    )


def what_if(
    lines: Sequence[str],
    *,
    at: dt.datetime | None = None,
    rows: Rows | None = None,
    before: Worked | None = None,
) -> dict[str, Any]:
    """Try what the lines say, and answer only what moves.

    Raises:
        NotUnderstood: a line cannot be read, or names what does not exist.
    """
    rows = rows or fetch(at=at)
    samples, seed = settings.FORECAST_SAMPLES, settings.FORECAST_SEED
    before = before or work_out(rows, samples=samples, seed=seed)
    asked = understand(lines, before.museum)
    after = tried(asked, rows, samples=before.samples, seed=before.seed)
    return {"asked": asked.words, "moved": compare(before, after), "nothing_else_moves": True}


def tried(asked: Asked, rows: Rows, *, samples: int, seed: int) -> Worked:
    """Work out the museum as imagined.

    Raises:
        NotUnderstood: a change names what does not exist.
    """
    try:
        return work_out(rows, samples=samples, seed=seed, imagined=asked.imagined, changes=asked.changes)
    except WorkshopError as error:
        raise NotUnderstood("; ".join(error.problems)) from error
