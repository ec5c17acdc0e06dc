"""The workshop as the forecast sees it: people, places, parts, work and what must be clear by when.

All moments are local wall time, either all naive or all in one time zone; the forecast counts quarter hours
between them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Literal

from readiness.engine.estimates import Lognormal, Pert
from readiness.engine.params import (
    DAY_END_HOUR,
    DAY_START_HOUR,
    DAY_WORKED_SLOTS,
    LEAD_RATIOS,
    TURN_UP_VOLUNTEER,
    Params,
)

DeliveryState = Literal["on_shelf", "on_order", "not_ordered", "unknown"]
EstimateKind = Literal["pert", "guess", "expert"]


class WorkshopError(ValueError):
    """The workshop as described cannot be forecast; ``problems`` says why, one sentence each."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("; ".join(problems))
        self.problems = tuple(problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkDay:
    """Hours during which one person is in the workshop.

    ``worked_slots`` quarter hours of them are at the bench, spread evenly; None means the same share as in
    the default day (16 of 24).
    """

    start: datetime
    end: datetime
    worked_slots: int | None = None

    @classmethod
    def on(cls, day: date) -> WorkDay:
        """The default day, 10:00 to 16:00 with 16 worked quarter hours."""
        return cls(
            start=datetime.combine(day, time(DAY_START_HOUR)),
            end=datetime.combine(day, time(DAY_END_HOUR)),
            worked_slots=DAY_WORKED_SLOTS,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """A person who works. ``signs`` names the areas in which this person may give the second signature."""

    uid: str
    name: str
    skills: frozenset[str] = frozenset()
    days: tuple[WorkDay, ...] = ()
    turn_up: float = TURN_UP_VOLUNTEER
    trainee: bool = False
    signs: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A pit, hoist or bay that holds ``capacity`` vehicles at once."""

    uid: str
    name: str
    capacity: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """A special tool, one of its kind. ``back`` is when it returns; ``late`` adds days as (days, chance).

    ``missing`` means that nobody knows where it is: work that needs it cannot start.
    """

    uid: str
    name: str
    back: datetime | None = None
    late: tuple[tuple[float, float], ...] = ()
    missing: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """A part and how sure its arrival is.

    Arrival = ordered + (promised - ordered) x ratio, the ratio drawn from ``ratios`` as (ratio, probability)
    and conditional on the part not being here yet. A part that is not ordered, or whose need is not known,
    never arrives. ``lead_days`` is the promised lead time of a part that would be ordered later.
    """

    uid: str
    name: str
    state: DeliveryState
    ordered: datetime | None = None
    promised: datetime | None = None
    received: datetime | None = None
    lead_days: float | None = None
    ratios: tuple[tuple[float, float], ...] = LEAD_RATIOS


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """Bench hours of each person present: three figures, a guess from the category, or one expert figure."""

    kind: EstimateKind = "pert"
    low: float = 0.0
    mode: float = 0.0
    high: float = 0.0
    value: float = 0.0

    @classmethod
    def three(cls, low: float, mode: float, high: float) -> Estimate:
        """Best, usual and bad case in hours."""
        return cls(kind="pert", low=low, mode=mode, high=high)

    @classmethod
    def guess(cls, median: float) -> Estimate:
        """No estimate given: the median of the category, with a wide scatter; flagged."""
        return cls(kind="guess", value=median)

    @classmethod
    def expert(cls, value: float) -> Estimate:
        """One figure from somebody who knows the work, read as a median."""
        return cls(kind="expert", value=value)

    @property
    def usual(self) -> float:
        """The usual hours: mode or median."""
        return self.mode if self.kind == "pert" else self.value

    def times(self, factor: float) -> Estimate:
        """The same estimate with all its figures multiplied."""
        return Estimate(
            kind=self.kind,
            low=self.low * factor,
            mode=self.mode * factor,
            high=self.high * factor,
            value=self.value * factor,
        )

    def spread(self, params: Params) -> Pert | Lognormal:
        """The distribution of hours."""
        if self.kind == "pert":
            return Pert(self.low, self.mode, self.high)
        return Lognormal(self.value, params.guess_sigma if self.kind == "guess" else params.expert_sigma)


@dataclass(frozen=True, slots=True, kw_only=True)
class Discovery:
    """Opening shows more with ``chance``: extra hours, and perhaps a part that is then asked for."""

    chance: float
    extra: Estimate
    part: Delivery | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """One job card, from opening to the second signature.

    Attributes:
        uid: name of the card; random draws hang on it.
        estimate: hours of the work itself; None if the card has none (only tests or a signature).
        persons: people present for all of the work; ``two_person`` makes it at least two.
        skills: any one of them suffices for the person who leads the work; empty means anybody.
        helper_any: whether the others may be anybody present, or must have a listed skill too.
        prefers: person taken first when free.
        kept_by: people who have begun it and go on with it, the leader first; nobody else takes it from them.
            Empty, or none of them means to be in again: whoever is free. A plan may give it to others.
        doers: people who have worked on it already: they may not give the second signature.
        place: held from the first step to the refit, as are ``tools``.
        parts: deliveries that must all be here before the work is opened.
        group: jobs with the same group share one opening and one closing.
        open_hours: opening; ``close_hours`` is refitting.
        functional_hours: test standing; ``road_hours`` test moving with ``road_persons``.
        second_signature: area that must be signed by somebody who did none of the work.
        cure_hours: calendar time without hands between the refit and the tests.
        after: works that must be done before; ``after_if_done`` binds only if that work gets done at all.
        fixed: an outside visit: done at that moment if what it needs is there by then, else never.
        hours_done: hours already worked; the remaining time is drawn given that the job is not finished.
        booked: False means that nobody has asked for it: never done.
        hold_until: not before a decision, a consent or a person; ``hold_for`` says which.
        rank: priority, lower first.
    """

    uid: str
    label: str
    vehicle: str
    estimate: Estimate | None = None
    persons: int = 1
    skills: frozenset[str] = frozenset()
    helper_any: bool = True
    prefers: str | None = None
    kept_by: tuple[str, ...] = ()
    doers: tuple[str, ...] = ()
    two_person: bool = False
    place: str | None = None
    tools: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    group: str | None = None
    open_hours: Estimate | None = None
    close_hours: Estimate | None = None
    functional_hours: float = 0.0
    road_hours: float = 0.0
    road_persons: int = 2
    second_signature: str | None = None
    cure_hours: float = 0.0
    after: tuple[str, ...] = ()
    after_if_done: tuple[str, ...] = ()
    not_before: datetime | None = None
    fixed: datetime | None = None
    hours_done: float = 0.0
    discovery: Discovery | None = None
    booked: bool = True
    hold_until: datetime | None = None
    hold_for: str = "a decision"
    rank: float = 0.0

    @property
    def crew(self) -> int:
        """People present for the work."""
        return max(self.persons, 2 if self.two_person else 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Hours of one job of the present season against its estimate: what it took, or so far if ``open``.

    It says how this season goes altogether; a what-if leaves it as it is.
    """

    estimate: Estimate
    hours: float
    open: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """An entry: clear when every needed work is done by the deadline. ``impossible``: no work clears it."""

    uid: str
    vehicle: str
    label: str
    needs: tuple[str, ...]
    deadline: datetime
    impossible: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Workshop:
    """Everything that one forecast needs. The order of rows in any tuple does not matter."""

    now: datetime
    horizon: datetime
    hands: tuple[Hand, ...] = ()
    places: tuple[Place, ...] = ()
    tools: tuple[Tool, ...] = ()
    deliveries: tuple[Delivery, ...] = ()
    works: tuple[Work, ...] = ()
    goals: tuple[Goal, ...] = ()
    evidence: tuple[Evidence, ...] = ()
    params: Params = field(default_factory=Params)
