"""The chance day by day: what each evening's record said of each entry, as a table and as a line to draw."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone

from readiness.models import DayRecord, Event
from readiness.queries.programme import LESS_SHOWN
from readiness.services.working_out import WORDS

WIDTH, HEIGHT = 320, 84
TOP, BOTTOM = 6, 78
SURE = frozenset({"fit", "limits"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Evening:
    day: dt.date
    standing: str
    word: str
    percent: int | None
    shown: str
    why: str
    came_true: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """One entry over the evenings. `line` and `dots` are points of a drawing WIDTH by HEIGHT."""

    slot: str
    title: str
    evenings: tuple[Evening, ...]
    line: str
    dots: tuple[tuple[str, str], ...]
    freeze_x: str
    label: str
    ran: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleTracks:
    code: str
    number: str
    name: str
    tracks: tuple[Track, ...]


def tracks(event: Event) -> list[VehicleTracks]:
    """All entries that have a record, by vehicle; two queries."""
    rows = (
        DayRecord.objects.filter(event=event, entry__isnull=False)
        .select_related("entry__slot", "entry__vehicle", "entry__outcome")
        .order_by("entry__vehicle__number", "entry__slot__starts_at", "day")
    )
    by_entry: dict[int, list[DayRecord]] = defaultdict(list)
    for row in rows:
        by_entry[row.entry_id or 0].append(row)
    days = sorted({r.day for found in by_entry.values() for r in found})
    freeze = timezone.localdate(event.freeze_at)
    by_vehicle: dict[str, list[Track]] = defaultdict(list)
    names: dict[str, tuple[str, str]] = {}
    for found in by_entry.values():
        entry = found[0].entry
        if entry is None:
            continue
        names[entry.vehicle.code] = (entry.vehicle.number, entry.vehicle.name)
        by_vehicle[entry.vehicle.code].append(_track(found, days, freeze))
    return [
        VehicleTracks(code=code, number=names[code][0], name=names[code][1], tracks=tuple(found))
        for code, found in by_vehicle.items()
    ]


def _x(day: dt.date, first: dt.date, last: dt.date) -> float:
    span = max((last - first).days, 1)
    return round(8 + (WIDTH - 16) * min(max((day - first).days / span, 0), 1), 1)


def _y(percent: int) -> float:
    return round(BOTTOM - (BOTTOM - TOP) * percent / 100, 1)


def _track(rows: Sequence[DayRecord], days: Sequence[dt.date], freeze: dt.date) -> Track:
    first, last = days[0], max(days[-1], freeze)
    points = [(r.day, _height(r)) for r in rows]
    drawn = [(_x(day, first, last), _y(p)) for day, p in points if p is not None]
    slot = rows[0].entry.slot if rows[0].entry else None
    starts = timezone.localtime(slot.starts_at) if slot else None
    evenings = tuple(_evening(r) for r in rows)
    outcome = getattr(rows[0].entry, "outcome", None)
    title = f"{slot.code} {slot.name}, {starts:%a %H:%M}" if slot and starts else rows[0].slot_code
    return Track(
        slot=rows[0].slot_code,
        title=title,
        evenings=evenings,
        line=" ".join(f"{x},{y}" for x, y in drawn),
        dots=tuple((str(x - 2.5), str(y - 2.5)) for x, y in drawn),
        ran=""
        if outcome is None
        else outcome.get_ran_display() + (f": {outcome.words}" if outcome.words else ""),
        freeze_x=str(_x(freeze, first, last)),
        label=f"{title}: " + ", ".join(f"{e.day.day} {e.day:%b} {e.shown}" for e in evenings),
    )


def _height(row: DayRecord) -> int | None:
    """Where the line stands: fit counts as 100, barred and stood down as 0; what is not judged is a gap."""
    if row.percent is not None:
        return row.percent
    return 100 if row.standing in SURE else 0 if row.standing in {"barred", "down"} else None


def _evening(row: DayRecord) -> Evening:
    shown, word = LESS_SHOWN.get(row.standing, (row.standing, ""))
    word = word or WORDS[row.standing]
    return Evening(
        day=row.day,
        standing=shown,
        word=word,
        percent=row.percent,
        shown=f"{row.percent} in 100" if row.percent is not None else word,
        why=row.why,
        came_true=row.came_true,
    )
