"""How often forecasts came true: every settled evening record of every event, by tenths, with the Brier score."""

from __future__ import annotations

from dataclasses import dataclass

from readiness.engine.learning import Record, record
from readiness.models import DayRecord

FEW = 50
"""A tenth with fewer cases than this tells little."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    said: str
    cases: int
    mean: int
    came_true: int
    give_or_take: int
    few: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackRecord:
    cases: int
    entries: int
    events: int
    brier: str
    lines: tuple[Line, ...]
    plain: str


def track_record() -> TrackRecord:
    """One query. A record counts once the freeze has passed and it is known whether the entry was clear by then."""
    rows = list(
        DayRecord.objects.filter(came_true__isnull=False, percent__isnull=False).values_list(
            "percent", "came_true", "entry_id", "event_id"
        )
    )
    if not rows:
        return TrackRecord(
            cases=0,
            entries=0,
            events=0,
            brier="",
            lines=(),
            plain="No event has passed its freeze yet: there is nothing to compare.",
        )
    found: Record = record([(p or 0) / 100 for p, *_ in rows], [bool(c) for _, c, *_ in rows])
    entries, events = len({e for *_, e, _ in rows}), len({e for *_, e in rows})
    lines = tuple(
        Line(
            said=f"{round(t.low * 100)} to {round(t.high * 100)}",
            cases=t.count,
            mean=round(t.said * 100),
            came_true=round(t.came_true * 100),
            give_or_take=round(t.error * 100),
            few=t.count < FEW,
        )
        for t in found.tenths
    )
    plain = f"{len(rows)} evening forecasts of {entries} entries at {events} events. Evenings of one entry hang together, so they are worth fewer cases than they count."
    if len(rows) < FEW:
        plain = f"Too few to tell: {plain}"
    return TrackRecord(
        cases=len(rows), entries=entries, events=events, brier=f"{found.brier:.3f}", lines=lines, plain=plain
    )
