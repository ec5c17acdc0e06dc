"""How often forecasts came true, by tenths with the Brier score, and what became of the entries on the day.

A forecast counts once it is known whether the entry was clear by the freeze. One forecast an entry, that of the last
evening before the freeze, makes cases that do not lean on each other; all evenings make more cases that do.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass

from readiness.engine.learning import Record, record
from readiness.models import DayRecord, Outcome, Ran
from readiness.services.working_out import WORDS

FEW = 50
"""A tenth with fewer cases than this tells little."""
FEW_ENTRIES = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    said: str
    cases: int
    mean: int
    came_true: int
    give_or_take: int
    few: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OnTheDay:
    """Entries of one standing on the last evening before the freeze, and what became of them."""

    standing: str
    word: str
    entries: int
    as_entered: int
    standby: int
    not_run: int
    few: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackRecord:
    all_evenings: bool
    cases: int
    entries: int
    events: int
    brier: str
    lines: tuple[Line, ...]
    plain: str
    on_the_day: tuple[OnTheDay, ...]
    unsaid: int


def track_record(*, all_evenings: bool = False) -> TrackRecord:
    """Two queries. `all_evenings`: every evening before the freeze in place of the last one of each entry."""
    settled = list(
        DayRecord.objects.filter(came_true__isnull=False)
        .order_by("day")
        .values_list("percent", "came_true", "standing", "entry_id", "vehicle_code", "slot_code", "event_id")
    )
    last = {row[3:]: row for row in settled}  # by entry; of an entry that is gone, by vehicle and slot
    rows = [row for row in (settled if all_evenings else last.values()) if row[0] is not None]
    ran = dict(Outcome.objects.values_list("entry_id", "ran"))
    on_the_day = _on_the_day([(row[2], ran.get(row[3])) for row in last.values()])
    entries, events = len({row[3:] for row in rows}), len({row[6] for row in rows})
    found = record([(p or 0) / 100 for p, *_ in rows], [bool(c) for _, c, *_ in rows]) if rows else None
    return TrackRecord(
        all_evenings=all_evenings,
        cases=len(rows),
        entries=entries,
        events=events,
        brier=f"{found.brier:.3f}" if found else "",
        lines=_lines(found) if found else (),
        plain=_plain(len(rows), entries, events, all_evenings=all_evenings, settled=bool(settled)),
        on_the_day=on_the_day,
        unsaid=sum(row[3] not in ran for row in last.values()),
    )


def _lines(found: Record) -> tuple[Line, ...]:
    return tuple(
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


def _plain(cases: int, entries: int, events: int, *, all_evenings: bool, settled: bool) -> str:
    if not settled:
        return "No event has passed its freeze yet: there is nothing to compare."
    if not cases:
        return (
            "No entry had a chance to compare: all were fit, barred or not judged on the evenings on record."
        )

    def of(count: int, one: str, many: str) -> str:
        return f"{count} {one if count == 1 else many}"

    at = f"at {of(events, 'event', 'events')}"
    if all_evenings:
        plain = f"{of(cases, 'evening forecast', 'evening forecasts')} of {of(entries, 'entry', 'entries')} {at}. Evenings of one entry hang together, so they are worth fewer cases than they count."
    else:
        plain = f"{of(cases, 'entry', 'entries')} {at}, each by its forecast on the last evening before the freeze. Entries of one vehicle and of one workshop hang together somewhat."
    return f"Too few to tell: {plain}" if cases < FEW else plain


def _on_the_day(said: list[tuple[str, str | None]]) -> tuple[OnTheDay, ...]:
    groups: dict[str, Counter[str]] = defaultdict(Counter)
    for standing, ran in said:
        if ran is not None:
            groups[standing][ran] += 1
    return tuple(
        OnTheDay(
            standing=standing,
            word=WORDS[standing],
            entries=sum(groups[standing].values()),
            as_entered=groups[standing][Ran.AS_ENTERED],
            standby=groups[standing][Ran.STANDBY],
            not_run=groups[standing][Ran.NOT],
            few=sum(groups[standing].values()) < FEW_ENTRIES,
        )
        for standing in reversed(WORDS)
        if standing in groups
    )
