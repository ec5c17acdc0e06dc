"""The parts that pages are built from: one tag, one part, one template in templates/parts/.

docs/look.md lists every part with its arguments. Geometry is written as SVG presentation attributes,
never as a style attribute, so that a strict content policy holds. Numbers that go into an attribute are
turned to text here, because a localised template would write a decimal comma.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django import template
from django.forms import BoundField
from django.urls import NoReverseMatch, reverse

from fleet.templatetags.look_geometry import (
    Box,
    DayRule,
    Sight,
    Tape,
    needle,
    pct,
    rule_box,
    sight_box,
    tape_box,
)

register = template.Library()

NBSP = "\u00a0"

STANDINGS: dict[str, str] = {
    "barred": "Barred",
    "unlikely": "Unlikely",
    "doubtful": "Doubtful",
    "unjudged": "Not judged",
    "likely": "Likely",
    "limits": "Fit with limits",
    "fit": "Fit",
    "down": "Stood down",
}
"""Code to word, in the order of trouble."""

EFFECTS: dict[str, str] = {
    "stops": "Stops running",
    "limits": "Limits running",
    "watch": "Watch",
    "none": "No bearing on running",
    "unknown": "Not assessed",
}
SENDING: dict[str, str] = {"kept": "pocket", "sending": "arrow", "sent": "tick", "refused": "cross"}
ANSWERS: dict[str, tuple[str, str]] = {
    "within": ("fit", "okv"),
    "near": ("fit", "nearv"),
    "past": ("unlikely", "badv"),
    "unsure": ("unjudged", "unsurev"),
}
PANEL_SIZES = (15, 20, 26, 34, 40)
STENCIL_LEAST = 20  # px: under it the stencilled 4 sheds a stray stub, and the plate face stands in

NAV: tuple[tuple[str, str, str, str], ...] = (
    ("Readiness", "readiness:board", "/", "readiness"),
    ("Vehicles", "fleet:vehicles", "/vehicles/", "vehicles"),
    ("Workshop", "maintenance:workshop", "/workshop/", "workshop"),
    ("Stores", "maintenance:stores", "/stores/", "stores"),
    ("Programme", "readiness:programme", "/programme/", "programme"),
    ("Record book", "readiness:record_book", "/record/", "record"),
)
FOOT: tuple[tuple[str, str, str, str], ...] = (
    ("Readiness", "readiness:board", "/", "readiness"),
    ("Vehicles", "fleet:vehicles", "/vehicles/", "vehicles"),
    ("Scan a tag", "maintenance:scan", "/scan/", "scan"),
    ("My jobs", "maintenance:my_jobs", "/jobs/mine/", "jobs"),
)


def known(code: str, codes: Mapping[str, Any], what: str) -> str:
    """A misspelt code must not draw an empty shape, which would read as nothing wrong."""
    if code not in codes:
        raise ValueError(f"{code!r} is no {what}; known: {', '.join(codes)}")
    return code


@register.filter
def no_break(number: object) -> str:
    """'T 09' or 'T09' with a no-break space, so that a letter never parts from its number at a line's end."""
    text = str(number).strip()
    match = re.fullmatch(r"([^\W\d_]+)[\s\u00a0]*(\d.*)", text)
    return (NBSP.join(match.groups()) if match else text).replace(" ", NBSP)


@register.inclusion_tag("parts/standing.html")
def standing(code: str, size: int = 20, word: str = "") -> Box:
    """Shape and word. ``word`` replaces the word only where a verdict borrows the shape."""
    return {"code": known(code, STANDINGS, "standing"), "size": size, "word": word or STANDINGS[code]}


@register.inclusion_tag("parts/shape.html")
def shape(code: str, size: int = 20) -> Box:
    """The shape alone, hidden from readers aloud: only beside words that say the same."""
    return {"code": known(code, STANDINGS, "standing"), "size": size}


@register.simple_tag
def standing_word(code: str) -> str:
    return STANDINGS[known(code, STANDINGS, "standing")]


@register.inclusion_tag("parts/print_shape.html")
def print_shape(code: str, size: str = "4.2mm") -> Box:
    """The shape in black and white, whole in itself: paper has no sprite and no custom properties."""
    return {"code": known(code, STANDINGS, "standing"), "size": size}


@register.inclusion_tag("parts/number_panel.html")
def number_panel(number: object, size: int = 20, href: str = "", extra: str = "") -> Box:
    if size not in PANEL_SIZES:
        raise ValueError(f"a number panel is {PANEL_SIZES} px, not {size}")
    return {
        "number": no_break(number),
        "size": size,
        "stencil": size >= STENCIL_LEAST,
        "href": href,
        "extra": extra,
    }


@register.inclusion_tag("parts/pegs.html")
def pegs(tenths: int, standby_tenths: int | None = None, word: str = "") -> Box:
    """Ten pegs: solid as entered, hollow only with standby (``standby_tenths`` counts both), stub missing."""
    entered = min(max(int(tenths), 0), 10)
    together = entered if standby_tenths is None else min(max(int(standby_tenths), entered), 10)
    row = [
        {"x": 9 * i + 1, "kind": "solid" if i < entered else "standby" if i < together else "stub"}
        for i in range(10)
    ]
    return {"pegs": row, "entered": entered, "together": together, "word": word}


@register.inclusion_tag("parts/drum.html")
def drum(value: object, label: str, tenth: bool = False, digits: int = 0, size: str = "") -> Box:
    """A counter: one cell a digit, one label for the whole. ``digits`` pads with noughts."""
    text = str(value).replace(",", "").replace(" ", "")
    return {"cells": list(text.rjust(digits, "0")), "label": label, "tenth": tenth, "size": size}


