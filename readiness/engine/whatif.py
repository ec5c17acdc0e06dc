"""What would change it: the same workshop with one thing altered, compared sample by sample.

Both forecasts use the same draws for everything that the change does not touch, so the difference of each
sample is meaningful and its mean has a small error: sd(difference) / sqrt(n) (paired differences with common
random numbers).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np

from readiness.engine.forecast import Forecast, forecast
from readiness.engine.workshop import Delivery, Goal, Hand, Work, WorkDay, Workshop, WorkshopError


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonAway:
    """A person does not come on a day, or not at all (``day`` None)."""

    hand: str
    day: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonAdded:
    """One more person."""

    hand: Hand


@dataclass(frozen=True, slots=True, kw_only=True)
class PartDate:
    """A part is promised for another day; one not ordered yet counts as ordered now."""

    delivery: str
    promised: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOrdered:
    """A part is ordered now with its usual lead time, or with ``lead_days``."""

    delivery: str
    lead_days: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JobDropped:
    """A job is not done, and no entry asks for it: put off under a limit, or found not needed."""

    work: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobBooked:
    """A job that nobody has asked for is booked in."""

    work: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtForward:
    """Jobs go to the head of the queue; what they need goes with them."""

    works: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleStoodDown:
    """A vehicle is withdrawn: its jobs and entries fall away."""

    vehicle: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DayAdded:
    """A person comes on one more day."""

    hand: str
    day: WorkDay


@dataclass(frozen=True, slots=True, kw_only=True)
class FreezeMoved:
    """Entries, or all of them (``goals`` None), must be clear by another moment."""

    deadline: datetime
    goals: tuple[str, ...] | None = None


Change = (
    PersonAway
    | PersonAdded
    | PartDate
    | PartOrdered
    | JobDropped
    | JobBooked
    | BroughtForward
    | VehicleStoodDown
    | DayAdded
    | FreezeMoved
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """An entry whose fate differs in at least one sample.

    ``difference`` = chance after - chance before, with its standard ``error``.
    """

    goal: str
    before: float
    after: float
    difference: float
    error: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WhatIf:
    """What a change does. ``moved`` holds the largest difference first; ``still`` what does not move."""

    moved: tuple[Moved, ...]
    still: tuple[str, ...]
    gone: tuple[str, ...]
    before: Forecast
    after: Forecast


def altered(workshop: Workshop, changes: Sequence[Change]) -> Workshop:
    """The workshop with the changes made, in their order.

    Raises:
        WorkshopError: a change names what does not exist.
    """
    for change in changes:
        workshop = _alter(workshop, change)
    return workshop


def _alter(workshop: Workshop, change: Change) -> Workshop:
    match change:
        case PersonAway() | DayAdded():
            return _days(workshop, change)
        case PersonAdded(hand=hand):
            return replace(workshop, hands=(*workshop.hands, hand))
        case PartDate() | PartOrdered():
            return _part(workshop, change)
        case JobDropped(work=uid):
            _known(uid, workshop.works)
            return _without(workshop, {uid})
        case JobBooked(work=uid):
            _known(uid, workshop.works)
            return replace(
                workshop, works=tuple(replace(w, booked=w.booked or w.uid == uid) for w in workshop.works)
            )
        case BroughtForward(works=uids):
            return _forward(workshop, uids)
        case VehicleStoodDown(vehicle=vehicle):
            goals = tuple(g for g in workshop.goals if g.vehicle != vehicle)
            gone = {w.uid for w in workshop.works if w.vehicle == vehicle}
            return _without(replace(workshop, goals=goals), gone)
        case _:
            return _freeze(workshop, change)


def _freeze(workshop: Workshop, change: FreezeMoved) -> Workshop:
    for uid in change.goals or ():
        _known(uid, workshop.goals)
    moved = (
        replace(g, deadline=change.deadline) if change.goals is None or g.uid in change.goals else g
        for g in workshop.goals
    )
    return replace(workshop, goals=tuple(moved))


def _known(
    uid: str, rows: tuple[Hand, ...] | tuple[Work, ...] | tuple[Delivery, ...] | tuple[Goal, ...]
) -> None:
    if all(row.uid != uid for row in rows):
        raise WorkshopError([f"Nothing here is called {uid}"])


def _days(workshop: Workshop, change: PersonAway | DayAdded) -> Workshop:
    _known(change.hand, workshop.hands)

    def days(hand: Hand) -> tuple[WorkDay, ...]:
        if isinstance(change, DayAdded):
            return (*hand.days, change.day)
        return tuple(d for d in hand.days if change.day is not None and d.start.date() != change.day)

    hands = (replace(h, days=days(h)) if h.uid == change.hand else h for h in workshop.hands)
    return replace(workshop, hands=tuple(hands))


def _part(workshop: Workshop, change: PartDate | PartOrdered) -> Workshop:
    _known(change.delivery, workshop.deliveries)

    def part(old: Delivery) -> Delivery:
        ordered = old.ordered if old.state == "on_order" else workshop.now
        if isinstance(change, PartDate):
            return replace(old, state="on_order", ordered=ordered, promised=change.promised)
        lead = old.lead_days if change.lead_days is None else change.lead_days
        if lead is None:
            raise WorkshopError([f"Nobody has said how long {old.name} takes"])
        promised = workshop.now + timedelta(days=lead)
        return replace(old, state="on_order", ordered=workshop.now, promised=promised)

    parts = (part(d) if d.uid == change.delivery else d for d in workshop.deliveries)
    return replace(workshop, deliveries=tuple(parts))


def _without(workshop: Workshop, gone: set[str]) -> Workshop:
    def keep(uids: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(uid for uid in uids if uid not in gone)

    works = tuple(
        replace(w, after=keep(w.after), after_if_done=keep(w.after_if_done))
        for w in workshop.works
        if w.uid not in gone
    )
    goals = tuple(replace(g, needs=keep(g.needs)) for g in workshop.goals)
    return replace(workshop, works=works, goals=goals)


def closure(workshop: Workshop, works: Sequence[str]) -> set[str]:
    """The works and all that they need, directly or through others."""
    by_uid = {work.uid: work for work in workshop.works}
    found: set[str] = set()
    stack = list(works)
    while stack:
        uid = stack.pop()
        if uid in by_uid and uid not in found:
            found.add(uid)
            stack += by_uid[uid].after
    return found


def _forward(workshop: Workshop, works: tuple[str, ...]) -> Workshop:
    for uid in works:
        _known(uid, workshop.works)
    first = closure(workshop, works)
    lift = max(w.rank for w in workshop.works) - min(w.rank for w in workshop.works) + 1.0
    return replace(
        workshop, works=tuple(replace(w, rank=w.rank - lift) if w.uid in first else w for w in workshop.works)
    )


def what_if(
    workshop: Workshop,
    changes: Sequence[Change],
    *,
    samples: int = 2000,
    seed: int = 0,
    before: Forecast | None = None,
) -> WhatIf:
    """Compares the workshop with and without changes on the same draws.

    Args:
        workshop: as it is.
        changes: made together, in their order.
        samples: number of samples of each forecast.
        seed: base seed of both.
        before: forecast of the workshop as it is, with the same samples and seed, if there is one already.

    Raises:
        WorkshopError: a change names what does not exist.
        ValueError: ``before`` was made with other samples, seed or policy.
    """
    if before is None:
        before = forecast(workshop, samples=samples, seed=seed)
    elif (before.samples, before.seed, before.policy) != (samples, seed, "dispatch"):
        raise ValueError("The forecast before must have the same samples and seed.")
    after = forecast(altered(workshop, changes), samples=samples, seed=seed)
    moved, still = [], []
    for uid, old in before.goals.items():
        if uid not in after.goals:
            continue
        new = after.goals[uid]
        change = new.clear.astype(np.int64) - old.clear
        if not change.any():
            still.append(uid)
            continue
        error = float(change.std()) / math.sqrt(samples)
        difference = float(change.mean())
        moved.append(Moved(goal=uid, before=old.chance, after=new.chance, difference=difference, error=error))
    moved.sort(key=lambda m: (-abs(m.difference), m.goal))
    gone = tuple(uid for uid in before.goals if uid not in after.goals)
    return WhatIf(moved=tuple(moved), still=tuple(still), gone=gone, before=before, after=after)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Act:
    """One act and what it does to the entry asked about."""

    change: Change
    difference: float
    error: float
    answer: WhatIf


def candidates(workshop: Workshop, before: Forecast, goal: Goal) -> list[Change]:
    """Single acts worth trying: order or hasten a part, book a job, bring it forward, one more day."""
    works = closure(workshop, goal.needs)
    rows = {w.uid: w for w in workshop.works if w.uid in works}
    out: list[Change] = [JobBooked(work=uid) for uid in sorted(rows) if not rows[uid].booked]
    wanted = {part for work in rows.values() for part in work.parts}
    for part in sorted(workshop.deliveries, key=lambda d: d.uid):
        if part.uid in wanted and part.state in ("not_ordered", "unknown") and part.lead_days is not None:
            out.append(PartOrdered(delivery=part.uid))
    if rows:
        out.append(BroughtForward(works=tuple(sorted(rows))))
    skills = {skill for work in rows.values() for skill in work.skills}
    held = {hold.subject for hold in before.goals[goal.uid].holds if hold.kind == "waiting"}
    for hand in sorted(workshop.hands, key=lambda h: (h.uid not in held, h.uid)):
        day = _free_day(hand, workshop, goal.deadline)
        if day is not None and not hand.trainee and (not skills or hand.skills & skills):
            out.append(DayAdded(hand=hand.uid, day=day))
    return out


def _free_day(hand: Hand, workshop: Workshop, deadline: datetime) -> WorkDay | None:
    """The last whole day before the deadline on which the person is not down to come."""
    if not hand.days:
        return None
    usual = max(hand.days, key=lambda d: d.start)
    taken = {d.start.date() for d in hand.days}
    day = deadline.date()
    while day >= workshop.now.date():
        shift = timedelta(days=(day - usual.start.date()).days)
        start, end = usual.start + shift, usual.end + shift
        if day not in taken and start >= workshop.now and end <= deadline:
            return replace(usual, start=start, end=end)
        day -= timedelta(days=1)
    return None


def best_acts(
    workshop: Workshop,
    goal: str,
    acts: Sequence[Change] | None = None,
    *,
    samples: int = 1000,
    seed: int = 0,
    most: int = 3,
) -> tuple[Act, ...]:
    """Tries single acts and returns those that help an entry most, best first.

    Args:
        workshop: as it is.
        goal: entry asked about.
        acts: acts to try; None tries what :func:`candidates` thinks of.
        samples: number of samples of each forecast.
        seed: base seed of all.
        most: how many to return. Acts that do not help by more than their error are left out.
    """
    _known(goal, workshop.goals)
    entry = next(g for g in workshop.goals if g.uid == goal)
    before = forecast(workshop, samples=samples, seed=seed)
    tried: list[Act] = []
    for change in candidates(workshop, before, entry) if acts is None else acts:
        answer = what_if(workshop, [change], samples=samples, seed=seed, before=before)
        for moved in answer.moved:
            if moved.goal == goal and moved.difference > moved.error:
                tried.append(
                    Act(change=change, difference=moved.difference, error=moved.error, answer=answer)
                )
    tried.sort(key=lambda act: -act.difference)
    return tuple(tried[:most])
