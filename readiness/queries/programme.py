"""The programme as frozen rows: events, and one event by day and slot with what the latest assessment says of it."""

from __future__ import annotations

import datetime as dt
import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Prefetch
from django.utils import timezone

from fleet.http import museum
from readiness.engine.reasons import day_words
from readiness.enums import EventState, Role
from readiness.models import Assessment, Crew, Entry, Event, Rehearsal, Slot

LESS_SHOWN = {"open": ("unjudged", "Open")}
"""Gates open and no chance worked out yet: the shape of what is not known, with its own word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EventLine:
    code: str
    name: str
    place: str
    when: str
    freeze: dt.datetime
    state: str
    state_word: str
    slots: int
    is_past: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewView:
    duty: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Somebody who is missing, not checked, or in two places."""

    label: str
    words: str
    act: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryView:
    pk: int
    vehicle: str
    number: str
    name: str
    covers: str
    ready_minutes: int | None
    note: str
    standing: str
    word: str
    percent: int | None
    limits: tuple[str, ...]
    why: str
    crew: tuple[CrewView, ...]
    gaps: tuple[Gap, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotView:
    pk: int
    code: str
    name: str
    role: str
    role_word: str
    starts: dt.datetime
    ends: dt.datetime
    place: str
    notes: str
    figures: str
    at_least: int | None
    entries: tuple[EntryView, ...]
    crew: tuple[CrewView, ...]
    gaps: tuple[Gap, ...]
    tenths: int | None
    with_standby: int | None
    cover_word: str
    standbys: tuple[str, ...]

    @property
    def hours(self) -> str:
        return f"{self.starts:%H:%M}–{self.ends:%H:%M}"


@dataclass(frozen=True, slots=True, kw_only=True)
class DayView:
    day: dt.date
    title: str
    sunrise: dt.time | None
    sunset: dt.time | None
    slots: tuple[SlotView, ...]

    @property
    def light(self) -> str:
        if self.sunrise is None or self.sunset is None:
            return "The hours of daylight are not written down"
        return f"Daylight {self.sunrise:%H:%M} to {self.sunset:%H:%M}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    event: Event
    days: tuple[DayView, ...]
    rehearsals: tuple[Rehearsal, ...]
    worked_at: dt.datetime | None
    waits: bool
    problems: tuple[str, ...]

    @property
    def slots(self) -> int:
        return sum(len(d.slots) for d in self.days)


def number_key(number: str) -> tuple[str, int, str]:
    """`T 9` before `T 12`, `7` before `12`: as a person counts."""
    match = re.search(r"\d+", number)
    return (number[: match.start()].strip() if match else number, int(match.group()) if match else 0, number)


def range_words(first: dt.date, last: dt.date) -> str:
    """`Sat 13 and Sun 14 June 2026`, or one day, or from and to."""
    if first == last:
        return f"{day_words(first)} {first:%Y}"
    joint = " and " if (last - first).days == 1 else " to "
    start = f"{first:%a} {first.day}" + ("" if first.month == last.month else f" {first:%B}")
    return f"{start}{joint}{day_words(last)} {last:%Y}"


def events() -> list[EventLine]:
    """All events, those to come first and by day; then what is past or called off, newest first."""
    today = timezone.localdate()
    rows = [
        EventLine(
            code=e.code,
            name=e.name,
            place=e.place,
            when=range_words(e.first_day, e.last_day),
            freeze=timezone.localtime(e.freeze_at),
            state=e.state,
            state_word=e.get_state_display(),
            slots=e.slot_count,
            is_past=e.state != EventState.PLANNED or e.last_day < today,
        )
        for e in Event.objects.annotate(slot_count=Count("slots")).order_by("first_day", "pk")
    ]
    return [r for r in rows if not r.is_past] + [r for r in reversed(rows) if r.is_past]


def has_run(event: Event) -> bool:
    """Whether a slot of it has ended; its slots are fetched already."""
    now = timezone.now()
    return event.state != EventState.CALLED_OFF and any(s.ends_at <= now for s in event.slots.all())


def event_rows(code: str) -> Event | None:
    """One event with everything its page shows, in a fixed number of queries."""
    entries = Entry.objects.select_related("vehicle", "covers").prefetch_related("crew__person")
    slots = Slot.objects.prefetch_related(
        Prefetch("entries", entries.order_by("vehicle__number")),
        Prefetch("crew", Crew.objects.filter(entry=None).select_related("person"), to_attr="whole_crew"),
    )
    return (
        Event.objects.filter(code=code)
        .prefetch_related(
            "event_days",
            Prefetch("slots", slots.order_by("starts_at", "code", "pk")),
            Prefetch("rehearsals", Rehearsal.objects.select_related("vehicle").order_by("day", "vehicle")),
        )
        .first()
    )


def programme(event: Event, assessment: Assessment | None) -> Programme:
    """`event` comes from `event_rows`; what is not in the assessment yet stands without a standing."""
    result: dict[str, Any] = assessment.result if assessment else {}
    entries = {(e["slot"], e["starts"], e["vehicle"]): e for e in result.get("entries", [])}
    slots = {(s["slot"], s["starts"]): s for s in result.get("slots", [])}
    numbers = {v["vehicle"]: v["number"] for v in result.get("vehicles", [])}
    light = {d.day: d for d in event.event_days.all()}
    by_day: dict[dt.date, list[SlotView]] = defaultdict(list)
    for slot in event.slots.all():
        view = _slot(slot, slots, entries, numbers)
        by_day[view.starts.date()].append(view)
    days = sorted({*event.days, *by_day})
    return Programme(
        event=event,
        days=tuple(
            DayView(
                day=day,
                title=day_words(day),
                sunrise=light[day].sunrise if day in light else None,
                sunset=light[day].sunset if day in light else None,
                slots=tuple(by_day[day]),
            )
            for day in days
        ),
        rehearsals=tuple(event.rehearsals.all()),
        worked_at=assessment.judged_at if assessment else None,
        waits=event.wanted_at is not None or assessment is None,
        problems=tuple(result.get("problems", [])),
    )


def _naive(moment: dt.datetime) -> dt.datetime:
    return timezone.localtime(moment).replace(tzinfo=None)


def _slot(
    slot: Slot,
    slots: dict[tuple[str, str], dict[str, Any]],
    entries: dict[tuple[str, str, str], dict[str, Any]],
    numbers: dict[str, str],
) -> SlotView:
    starts = _naive(slot.starts_at)
    said = slots.get((slot.code, starts.isoformat()), {})
    tenths, both, word = cover_of(said.get("cover"))
    whole = [f for f in said.get("flag_details", []) if not f["entry"]]
    return SlotView(
        pk=slot.pk,
        code=slot.code,
        name=slot.name,
        role=slot.role,
        role_word=Role(slot.role).label,
        starts=starts,
        ends=_naive(slot.ends_at),
        place=slot.place,
        notes=slot.notes,
        figures=_figures(slot),
        at_least=slot.at_least,
        entries=tuple(
            _entry(e, entries.get((slot.code, starts.isoformat(), e.vehicle.code)))
            for e in sorted(slot.entries.all(), key=lambda e: number_key(e.vehicle.number))
        ),
        crew=_crew(getattr(slot, "whole_crew", ())),
        gaps=_gaps(whole),
        tenths=tenths,
        with_standby=both,
        cover_word=word,
        standbys=tuple(numbers.get(v, v) for v in (said.get("cover") or {}).get("standbys", [])),
    )


def _figures(slot: Slot) -> str:
    said = [
        (slot.distance_km, "{} km"),
        (slot.hours, "{} h at the engine"),
        (slot.speed_kmh, "up to {} km/h"),
        (slot.runs, "{} runs"),
    ]
    figures = [words.format(_plain(value)) for value, words in said if value is not None]
    if slot.also_asks:
        figures.append("also asks " + ", ".join(slot.also_asks))
    if slot.at_least is not None:
        figures.append(f"{slot.at_least} must run")
    return ", ".join(figures)


def _plain(value: Any) -> str:
    return f"{value:f}".rstrip("0").rstrip(".") if hasattr(value, "as_tuple") else str(value)


def _crew(rows: Iterable[Crew]) -> tuple[CrewView, ...]:
    return tuple(
        CrewView(duty=c.get_duty_display(), name=c.person.name if c.person else f"{c.borrowed} (borrowed)")
        for c in rows
    )


GAP_WORDS = {"crew short": "Short", "time clash": "Clash"}


def _gaps(flags: Iterable[dict[str, str]]) -> tuple[Gap, ...]:
    """What is said of the people of an entry or a slot: one line a person and kind, the first in full, the rest counted."""
    found: dict[tuple[str, str], list[dict[str, str]]] = {}
    for n, f in enumerate(flags):
        found.setdefault((f["flag"], f["person"] or str(n)), []).append(f)
    told: dict[str, Gap] = {}
    for (flag, _), some in found.items():
        first, more = some[0], len({f["words"] for f in some}) - 1
        words = first["words"][:1].upper() + first["words"][1:] + (f", and {more} more" if more else "")
        told.setdefault(words, Gap(label=GAP_WORDS[flag], words=words, act=first["act"]))
    return tuple(told.values())


def _entry(entry: Entry, said: dict[str, Any] | None) -> EntryView:
    code = said["standing"] if said else ""
    shown, word = LESS_SHOWN.get(code, (code, ""))
    return EntryView(
        pk=entry.pk,
        vehicle=entry.vehicle.code,
        number=entry.vehicle.number,
        name=entry.vehicle.name,
        covers=entry.covers.number if entry.covers else "",
        ready_minutes=entry.ready_minutes,
        note=entry.note,
        standing=shown,
        word=word,
        percent=said["percent"] if said else None,
        limits=tuple(said["limits"]) if said else (),
        why=main_reason(said) if said else "",
        crew=_crew(entry.crew.all()),
        gaps=_gaps(said["flag_details"]) if said else (),
    )


def main_reason(entry: dict[str, Any]) -> str:
    """The worst thing said of an entry, in its own words; empty for one that is fit."""
    for weight in ("down", "barred", "open", "unjudged"):
        for reason in entry["reasons"]:
            if reason["weight"] == weight:
                return str(reason["words"])
    return ""


def cover_of(cover: dict[str, Any] | None) -> tuple[int | None, int | None, str]:
    """Tenths as entered, tenths with standby, and the word: Open under the museum's Thin, Thin at it."""
    if not cover:
        return None, None, ""
    row = museum()
    thin = row.thin_at if row else 7
    alone = int(cover["as_entered"] * 10)
    both = int((cover["as_entered"] + cover["with_standby"]) * 10)
    return alone, both, "Open" if both < thin else "Thin" if both == thin else ""
