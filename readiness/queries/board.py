"""The readiness board as frozen rows, read from one stored assessment and nothing else."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from fleet.http import museum
from readiness import charts
from readiness.engine.reasons import day_words
from readiness.models import Assessment, Event
from readiness.services.working_out import WORDS

GROUPS = (
    ("needs", "Needs a decision", ("barred", "unlikely", "doubtful", "unjudged", "open")),
    ("hand", "In hand", ("likely",)),
    ("rail", "On the rail", ("fit", "limits", "down")),
)
ORDER = ("barred", "unlikely", "doubtful", "open", "unjudged", "likely", "limits", "fit", "down")
BLOCKING = ("barred", "down", "open", "unjudged")
KINDS = {"own": "", "waiting": "waiting for ", "behind": "behind "}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    vehicle: str
    number: str
    name: str
    role: str
    standing: str
    word: str
    percent: int | None
    tape: charts.Tape
    held: str
    who: str
    act: str
    limits: tuple[str, ...]
    slot_said: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    key: str
    title: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotRow:
    time: str
    code: str
    name: str
    numbers: tuple[str, ...]
    note: str
    tenths: int | None
    with_standby: int | None
    word: str
    flags: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    title: str
    slots: tuple[SlotRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    event: Event
    assessment: Assessment | None
    fresh: bool
    groups: tuple[Group, ...]
    counts: tuple[tuple[str, str, int], ...]
    days: tuple[Day, ...]
    rule: charts.DayRule | None
    verdict_strong: str
    verdict: str
    days_to_freeze: int
    days_to_drive: int
    first_drive: str
    jobs: int = 0
    parts: int = 0
    problems: tuple[str, ...] = ()


def local(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)


def entry_by_id(result: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {e["id"]: e for e in result["entries"]}


def held_words(entry: dict[str, Any]) -> str:
    """What holds an entry, in one line: the reason that no work answers, else the worst one."""
    reasons = [r for weight in BLOCKING for r in entry["reasons"] if r["weight"] == weight]
    if not reasons:
        limits = [r["words"] for r in entry["reasons"] if r["weight"] == "limit"]
        return limits[0] if limits else "Nothing holds it"
    no_work = next(
        (r for r in reasons if r["weight"] == "open" and not r["clears"] and r["act"] and not r.get("sure")),
        None,
    )
    chosen = reasons[0] if reasons[0]["weight"] in {"barred", "down"} else no_work or reasons[0]
    return str(chosen["data"].get("label") or chosen["words"])


def next_act(entry: dict[str, Any], takers: dict[str, tuple[str, str]]) -> tuple[str, str]:
    """Who, and what they do next: a person's act first, else what the forecast says takes the time."""
    for weight in BLOCKING:
        for reason in entry["reasons"]:
            if reason["weight"] == weight and reason["act"]:
                return "", _sentence(reason["act"])
    if not entry["holds"]:
        return "", ""
    top = entry["holds"][0]
    if top["kind"] == "own":
        who, serial = takers.get(top["subject"], ("", ""))
        return who or "No one has it", f"job {serial} takes the most time" if serial else top["label"]
    return "", f"{_sentence(KINDS[top['kind']])}{top['label']}"


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def board(event: Event, assessment: Assessment | None, takers: dict[str, tuple[str, str]]) -> Board:
    """Everything that the board shows of one event."""
    today = timezone.localdate()
    freeze = timezone.localtime(event.freeze_at).replace(tzinfo=None)
    scale = charts.scale_of(today, freeze, event.last_day)
    rule = charts.day_rule(scale, freeze=freeze, first_day=event.first_day, last_day=event.last_day)
    result = (
        assessment.result if assessment else {"entries": [], "vehicles": [], "slots": [], "worked_from": {}}
    )
    entries = entry_by_id(result)
    rows = [
        _row(
            v,
            entries.get(v["entry"]),
            [e for e in result["entries"] if e["vehicle"] == v["vehicle"]],
            scale,
            freeze,
            takers,
        )
        for v in result["vehicles"]
    ]
    rows.sort(key=lambda r: (ORDER.index(r.standing), r.percent if r.percent is not None else -1, r.number))
    groups = tuple(
        Group(key=k, title=t, rows=tuple(r for r in rows if r.standing in s)) for k, t, s in GROUPS
    )
    counts = tuple((s, WORDS[s].lower(), n) for s in ORDER if (n := sum(r.standing == s for r in rows)))
    days = _days(result)
    moving = [local(s["starts"]) for s in result["slots"] if s["role"] not in {"static", "standby"}]
    first = min(moving, default=dt.datetime.combine(event.first_day, dt.time(0)))
    strong, verdict = _verdict(result, days)
    return Board(
        event=event,
        assessment=assessment,
        fresh=event.wanted_at is None,
        groups=groups,
        counts=counts,
        days=days,
        rule=rule,
        verdict_strong=strong,
        verdict=verdict,
        days_to_freeze=max((freeze.date() - today).days, 0),
        days_to_drive=max((first.date() - today).days, 0),
        first_drive=f"{day_words(first.date())}, {first:%H:%M}",
        jobs=result["worked_from"].get("jobs", 0),
        parts=result["worked_from"].get("parts", 0),
        problems=tuple(result.get("problems", [])),
    )


