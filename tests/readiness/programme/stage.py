"""A small event of two days, and the clock of the tests: Saturday 5 and Sunday 6 June 2027, freeze Thursday 18:00."""

import datetime as dt
from zoneinfo import ZoneInfo

from readiness.models import Event, Slot
from readiness.services.events import event_add, slot_add

LONDON = ZoneInfo("Europe/London")
SATURDAY, SUNDAY = dt.date(2027, 6, 5), dt.date(2027, 6, 6)
FREEZE = dt.datetime(2027, 6, 3, 18, tzinfo=LONDON)
NOW = dt.datetime(2027, 5, 3, 8, tzinfo=LONDON)


def at(day: dt.date, hour: int, minute: int = 0) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(hour, minute), tzinfo=LONDON)


def event_of(by, code: str = "TRD", **fields) -> Event:
    words = {"name": "Tollmarsh Running Days", "first_day": SATURDAY, "last_day": SUNDAY, "freeze_at": FREEZE}
    return event_add(by=by, code=code, **{**words, **fields})


def slot_of(by, event: Event, code: str = "S1", role: str = "arena", hour: int = 11, **fields) -> Slot:
    day = fields.pop("day", SATURDAY)
    words = {"name": "Arena", "starts_at": at(day, hour), "ends_at": at(day, hour + 1)}
    return slot_add(by=by, event=event, code=code, role=role, **{**words, **fields})[0]
