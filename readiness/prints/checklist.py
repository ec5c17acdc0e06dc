"""The pre-event checklist of one vehicle: one A4 sheet that says how it stood when it was printed."""

from __future__ import annotations

import datetime as dt
import hashlib
from typing import Any

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from fleet.models import Subsystem, Vehicle
from fleet.printing import qr_svg, render_page
from maintenance.models import Inspection, Measure, Tag
from readiness.models import Assessment, Event
from readiness.queries.vehicle_page import Page, page
from readiness.walk_round import LEFT, RIGHT, Section, sections

JUDGED_ALONE = frozenset({"min", "max", "range"})
"""Limits that one figure on its own is held against; a spread needs the others too."""
CODE_LETTERS = "ACDEFHJKLMNPRTUVWXY3479"


def sheet_code(event: Event, vehicle: Vehicle, assessment: Assessment | None) -> str:
    """A code to type when the square will not scan: the same sheet of the same board always has the same code."""
    said = f"{event.code}|{vehicle.code}|{assessment.input_hash if assessment else ''}"
    digest = hashlib.sha256(said.encode()).digest()
    return "".join(CODE_LETTERS[byte % len(CODE_LETTERS)] for byte in digest[:6])


def _entries(found: Page) -> list[dict[str, str]]:
    """Slots under the standing that they have in common, in the order of the programme."""
    by_word: dict[str, list[str]] = {}
    for e in found.entries:
        by_word.setdefault(e["word"], []).append(f"{e['slot']} {e['day_words'][:3]} {e['starts_words']}")
    return [{"word": word, "slots": ", ".join(slots)} for word, slots in by_word.items()]


def _open_cards(found: Page) -> list[dict[str, str]]:
    """Cards that still hold an entry, each once, with the words of the reason."""
    by_name = {c.code or c.serial: c for c in found.cards}
    needed = dict.fromkeys(uid for e in found.entries for uid in e["needs"])
    cards = [by_name[uid] for uid in needed if uid in by_name]
    return [
        {
            "serial": c.serial,
            "title": c.title,
            "signed": "closed and signed twice" if c.second_area else "closed",
        }
        for c in cards
    ]


def _other_acts(found: Page) -> list[str]:
    """Gates that no card clears: what a person must do, each once."""
    acts = [
        f"{r['data'].get('label') or r['words']}: {r['act']}"
        for e in found.entries
        for r in e["reasons"]
        if r["weight"] in {"open", "barred", "unjudged"}
        and r["act"]
        and not any(not n.startswith("inspection:") for n in r["clears"])
    ]
    return list(dict.fromkeys(acts))


def _inspections(vehicle: Vehicle, last: dt.date) -> list[dict[str, str]]:
    rows = Inspection.objects.filter(vehicle=vehicle).order_by("due_on", "pk")
    found = []
    for row in rows:
        good = (
            row.voided_at is None
            and not (row.never_done and row.due_on is None)
            and (row.due_on is None or row.due_on >= last)
        )
        found.append(
            {
                "name": row.name,
                "due": "void"
                if row.voided_at
                else f"{row.due_on:%a} {row.due_on.day} {row.due_on:%b}"
                if row.due_on
                else "by meter",
                "valid": "yes" if good else "NO",
            }
        )
    return found


def _with_readings(found: list[Section], measures: list[Measure]) -> list[dict[str, Any]]:
    """Sections for the template, each line with the museum's own limit where one is on file."""
    by_system: dict[str, Measure] = {}
    for measure in measures:
        if measure.judgement in JUDGED_ALONE and (measure.low is not None or measure.high is not None):
            by_system.setdefault(measure.system.split(".", 1)[0], measure)
    return [
        {
            "title": s.title,
            "looks": [
                {
                    "text": x.text,
                    "blank": x.blank,
                    "limit": _limit(by_system.get(x.system), x.blank) if x.system and x.blank else "",
                }
                for x in s.looks
            ],
        }
        for s in found
    ]


def _limit(measure: Measure | None, unit: str) -> str:
    if measure is None or measure.unit != unit:
        return ""
    low = f"{measure.low.normalize():f}" if measure.low is not None else ""
    high = f"{measure.high.normalize():f}" if measure.high is not None else ""
    return f"{low} to {high}" if low and high else f"{low} least" if low else f"{high} most"


def context(event: Event, vehicle: Vehicle, assessment: Assessment | None) -> dict[str, Any]:
    """Everything on the sheet."""
    code = sheet_code(event, vehicle, assessment)
    found = page(vehicle, event, assessment)
    systems = list(Subsystem.objects.filter(vehicle=vehicle, parent=None).values_list("code", flat=True))
    measures = list(Measure.objects.filter(vehicle=vehicle).order_by("pk"))
    address = f"{settings.SITE_ADDRESS}{reverse('readiness:vehicle', args=[vehicle.code])}"
    return {
        "event": event,
        "vehicle": vehicle,
        "page": found,
        "entries": _entries(found),
        "cards": _open_cards(found),
        "acts": _other_acts(found),
        "tag": Tag.objects.filter(vehicle=vehicle, lifted_at=None).first(),
        "inspections": _inspections(vehicle, event.last_day),
        "left": _with_readings(sections(LEFT, systems), measures),
        "right": _with_readings(sections(RIGHT, systems), measures),
        "qr": qr_svg(address, label=f"Code that opens the live page, {code}"),
        "code": code,
        "version": assessment.pk if assessment else 0,
        "printed_at": timezone.localtime(),
        "judged_at": assessment.judged_at if assessment else None,
    }


def checklist(event: Event, vehicle: Vehicle, assessment: Assessment | None) -> bytes:
    """Render the sheet. Nothing is written: asking for a paper changes nothing."""
    return render_page("print/checklist.html", context(event, vehicle, assessment))
