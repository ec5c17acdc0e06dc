"""The whole-event sheet: one A4 page a day with every vehicle, its people and limits, the slots, and three signatures.

What stands on it is the newest stored assessment and nothing worked out anew, so paper and board say the same.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.urls import reverse
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from fleet.printing import qr_svg, render_page
from fleet.templatetags.look import no_break
from maintenance.enums import NeedState, Timing
from maintenance.models import Inspection, PartNeed
from readiness.engine.gates import ORDER
from readiness.engine.reasons import day_words
from readiness.models import Assessment, Event, Printout
from readiness.queries.programme import (
    LESS_SHOWN,
    DayView,
    EntryView,
    SlotView,
    main_reason,
    number_key,
    programme,
)
from readiness.services.working_out import WORDS

NOT_FIT = ("down", "barred", "unlikely", "unjudged", "doubtful", "open")
SHOWN_ORDER = ("barred", "unlikely", "doubtful", "open", "unjudged", "likely", "limits", "fit", "down")
AWAITED = (NeedState.ON_ORDER, NeedState.OUT_FOR_REPAIR, NeedState.NOT_ORDERED, NeedState.UNKNOWN)
CAUSE_LETTERS = 46
NAME_LETTERS, NUMBER_LETTERS = 20, 15
"""What a slot's row holds on one line; only the balance of the two halves hangs on it."""
FLAG_WORDS = {"crew short": "short in", "time clash": "one person in two places in"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One vehicle on one day."""

    number: str
    name: str
    slots: str
    standing: str
    word: str
    chance: str
    people: str
    limits: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    day: dt.date
    title: str
    light: str
    counts: tuple[tuple[str, str], ...]
    lines: tuple[Line, ...]
    slots: tuple[tuple[SlotView, ...], ...]
    notes: tuple[tuple[str, SafeString], ...]


def short_name(name: str) -> str:
    """`J. Lind`; one name alone stays whole."""
    first, _, rest = name.partition(" ")
    return f"{first[0]}. {rest}" if rest else name


def pages(event: Event, assessment: Assessment | None) -> list[Page]:
    """`event` comes from `event_rows`. One page for each day of the event."""
    result: dict[str, Any] = assessment.result if assessment else {"entries": [], "vehicles": []}
    seen = programme(event, assessment)
    endings, parts = _endings(event), _parts()
    return [_page(day, result, endings, parts) for day in seen.days]


def _endings(event: Event) -> dict[str, list[str]]:
    """Inspections whose last valid day lies within the event, by vehicle."""
    found: dict[str, list[str]] = defaultdict(list)
    rows = Inspection.objects.filter(vehicle__isnull=False, due_on__range=(event.first_day, event.last_day))
    for i in rows.select_related("vehicle").order_by("due_on", "pk"):
        if i.vehicle is not None and i.due_on is not None:
            found[i.vehicle.code].append(f"{i.name}, valid to {day_words(i.due_on)}")
    return found


def _parts() -> dict[str, list[str]]:
    """Parts awaited for work before the event, by vehicle."""
    found: dict[str, list[str]] = defaultdict(list)
    rows = PartNeed.objects.filter(state__in=AWAITED, card__timing=Timing.BEFORE, card__ended_at=None)
    for p in rows.select_related("card__vehicle").order_by("promised_on", "name"):
        if p.card is None:
            continue
        when = (
            f"due {p.promised_on.day} {p.promised_on:%b}"
            if p.promised_on
            else NeedState(p.state).label.lower()
        )
        found[p.card.vehicle.code].append(f"{p.name}, {when}")
    return found


def _page(
    day: DayView, result: dict[str, Any], endings: dict[str, list[str]], parts: dict[str, list[str]]
) -> Page:
    today = day.day.isoformat()
    said = {(e["slot"], e["vehicle"]): e for e in result["entries"] if e["day"] == today}
    by_vehicle: dict[str, list[tuple[SlotView, EntryView]]] = defaultdict(list)
    for slot in day.slots:
        for entry in slot.entries:
            by_vehicle[entry.vehicle].append((slot, entry))
    standby = {e.covers: e.number for s in day.slots for e in s.entries if e.covers}
    lines = [_line(code, pairs, said, standby) for code, pairs in by_vehicle.items()]
    lines += [
        Line(
            number=v["number"], name=v["name"], slots="in no slot", standing="down", word=v["word"], chance="",
            people="", limits="",
        )
        for v in result["vehicles"]
        if v["standing"] == "down" and v["vehicle"] not in by_vehicle
    ]  # fmt: skip
    lines.sort(key=lambda x: number_key(x.number))
    half = _half(day.slots)
    numbers = {code: pairs[0][1].number for code, pairs in by_vehicle.items()}
    notes = [
        ("Not fit when printed", _not_fit(by_vehicle, said)),
        ("Inspections that end during the event", _listed(_with_meters(endings, said), numbers)),
        ("Parts awaited", _listed(parts, numbers)),
        ("People", _flagged(result, today)),
    ]
    return Page(
        day=day.day,
        title=f"{day.day:%A} {day.day.day} {day.day:%B %Y}",
        light=day.light,
        counts=_counts(lines),
        lines=tuple(lines),
        slots=(day.slots[:half], day.slots[half:]),
        notes=tuple((name, words) for name, words in notes if words),
    )


def _half(slots: Sequence[SlotView]) -> int:
    """Where to part the slots so that the longer of the two columns is as short as can be."""
    rows = [
        2
        if len(s.code) + len(s.name) > NAME_LETTERS
        or len(", ".join(e.number for e in s.entries)) > NUMBER_LETTERS
        else 1
        for s in slots
    ]
    return min(range(len(rows) + 1), key=lambda n: (max(sum(rows[:n]), sum(rows[n:])), -n))


def _with_meters(
    endings: dict[str, list[str]], said: dict[tuple[str, str], dict[str, Any]]
) -> dict[str, list[str]]:
    """Endings by date, and those that a meter brings about within the event."""
    found = {code: list(words) for code, words in endings.items()}
    for (_, code), entry in said.items():
        for reason in entry["reasons"]:
            if reason["code"] == "inspection-lapsed" and reason["data"].get("by") == "meter":
                found.setdefault(code, []).append(str(reason["words"]))
    return {code: list(dict.fromkeys(words)) for code, words in found.items()}


def _listed(by_vehicle: dict[str, list[str]], numbers: dict[str, str]) -> SafeString:
    """`42 winch rope, not ordered; 44 slew hose, due 3 Dec`, for the vehicles of the day in number order."""
    return _joined(
        (numbers[c], ", ".join(words)) for c, words in by_vehicle.items() if c in numbers and words
    )


def _joined(pairs: Iterable[tuple[str, str]]) -> SafeString:
    """Number and words of several vehicles as one paragraph, the numbers bold, as a person counts."""
    ordered = sorted(pairs, key=lambda pair: number_key(pair[0]))
    return format_html_join("; ", "<b>{}</b> {}", ((no_break(number), words) for number, words in ordered))


def _flagged(result: dict[str, Any], today: str) -> SafeString:
    """Slots that are short of people, and slots in which somebody is entered twice."""
    found = []
    for flag, words in FLAG_WORDS.items():
        codes = [s["slot"] for s in result.get("slots", []) if s["day"] == today and flag in s["flags"]]
        if codes:
            found.append((words, ", ".join(codes)))
    return format_html_join("; ", "{} {}", found)


def _line(
    code: str,
    pairs: Sequence[tuple[SlotView, EntryView]],
    said: dict[tuple[str, str], dict[str, Any]],
    standby: dict[str, str],
) -> Line:
    entry = pairs[0][1]
    mine = [said[s.code, code] for s, _ in pairs if (s.code, code) in said]
    standing = _worst([e["standing"] for e in mine])
    chances = [e["percent"] for e in mine if e["standing"] == standing and e["percent"] is not None]
    shown, word = LESS_SHOWN.get(standing, (standing, ""))
    drivers = [c.name for _, e in pairs for c in e.crew if c.duty.startswith("Driver")]
    slots = ", ".join(_slot_words(s, e) for s, e in pairs)
    return Line(
        number=entry.number,
        name=entry.name,
        slots=f"{slots}; standby {no_break(standby[entry.number])}" if entry.number in standby else slots,
        standing=shown,
        word=word or (WORDS[standing] if mine else "Not worked out"),
        chance=str(min(chances)) if chances else "",
        people=", ".join(short_name(n) for n in dict.fromkeys(drivers)),
        limits="; ".join(dict.fromkeys(x for e in mine for x in e["limits"])),
    )


def _slot_words(slot: SlotView, entry: EntryView) -> str:
    words = f"{slot.starts:%H:%M} {slot.code}"
    return f"{words} for {entry.covers}" if entry.covers else words


def _worst(standings: Iterable[str]) -> str:
    found = list(standings)
    order = [*ORDER[:2], "open", *ORDER[2:]]
    return min(found, key=order.index) if found else "unjudged"


def _counts(lines: Sequence[Line]) -> tuple[tuple[str, str], ...]:
    found = []
    for code in SHOWN_ORDER:
        n = sum(x.standing == code for x in lines)
        if n:
            found.append((code, f"{n} {WORDS[code].lower()}"))
    return tuple(found)


def _not_fit(
    by_vehicle: dict[str, list[tuple[SlotView, EntryView]]], said: dict[tuple[str, str], dict[str, Any]]
) -> SafeString:
    """Vehicles that are not fit as the board stands, each with the slots that it holds and its worst reason."""
    found = []
    for code, pairs in by_vehicle.items():
        held = [
            (s, said[s.code, code])
            for s, _ in pairs
            if said.get((s.code, code), {}).get("standing") in NOT_FIT
        ]
        if held:
            worst = min(held, key=lambda pair: NOT_FIT.index(pair[1]["standing"]))[1]
            codes = ", ".join(s.code for s, _ in held)
            found.append((pairs[0][1].number, f"({codes}) {cause_words(main_reason(worst))}"))
    return _joined(found)


def cause_words(words: str) -> str:
    """The cause as far as a line holds it, cut at a word and marked as cut; the board has the rest."""
    if len(words) <= CAUSE_LETTERS:
        return words
    return words[: CAUSE_LETTERS + 1].rsplit(" ", 1)[0].rstrip(" ,;:") + " ..."


def event_sheet(event: Event, assessment: Assessment | None, printout: Printout) -> bytes:
    """The sheet of every day of the event as one PDF."""
    link = f"{settings.SITE_ADDRESS}{reverse('readiness:event', args=[event.code])}"
    return render_page(
        "print/event_sheet.html",
        {
            "event": event,
            "pages": pages(event, assessment),
            "printed_at": printout.printed_at,
            "judged_at": assessment.judged_at if assessment else None,
            "version": printout.version,
            "code": printout.code,
            "is_after_freeze": printout.printed_at >= event.freeze_at,
            "qr": qr_svg(link, label=f"Code that opens the programme of {event.name}", mm=20),
        },
    )
