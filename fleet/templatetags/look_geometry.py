"""From places in per cent to the text of SVG attributes, for the tape, the rule, the dial and the sight strip.

Where a day lies is worked out by who knows the calendar; this module knows only how wide a word is.
Everything here is plain arithmetic: no clock, no settings, no database.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Protocol

Box = dict[str, Any]


class Tape(Protocol):
    """What a date tape needs; docs/look.md says what each field means."""

    case: str
    label: str
    words: str
    freeze_pct: float | None
    even_pct: float | None
    eight_pct: float | None


class Tick(Protocol):
    pct: float
    label: str
    is_monday: bool
    is_weekend: bool


class DayRule(Protocol):
    ticks: Sequence[Tick]
    day_pct: float
    label: str
    freeze_pct: float | None
    event_from_pct: float | None
    event_to_pct: float | None


class Sight(Protocol):
    """A reading against its limit, along a strip from 0 to 100 per cent."""

    bad: Sequence[tuple[float, float]]
    ok: tuple[float, float]
    limits: Sequence[tuple[float, str]]
    reading_pct: float | None
    label: str


def pct(value: float) -> str:
    return f"{value:.2f}%"


def needle(position: float | None) -> str:
    """The dial's needle as a path, 24 long from the hub at (28, 28); empty when there is no reading."""
    if position is None:
        return ""
    angle = math.pi * (1 - min(max(float(position), 0.0), 1.0))
    return f"M28 28L{28 + 24 * math.cos(angle):.1f} {28 - 24 * math.sin(angle):.1f}"


WORDS_WIDE = 26.0  # per cent of the narrowest tape (290 px) that a pair of dates takes, with its gap


def tape_box(tape: Tape) -> Box:
    """Text for the attributes of one tape. Stamps off the rule are not drawn; a mark at its end says so."""
    freeze = 100.0 if tape.freeze_pct is None else min(max(tape.freeze_pct, 0.0), 100.0)
    even, eight = tape.even_pct, tape.eight_pct
    box: Box = {"case": tape.case, "label": tape.label, "words": tape.words, "hold": tape.case == "clear_now"}
    if tape.freeze_pct is not None:
        box |= {"freeze": pct(freeze), "late_width": pct(100.0 - freeze)}
    if tape.case not in {"clear_now", "unknown"} and even is not None:
        even_on, end = min(max(even, 0.0), 100.0), min(max(eight if eight is not None else even, 0.0), 100.0)
        box["lead"] = pct(even_on)
        if even <= 100.0:
            box["even"] = pct(even_on)
        if eight is not None and eight <= 100.0:
            box["eight"] = pct(end)
        else:
            box["gone"] = True
        if end > even_on:
            box |= {"join_from": pct(even_on), "join_to": pct(end)}
        hatch_from = max(even_on, freeze)
        if end > hatch_from:
            box |= {"over_from": pct(hatch_from), "over_width": pct(end - hatch_from)}
    return box | words_place(tape, freeze)


def words_place(tape: Tape, freeze: float) -> Box:
    """Where the dates stand: beside their stamps, and in one column right of the line when all is in time."""

    def place(at: float, dx: int, anchor: str, *, halo: bool = False) -> Box:
        return {"words_x": pct(at), "dx": dx, "anchor": anchor, "halo": halo}

    even = 0.0 if tape.even_pct is None else min(max(tape.even_pct, 0.0), 100.0)
    eight = even if tape.eight_pct is None else max(tape.eight_pct, 0.0)
    if tape.case in {"clear_now", "unknown", "before"}:
        if freeze <= 100.0 - WORDS_WIDE:
            return place(freeze, 9, "start")
        return place(freeze, -9, "end", halo=True)
    if eight <= 100.0 - WORDS_WIDE:
        return place(eight, 9, "start")
    if even > freeze >= WORDS_WIDE:
        return place(freeze, -8, "end", halo=True)
    if even >= WORDS_WIDE:
        return place(even, -8, "end", halo=True)
    if freeze - even >= WORDS_WIDE + 4.0:
        return place(freeze, -8, "end", halo=True)
    return place(100.0, -16, "end", halo=True)


def rule_box(rule: DayRule) -> Box:
    ticks = [
        {
            "x": pct(t.pct),
            "mid": pct(t.pct + rule.day_pct / 2),
            "label": t.label,
            "monday": t.is_monday,
            "weekend": t.is_weekend,
        }
        for t in rule.ticks
    ]
    # a numeral is wider than a narrow day: it then stands beside its Monday tick, not over the next one
    box: Box = {"ticks": ticks, "label": rule.label, "narrow": rule.day_pct < 4.0}
    start, stop = rule.event_from_pct, rule.event_to_pct
    if start is not None and stop is not None and start < 100.0:
        wide = stop - start >= 10.0
        box["event"] = {
            "x": pct(start),
            "width": pct(min(stop, 100.0) - start),
            "wide": wide,
            "text_x": pct((start + stop) / 2 if wide else min(stop, 100.0)),
        }
    if rule.freeze_pct is not None and 0.0 <= rule.freeze_pct <= 100.0:
        box["freeze"] = pct(rule.freeze_pct)
        if rule.freeze_pct >= 17.0:
            box["freeze_word"] = "end"
        elif start is None or start - rule.freeze_pct > 17.0:
            box["freeze_word"] = "start"
    return box


def sight_box(strip: Sight) -> Box:
    return {
        "bad": [{"x": pct(a), "width": pct(b - a)} for a, b in strip.bad],
        "ok": {"x": pct(strip.ok[0]), "width": pct(strip.ok[1] - strip.ok[0])},
        "limits": [
            {"x": pct(at), "text": text, "anchor": "start" if at < 12 else "end" if at > 88 else "middle"}
            for at, text in strip.limits
        ],
        "reading": None if strip.reading_pct is None else pct(min(max(strip.reading_pct, 0.0), 100.0)),
        "label": strip.label,
    }