@register.inclusion_tag("parts/defect_mark.html")
def defect_mark(effect: str, size: int = 22, word: bool = False) -> Box:
    return {
        "effect": known(effect, EFFECTS, "defect effect"),
        "size": size,
        "word": EFFECTS[effect] if word else "",
    }


@register.inclusion_tag("parts/dial.html")
def dial(position: float | None = None) -> Box:
    """Three painted sectors and a needle at ``position`` of the sweep, 0 to 1; None draws no needle.

    The near sector begins at 0.63 and the limit lies at 0.79, so a reading stands in the sector that its
    word names. Hidden from readers aloud: the word stands beside it.
    """
    return {"needle": needle(position)}


@register.inclusion_tag("parts/sending.html")
def sending(state: str, head: str, detail: str = "", hidden: bool = False) -> Box:
    """The strip under a phone's head: kept, sending, sent or refused; count first, then what happens next.

    ``hidden`` leaves it for a script to show: the server cannot know what a phone still keeps.
    """
    return {
        "state": known(state, SENDING, "sending state"),
        "mark": SENDING[state],
        "head": head,
        "detail": detail,
        "hidden": hidden,
    }


@register.inclusion_tag("parts/limit_plate.html")
def limit_plate(value: object = "", unit: str = "") -> Box:
    text = "" if value is None else str(value)
    return {"value": text, "unit": unit, "words": not any(c.isdigit() for c in text)}


@register.inclusion_tag("parts/caution.html")
def caution(
    title: str,
    lines: Sequence[str] = (),
    *,
    cautions: Sequence[str] = (),
    notes: Sequence[str] = (),
    level: int = 2,
    id: str = "h-caution",  # the name of the HTML attribute
) -> Box:
    """The sign for what can hurt a person, with plain lines below it for what can hurt the vehicle."""
    return {"title": title, "lines": lines, "cautions": cautions, "notes": notes, "level": level, "id": id}


@register.inclusion_tag("parts/ledger_head.html")
def ledger_head(
    title: str,
    end: str = "",
    *,
    href: str = "",
    level: int = 2,
    id: str = "",  # the name of the HTML attribute
    spaced: bool = False,
    count: int | None = None,
) -> Box:
    return {
        "title": title,
        "end": end,
        "href": href,
        "level": level,
        "id": id,
        "spaced": spaced,
        "count": count,
    }


@register.inclusion_tag("parts/answer.html")
def answer(kind: str, head: str, detail: str = "", id: str = "") -> Box:  # the name of the HTML attribute
    """A reading's verdict: within, near, past or unsure. ``id`` lets the field point to it."""
    code, css = ANSWERS[known(kind, ANSWERS, "answer")]
    return {"code": code, "css": css, "head": head, "detail": detail, "id": id}


@register.inclusion_tag("parts/date_tape.html")
def date_tape(tape: Tape) -> Box:
    return tape_box(tape)


@register.inclusion_tag("parts/freeze_line.html")
def freeze_line(freeze_pct: float | None) -> Box:
    """The freeze line alone, to carry it through a group head."""
    return {"freeze": None if freeze_pct is None else pct(min(max(freeze_pct, 0.0), 100.0))}


@register.inclusion_tag("parts/day_rule.html")
def day_rule(rule: DayRule) -> Box:
    return rule_box(rule)


@register.inclusion_tag("parts/sight.html")
def sight(strip: Sight) -> Box:
    return sight_box(strip)


@register.inclusion_tag("parts/field.html")
def field(bound: BoundField, short: str = "") -> Box:
    """One form field: label, control, help, what is wrong. ``short`` is 'short' or 'mid' for a narrow control."""
    return {
        "field": bound,
        "short": short,
        "check": getattr(bound.field.widget, "input_type", "") == "checkbox" and not bound.use_fieldset,
    }


@register.simple_tag
def stamp(moment: datetime) -> str:
    """'Wed 3 June, 13:26', in the time zone that is active; no leading nought on a day."""
    from django.utils import timezone

    local = timezone.localtime(moment) if timezone.is_aware(moment) else moment
    return f"{local:%a} {local.day} {local:%B}, {local:%H:%M}"


def nav_items(context: template.Context, items: Sequence[tuple[str, str, str, str]]) -> list[Box]:
    """The current page is the one that the view names in ``here``, else the longest path that fits."""
    request = context.get("request")
    path = getattr(request, "path", "")
    here = context.get("here", "")
    if not here:
        fits = [(len(prefix), key) for _, _, prefix, key in (*NAV, *FOOT) if _fits(path, prefix)]
        here = max(fits)[1] if fits else ""
    return [
        {"word": word, "url": url, "current": key == here, "key": key}
        for word, name, _, key in items
        if (url := _url(name))
    ]


def _fits(path: str, prefix: str) -> bool:
    return path == prefix if prefix == "/" else path.startswith(prefix)


def _url(name: str) -> str:
    """An app that is not wired yet loses its word from the menu, not the whole page; a test counts the words."""
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""


@register.inclusion_tag("parts/nav.html", takes_context=True)
def main_nav(context: template.Context) -> Box:
    return {"items": nav_items(context, NAV)}


@register.inclusion_tag("parts/foot_nav.html", takes_context=True)
def foot_nav(context: template.Context) -> Box:
    return {"items": nav_items(context, FOOT)}


@register.inclusion_tag("parts/tail_nav.html", takes_context=True)
def tail_nav(context: template.Context) -> Box:
    """On a phone: the words that the foot has no room for, at the page's end."""
    on_foot = {key for *_, key in FOOT}
    return {"items": [i for i in nav_items(context, NAV) if i["key"] not in on_foot]}
