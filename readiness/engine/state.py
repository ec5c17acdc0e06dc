"""What the gates are judged from: a museum frozen at one moment.

All moments are local wall-clock datetimes without a zone (the snapshot converts them), all meters and limits are
decimals, all references are short texts (`uid`). Nothing here knows of a database.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal

ZERO = Decimal(0)
MOVING = frozenset({"arena", "road", "rides", "recovery"})
"""Roles in which the vehicle moves under its own power."""
ENGINE_ROLES = frozenset({"running", "arena", "road", "rides"})
"""Roles whose length counts as engine hours unless the slot says otherwise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit of a deferral. `value` in km/h, minutes or kilometres by kind."""

    uid: str
    kind: str
    value: Decimal | None = None
    text: str = ""
    words: str = ""
    driver: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Deferral:
    """A defect put off in writing. `signers` are (person uid, role signed as)."""

    uid: str
    signed_on: dt.date
    ends_on: dt.date
    severity_without: int
    probability_without: str
    severity_with: int
    probability_with: str
    signers: tuple[tuple[str, str], ...] = ()
    limits: tuple[Limit, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Defect:
    """An open defect. `touches` is what its system serves; empty with `unsure` means: not sure where."""

    uid: str
    label: str
    assessed: bool
    touches: frozenset[str] = frozenset()
    unsure: bool = False
    severity: int = 0
    probability: str = ""
    effects: tuple[tuple[str, str], ...] = ()
    deferrals: tuple[Deferral, ...] = ()
    jobs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """An open job card, as far as the gates ask."""

    uid: str
    label: str
    state: str
    before_event: bool = True
    booked: bool = True
    functions: frozenset[str] = frozenset()
    stripped: bool = False
    refit_done: bool = False
    tests_missing: tuple[str, ...] = ()
    signature_missing: str = ""
    consent: str = ""
    voids: frozenset[str] = frozenset()
    unknown_parts: tuple[tuple[str, str], ...] = ()
    late_parts: tuple[tuple[str, str], ...] = ()
    held_for: str = ""
    after: tuple[str, ...] = ()

    @property
    def lifts(self) -> bool:
        """Open work that is meant to be finished before the event."""
        return self.before_event and self.state != "carried forward" and self.consent != "no"


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """A recurring look. Valid through `valid_through` and up to `valid_meter` inclusive."""

    uid: str
    kind: str
    name: str
    valid_through: dt.date | None = None
    meter: str = ""
    valid_meter: Decimal | None = None
    interval_days: int | None = None
    interval_amount: Decimal | None = None
    unknown: bool = False
    voided: bool = False
    voided_why: str = ""
    jobs: tuple[str, ...] = ()
    outside: bool = False
    booked_on: dt.date | None = None
    after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterState:
    """Last reading: running total and when it was read."""

    kind: str
    total: Decimal
    read_at: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """Use of a vehicle at one time: past outing, planned rehearsal or slot."""

    at: dt.datetime
    hours: Decimal = ZERO
    km: Decimal = ZERO
    starts: int = 1
    gear_hours: Decimal = ZERO


@dataclass(frozen=True, slots=True, kw_only=True)
class TagState:
    """The do-not-run tag in force. `job` is the card that would end it; `job_done` when that card has passed."""

    uid: str
    job: str = ""
    job_done: bool = False
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    uid: str
    number: str
    name: str
    status: str = "in service"
    tracked: bool = False
    closed: bool = False
    steam: bool = False
    lifts: bool = False
    lent: bool = False
    tag: TagState | None = None
    defects: tuple[Defect, ...] = ()
    jobs: tuple[Job, ...] = ()
    inspections: tuple[Inspection, ...] = ()
    meters: tuple[MeterState, ...] = ()
    outings: tuple[Use, ...] = ()
    planned: tuple[Use, ...] = ()
    papers: tuple[tuple[str, dt.date | None], ...] = ()
    overdue_after_use: dt.date | None = None
    checks_done: frozenset[tuple[str, dt.date]] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewDuty:
    duty: str
    person: str = ""
    borrowed: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """A time on the programme. `sunrise` and `sunset` are of its day."""

    uid: str
    code: str
    name: str
    role: str
    starts: dt.datetime
    ends: dt.datetime
    speed_kmh: Decimal | None = None
    km: Decimal | None = None
    hours: Decimal | None = None
    runs: int | None = None
    also_asks: frozenset[str] = frozenset()
    sunrise: dt.time | None = None
    sunset: dt.time | None = None
    at_least: int | None = None
    crew: tuple[CrewDuty, ...] = ()

    @property
    def day(self) -> dt.date:
        return self.starts.date()

    @property
    def minutes(self) -> Decimal:
        return Decimal(int((self.ends - self.starts).total_seconds())) / 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    uid: str
    slot: Slot
    vehicle: str
    covers: str = ""
    ready_minutes: int | None = None
    km: Decimal | None = None
    hours: Decimal | None = None
    crewed_inside: bool = True
    ticks: frozenset[str] = frozenset()
    crew: tuple[CrewDuty, ...] = ()

    @property
    def use(self) -> Use:
        """Hours and distance that this entry puts on the vehicle (a standby that is not called: none)."""
        return use_of(self, self.slot)


def use_of(entry: Entry, slot: Slot) -> Use:
    """What running `slot` with the vehicle of `entry` adds to its meters."""
    if slot.role in {"standby", "static"}:
        return Use(at=slot.ends, starts=0)
    hours = entry.hours if entry.hours is not None else slot.hours
    if hours is None:
        hours = slot.minutes / 60 if slot.role in ENGINE_ROLES else ZERO
    km = entry.km if entry.km is not None else slot.km
    return Use(
        at=slot.ends, hours=hours, km=km or ZERO, gear_hours=hours if "WORK" in slot.also_asks else ZERO
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Competence:
    """What a person is checked for. `valid_through` None: no end."""

    kind: str
    vehicle: str = ""
    area: str = ""
    valid_through: dt.date | None = None
    with_person: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    uid: str
    name: str
    competences: tuple[Competence, ...] = ()
    away: frozenset[dt.date] = frozenset()

    def can(self, kind: str, day: dt.date, *, vehicle: str = "") -> bool:
        """True when checked for `kind` through `day`."""
        return any(
            c.kind == kind
            and (not vehicle or c.vehicle in {"", vehicle})
            and (c.valid_through is None or day <= c.valid_through)
            for c in self.competences
        )

    def end_of(self, kind: str, *, vehicle: str) -> dt.date | None:
        """The last valid day on file for `kind` on this vehicle, lapsed ones included."""
        days = [
            c.valid_through
            for c in self.competences
            if c.kind == kind and c.vehicle == vehicle and c.valid_through
        ]
        return max(days, default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    uid: str
    code: str
    name: str
    freeze: dt.datetime
    first_day: dt.date
    last_day: dt.date
    entries: tuple[Entry, ...] = ()
    slots: tuple[Slot, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """The museum's figures, and its role table: (role, subject, code) -> (demand, count)."""

    table: dict[tuple[str, str, str], tuple[str, int]]
    likely_from: int = 75
    doubtful_from: int = 25
    event_check_days: int = 7
    change_over: dt.timedelta = field(default=dt.timedelta(minutes=15))

    def demand(self, role: str, subject: str, code: str) -> str:
        return self.table.get((role, subject, code), ("-", 0))[0]

    def asked(self, role: str, subject: str) -> list[tuple[str, str, int]]:
        """All (code, demand, count) that `role` asks of this subject, in a fixed order."""
        return sorted(
            (c, d, n) for (r, s, c), (d, n) in self.table.items() if r == role and s == subject and d != "-"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Museum:
    """Everything at one moment: `now` is the clock of the judgement; `events` share one workshop."""

    now: dt.datetime
    rules: Rules
    vehicles: dict[str, Vehicle]
    people: dict[str, Person]
    events: tuple[Event, ...]
    event_ends: tuple[dt.date, ...] = ()
    site: tuple[Inspection, ...] = ()