def _row(
    vehicle: dict[str, Any],
    entry: dict[str, Any] | None,
    mine: list[dict[str, Any]],
    scale: charts.Scale,
    freeze: dt.datetime,
    takers: dict[str, tuple[str, str]],
) -> Row:
    standing = vehicle["standing"]
    if entry is None:
        tape = charts.tape(scale, freeze=freeze, even=None, eight=None, percent=None, standing=standing)
        return Row(
            vehicle=vehicle["vehicle"],
            number=vehicle["number"],
            name=vehicle["name"],
            role="In no slot",
            standing=standing,
            word=vehicle["word"],
            percent=None,
            tape=tape,
            held="",
            who="",
            act="",
            limits=(),
            slot_said=(),
        )
    even = local(entry["even"]) if entry["even"] else None
    eight = local(entry["eight_in_ten"]) if entry["eight_in_ten"] else None
    who, act = next_act(entry, takers)
    day = local(entry["starts"])
    return Row(
        vehicle=vehicle["vehicle"],
        number=vehicle["number"],
        name=vehicle["name"],
        role=f"{entry['slot_name']}, {day:%a}",
        standing=standing,
        word=vehicle["word"],
        percent=entry["percent"],
        tape=charts.tape(
            scale, freeze=freeze, even=even, eight=eight, percent=entry["percent"], standing=standing
        ),
        held=_sentence(held_words(entry)),
        who=who,
        act=act,
        limits=tuple(dict.fromkeys(x for e in mine for x in e["limits"])),
        slot_said=tuple(sorted({f for e in mine for f in e["flags"]})),
    )


def _days(result: dict[str, Any]) -> tuple[Day, ...]:
    row = museum()
    thin = row.thin_at if row else 7
    numbers = {v["vehicle"]: v["number"] for v in result["vehicles"]}
    found: dict[str, list[SlotRow]] = {}
    for s in result["slots"]:
        if s["role"] == "standby" or not s["vehicles"]:
            continue
        cover = s["cover"]
        alone = int(cover["as_entered"] * 10) if cover else None
        either = int((cover["as_entered"] + cover["with_standby"]) * 10) if cover else None
        best = either if either is not None else 10
        word = "Open" if best < thin else "Thin" if best == thin else ""
        standby = [numbers.get(v, v) for v in (cover or {}).get("standbys", [])]
        note = f"standby {', '.join(standby)}" if standby else "no standby"
        found.setdefault(s["day"], []).append(
            SlotRow(
                time=f"{local(s['starts']):%H:%M}",
                code=s["slot"],
                name=s["name"],
                numbers=tuple(numbers.get(v, v) for v in s["vehicles"]),
                note=note,
                tenths=alone,
                with_standby=either,
                word=word,
                flags=tuple(s["flags"]),
            )
        )
    return tuple(
        Day(title=day_words(dt.date.fromisoformat(day)), slots=tuple(slots))
        for day, slots in sorted(found.items())
    )


NUMERALS = (
    "No",
    "One",
    "Two",
    "Three",
    "Four",
    "Five",
    "Six",
    "Seven",
    "Eight",
    "Nine",
    "Ten",
    "Eleven",
    "Twelve",
)


def count_words(n: int) -> str:
    return NUMERALS[n] if n < len(NUMERALS) else str(n)


def _verdict(result: dict[str, Any], days: tuple[Day, ...]) -> tuple[str, str]:
    """The one sentence under the event's name."""
    slots = [s for day in days for s in day.slots]
    if not slots:
        return "", "No vehicle is entered in any slot yet."
    if any(s.tenths is None for s in slots):
        return "", "The chances are not worked out yet."
    held = [s for s in slots if not s.word]
    strong = f"{count_words(len(held))} of {count_words(len(slots)).lower()} slots are covered."
    worst = [
        f"{s.code} {s.name}, {day.title.split(' ')[0]}" for day in days for s in day.slots if s.word == "Open"
    ]
    if not worst:
        return strong, ""
    shown = "; ".join(worst[:3]) + (f"; and {len(worst) - 3} more" if len(worst) > 3 else "")
    return strong, f"Open: {shown}."
