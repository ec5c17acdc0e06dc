"""Tables of events: days, slots, entries, crew, rehearsals, ticks, and the role table."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from typing import Any

from django.db.models import Model

from fleet.enums import Function
from fleet.exchange import cells
from fleet.exchange.cells import CellError
from fleet.exchange.kinds import (
    Amount,
    Clock,
    Code,
    Day,
    Json,
    Kind,
    Moment,
    Ref,
    Text,
    Whole,
    Word,
    Words,
    Yes,
)
from fleet.exchange.known import Known
from fleet.exchange.rows import Batch, Row
from fleet.exchange.shared_columns import VEHICLE, note
from fleet.exchange.tables import Column, Table
from readiness.enums import Duty, EventState, Role, RuleSubject
from readiness.exchange.kinds import EntryRef, LimitRef, SlotRef, limits_by_pk
from readiness.models import Crew, Entry, Event, EventDay, LimitTick, Rehearsal, RoleRule, Slot

FREEZE_CLOCK = dt.time(18)


class End(Kind):
    """The end of a slot: a day and time, or a time alone for the day on which it starts."""

    words = "day and time, or time"

    def read(self, text: str, row: Row) -> Any:
        try:
            clock = cells.read_clock(text)
        except CellError:
            return cells.read_moment(text, row.known.calendar)
        starts = row.value("starts_at")
        if starts is None:
            raise CellError("cannot be placed while starts_at is not right")
        return cells.at(
            row.known.calendar, dt.datetime.combine(starts.astimezone(row.known.calendar.zone).date(), clock)
        )

    def write(self, value: Any, known: Known) -> str:
        return "" if value is None else cells.write_moment(value, known.calendar.zone)


def _local_day(value: Any, known: Known) -> str:
    return str(value.astimezone(known.calendar.zone).date().isoformat())


def _slot(one: Any, known: Known) -> Slot:
    found = known.shelf("slots").by_pk[one.slot_id]
    assert isinstance(found, Slot)
    return found


def _entry(tick: LimitTick, known: Known) -> Entry:
    found = known.shelf("entries").by_pk[tick.entry_id]
    assert isinstance(found, Entry)
    return found


def _event_of(one: Any, known: Known) -> Model:
    return known.shelf("events").by_pk[_slot(one, known).event_id]


def _day_of(one: Any, known: Known) -> dt.date:
    day: dt.date = _slot(one, known).starts_at.astimezone(known.calendar.zone).date()
    return day


def _fill_event(row: Row) -> None:
    """One day, and a freeze two days before at 18:00, unless the table says otherwise."""
    event = row.instance
    assert isinstance(event, Event)
    if not row.is_new:
        return
    if "last_day" not in row.values:
        event.last_day = event.first_day
    if "freeze_at" not in row.values:
        event.freeze_at = dt.datetime.combine(
            event.first_day - dt.timedelta(days=2), FREEZE_CLOCK, tzinfo=row.known.calendar.zone
        )


def _check_slots(batch: Batch) -> None:
    zone = batch.known.calendar.zone
    for row in batch.good:
        slot = row.instance
        assert isinstance(slot, Slot)
        event = batch.known.target(slot, "event", "events")
        if (
            isinstance(event, Event)
            and not event.first_day <= slot.starts_at.astimezone(zone).date() <= event.last_day
        ):
            row.fail("starts_at", f"lies outside {event.code}", f"{event.first_day} to {event.last_day}")


def _check_entries(batch: Batch) -> None:
    for row in batch.good:
        if (
            row.is_new
            and row.values.get("covers") is not None
            and row.values["covers"] is row.values.get("vehicle")
        ):
            row.fail("covers", "a vehicle cannot cover itself", "another vehicle")


def _warn_of_clashes(batch: Batch) -> None:
    """Somebody on two duties at the same time is kept, and said: the board says it too."""
    known = batch.known
    rows = {id(row.instance): row for row in batch.good}
    by_person: dict[str, list[tuple[Slot, Crew]]] = defaultdict(list)
    people = known.shelf("people")
    for one in {id(c): c for c in known.shelf("crew").by_label.values()}.values():
        assert isinstance(one, Crew)
        person, slot = known.target(one, "person", "people"), known.target(one, "slot", "slots")
        if person is not None and slot is not None and (id(one) in rows or one.pk):
            by_person[people.label(person)].append((slot, one))
    slots = known.shelf("slots")
    for who, duties in by_person.items():
        duties.sort(key=lambda pair: (pair[0].starts_at, pair[0].code))
        told: set[tuple[str, str]] = set()
        for place, (slot, one) in enumerate(duties):
            for other, another in duties[:place]:
                both = (slots.label(other), slots.label(slot))
                row = rows.get(id(one)) or rows.get(id(another))
                if other is slot or both in told or other.ends_at <= slot.starts_at or row is None:
                    continue
                told.add(both)
                row.warn("person", f"{who} has two duties at the same time: {both[0]} and {both[1]}")


def _tick_limit(tick: LimitTick, known: Known) -> Any:
    return limits_of(known)[tick.limit_id][1]


def _tick_deferral(tick: LimitTick, known: Known) -> Any:
    return limits_of(known)[tick.limit_id][0]


def limits_of(known: Known) -> dict[Any, Any]:
    kept = known.side.get("limits")
    if kept is None:
        kept = known.side["limits"] = limits_by_pk(known)
    return kept


EVENT = Column(name="event", kind=Ref("events"), help="Which event.", example="HWW", required=True)
SLOT = Column(
    name="slot", kind=SlotRef(), help="Code of the slot.", example="S6", required=True, get=_slot,
    key_text=lambda slot, known: known.shelf("slots").label(slot),
)  # fmt: skip


def of_slot(get_day: Any = _day_of, get_event: Any = _event_of) -> tuple[Column, Column]:
    return (
        Column(
            name="event",
            kind=Ref("events"),
            help="Which event.",
            example="HWW",
            required=True,
            helper=True,
            get=get_event,
        ),
        Column(
            name="day",
            kind=Day(),
            help="Needed when the slot stands on several days.",
            example="HWW",
            helper=True,
            get=get_day,
        ),
    )


_OF_SLOT = of_slot()

ROLE_RULES = Table(
    name="role_rules", title="What a role asks", model=RoleRule, key=("role", "subject", "code"),
    purpose="Only to change the table of roles that the museum starts with.",
    columns=(
        Column(name="role", kind=Word(Role), help="Which role.", example="rides", required=True),
        Column(name="subject", kind=Word(RuleSubject), help="What sort of thing.", example="function", required=True),
        Column(name="code", kind=Text(), help="Which one.", example="CARRY", required=True),
        Column(name="demand", kind=Word([(sign, sign) for sign in "!Rn-"]), help="! wholly fit, R fit or reduced under a limit, n noted, - not asked.", example="!", required=True),
        Column(name="count", kind=Whole(), help="How many, for crew.", example="1"),
    ),
)  # fmt: skip

EVENTS = Table(
    name="events", title="Events", model=Event, codes=("code",), fill=_fill_event,
    purpose="Each event. Days in all tables may be counted from its first day, such as HWW-35.",
    columns=(
        Column(name="code", kind=Code(), help="Short name; days are counted with it.", example="HWW", required=True),
        Column(name="name", kind=Text(), help="Name.", example="Hythe Working Weekend", required=True),
        Column(name="place", kind=Text(), help="Where.", example="Museum ground"),
        Column(name="first_day", kind=Day(), help="A day of the calendar.", example="2027-06-12", required=True),
        Column(name="last_day", kind=Day(), help="Empty: one day.", example="HWW+1"),
        Column(name="freeze_at", kind=Moment(), help="Nothing is opened after it. Empty: two days before at 18:00.", example="HWW-2 18:00"),
        Column(name="weight", kind=Whole(), help="Between events, the heavier goes first.", example="1"),
        Column(name="state", kind=Word(EventState), help="Planned, over, called off.", example="planned"),
        Column(name="site_notes", kind=Json(), help="Notes for the sheet of the whole event.", example="fire points=gate and yard; radios=channel 3"),
    ),
)  # fmt: skip

EVENT_DAYS = Table(
    name="event_days", title="Light on the days", model=EventDay, key=("event", "day"),
    purpose="Sunrise and sunset on each day of an event; a limit to daylight is compared with them.",
    columns=(
        EVENT,
        Column(name="day", kind=Day(), help="Which day.", example="HWW", required=True),
        Column(name="sunrise", kind=Clock(), help="Time.", example="05:10"),
        Column(name="sunset", kind=Clock(), help="Time.", example="20:40"),
    ),
)  # fmt: skip

SLOTS = Table(
    name="slots", title="Slots", model=Slot, key=("event", "code", "starts_at"), checks=(_check_slots,),
    purpose="The programme: what happens when, in which role. One row for each slot and day.",
    columns=(
        EVENT,
        Column(name="code", kind=Code(), help="Short name; the same on another day is another slot.", example="S6", required=True),
        Column(name="name", kind=Text(), help="In words.", example="road run", required=True),
        Column(name="role", kind=Word(Role), help="What vehicles do in it.", example="road", required=True),
        Column(name="starts_at", kind=Moment(), help="Day and time.", example="HWW 14:15", required=True, key_text=_local_day),
        Column(name="ends_at", kind=End(), help="Time, or day and time when past midnight.", example="15:30", required=True),
        Column(name="place", kind=Text(), help="Where.", example="lower road"),
        Column(name="speed_kmh", kind=Amount(), help="Speed that it asks for.", example="30"),
        Column(name="distance_km", kind=Amount(), help="Kilometres for each vehicle, all runs together.", example="18"),
        Column(name="hours", kind=Amount(), help="Engine hours. Empty: its length."),
        Column(name="runs", kind=Whole(), help="Runs in it.", example="1"),
        Column(name="also_asks", kind=Words(Function.values, gaps=" "), help="Functions shown beyond the role.", example="WORK"),
        Column(name="at_least", kind=Whole(), help="Vehicles that must run. Empty: all that are entered."),
        Column(name="notes", kind=Text(), help="Anything worth saying."),
    ),
)  # fmt: skip

ENTRIES = Table(
    name="entries", title="Entries", model=Entry, key=("slot", "vehicle"), checks=(_check_entries,),
    purpose="Which vehicle is entered in which slot, and which stands by for which.",
    columns=(
        _OF_SLOT[0],
        SLOT,
        _OF_SLOT[1],
        VEHICLE,
        Column(name="covers", kind=Ref("vehicles"), help="On standby for this vehicle.", example="V04"),
        Column(name="ready_minutes", kind=Whole(), help="Ready to move in so many minutes.", example="20"),
        Column(name="distance_km", kind=Amount(), help="Kilometres, when not the slot's."),
        Column(name="hours", kind=Amount(), help="Engine hours, when not the slot's."),
        Column(name="crewed_inside", kind=Yes(), help="Crew in a closed space.", example="yes"),
        note(),
        Column(name="entered_by", kind=Ref("people"), help="Who entered it.", example="P01"),
    ),
)  # fmt: skip

CREW = Table(
    name="crew", title="Crew", model=Crew, key=("slot", "vehicle", "duty", "person", "borrowed"), repeats=True, checks=(_warn_of_clashes,),
    purpose="Who does what: for one entry, or without a vehicle for the whole slot.",
    columns=(
        _OF_SLOT[0],
        SLOT,
        _OF_SLOT[1],
        Column(
            name="vehicle", field="entry", kind=EntryRef(), help="Entry that it is for. Empty: the whole slot.", example="V01",
            get=lambda one, known: known.shelf("entries").by_pk.get(one.entry_id),
        ),
        Column(name="duty", kind=Word(Duty), help="Which duty.", example="driver", required=True),
        Column(name="person", kind=Ref("people"), help="One of us.", example="P04"),
        Column(name="borrowed", kind=Text(), help="Or the name of somebody borrowed.", example="marshal from the scouts"),
    ),
)  # fmt: skip

REHEARSALS = Table(
    name="rehearsals", title="Rehearsals", model=Rehearsal, key=("event", "vehicle", "day", "note"), repeats=True,
    purpose="Use planned before an event. It counts in the forecast of the meters.",
    columns=(
        EVENT,
        VEHICLE,
        Column(name="day", kind=Day(), help="Which day.", example="HWW-7", required=True),
        Column(name="hours", kind=Amount(), help="Engine hours.", example="0.5"),
        Column(name="km", kind=Amount(), help="Kilometres.", example="12"),
        note(),
    ),
)  # fmt: skip

_TICK_SLOT = of_slot(
    get_day=lambda tick, known: _day_of(_entry(tick, known), known),
    get_event=lambda tick, known: _event_of(_entry(tick, known), known),
)

TICKS = Table(
    name="ticks", title="Limits that a slot obeys", model=LimitTick, key=("vehicle", "deferral", "limit"), late=True,
    purpose="Limits in words, read by a person who says that the entry obeys them. One row for each entry and limit.",
    columns=(
        _TICK_SLOT[0],
        Column(
            name="slot", kind=SlotRef(), help="Code of the slot.", example="S5", required=True, helper=True,
            get=lambda tick, known: _slot(_entry(tick, known), known),
        ),
        _TICK_SLOT[1],
        Column(
            name="vehicle", field="entry", kind=EntryRef(), help="The entry's vehicle.", example="V06", required=True, get=_entry,
            key_text=lambda entry, known: known.shelf("entries").label(entry),
        ),
        Column(name="deferral", kind=Ref("deferrals"), help="Which deferral.", example="DF1", required=True, helper=True, get=_tick_deferral),
        Column(name="limit", kind=LimitRef(), help="The limit as it stands there.", example="text: battery charged overnight", required=True, get=_tick_limit),
        Column(name="by", kind=Ref("people"), help="Who says so.", example="P01"),
        Column(name="at", kind=Moment(), help="When. Empty: now.", example="HWW-35 08:00"),
    ),
)  # fmt: skip

TABLES = (ROLE_RULES, EVENTS, EVENT_DAYS, SLOTS, ENTRIES, CREW, REHEARSALS, TICKS)
