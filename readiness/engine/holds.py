"""What holds an entry: the driving chain of each sample, walked back from its end to now.

From the needed work that is done last, each step either started when it was ready (then the need that was
done last drives it) or later (then the person or thing that came free last drives it, or somebody's absence).
The calendar time between now and the end is thus cut into pieces, each with one kind and one subject; a share
is a subject's time over all time, summed over the samples. Three kinds: ``own`` work of the vehicle,
``waiting`` for a part, a person, a place or a consent, ``behind`` another vehicle's work.

In samples that do not end before the horizon the chain starts from the first thing that never came.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from readiness.engine.flow import Cause, Tables
from readiness.engine.steps import Step
from readiness.engine.workshop import Goal

Array = NDArray[np.integer]
Kind = Literal["own", "waiting", "behind"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """One thing that holds an entry, and its share of the time (0 to 1)."""

    kind: Kind
    subject: str
    label: str
    share: float


class Played(Protocol):
    """What a played simulation must tell, each array (samples, steps) or (samples, units)."""

    never: int
    samples: Array
    ready: Array
    start: Array
    end: Array
    latest: Array
    why: Array
    bound_by: Array
    unit_back: Array
    unit_free: Array
    released_by: dict[str, Array]
    causes: list[Cause]


class HoldCounter:
    """Adds up the driving chains of one entry over chunks of samples, in slots."""

    def __init__(self, tables: Tables, goal: Goal) -> None:
        self.tables, self.goal = tables, goal
        finals = [tables.network.final.get(uid) for uid in goal.needs]
        self.final = np.array([tables.number[key] for key in finals if key is not None], dtype=np.int64)
        steps = len(tables.steps)
        self.own = np.zeros(steps)
        self.absent = np.zeros(steps)
        self.found_part = np.zeros(steps)
        self.thing = np.zeros(len(tables.resource))
        self.cause: dict[Cause, float] = {}

    def holds(self) -> tuple[Hold, ...]:
        """All holds, largest share first."""
        time: dict[tuple[Kind, str, str], float] = {}

        def spend(kind: Kind, subject: str, label: str, slots: float) -> None:
            if slots:
                time[kind, subject, label] = time.get((kind, subject, label), 0.0) + float(slots)

        for cause, slots in self.cause.items():
            spend("waiting", cause.subject, cause.label, slots)
        for uid, r in self.tables.resource.items():
            spend("waiting", uid, self._name(uid), self.thing[r])
        for j in np.flatnonzero(self.own + self.absent + self.found_part):
            step = self.tables.steps[j]
            work = step.work
            if step.key.stage == "visit":
                spend("waiting", work.uid, f"{work.label}: the day of the visit", self.own[j])
            else:
                spend(
                    "own" if work.vehicle == self.goal.vehicle else "behind",
                    work.uid,
                    work.label,
                    self.own[j],
                )
            spend("waiting", *self._somebody(step), self.absent[j])
            if work.discovery is not None and work.discovery.part is not None:
                spend("waiting", work.discovery.part.uid, work.discovery.part.name, self.found_part[j])
        total = sum(time.values())
        rows = [Hold(kind=k, subject=s, label=w, share=slots / total) for (k, s, w), slots in time.items()]
        return tuple(sorted(rows, key=lambda h: (-h.share, h.kind, h.subject, h.label)))

    def _name(self, uid: str) -> str:
        places, tools = self.tables.workshop.places, self.tables.workshop.tools
        return ({p.uid: p.name for p in places} | {t.uid: t.name for t in tools})[uid]

    def _somebody(self, step: Step) -> tuple[str, str]:
        """Whom a step waits for: by name where only one person may lead it."""
        lead = () if step.crew is None else step.crew.lead
        if len(lead) == 1:
            return lead[0], next(h.name for h in self.tables.workshop.hands if h.uid == lead[0])
        if step.signs is not None:
            area = step.work.second_signature
            return f"sign:{area}", f"somebody who may sign for {area}"
        skills = " or ".join(sorted(step.work.skills)) or "any work"
        return f"skill:{skills}", f"somebody for {skills}"

    def add(self, flow: Played) -> None:
        """Walks the chains of one chunk."""
        if not len(self.final) or self.goal.impossible:
            return
        rows: Array = flow.samples
        step: Array = self.final[flow.end[:, self.final].argmax(axis=1)]
        until: Array = np.minimum(flow.end[rows, step].astype(np.int64), flow.never - 1)
        step = self._to_unfinished(flow, rows, step)
        while len(rows):
            rows, step, until = self._back(flow, rows, step, until)

    def _to_unfinished(self, flow: Played, rows: Array, step: Array) -> Array:
        """Where the end lies past the horizon, goes back to the first step that was ready or ran."""
        while True:
            stuck = (flow.end[rows, step] >= flow.never) & (flow.ready[rows, step] >= flow.never)
            needs = np.where(stuck[:, None], self.tables.before[step], -1)
            ends = np.where(needs >= 0, flow.end[rows[:, None], needs], -1)
            pick = ends.argmax(axis=1)
            line = np.arange(len(rows))
            deeper = stuck & (ends[line, pick] >= flow.never)
            if not deeper.any():
                return step
            step = np.where(deeper, needs[line, pick], step)

    def _back(self, flow: Played, rows: Array, step: Array, until: Array) -> tuple[Array, Array, Array]:
        """Accounts for the step that ends at ``until``; returns the steps before it."""
        start = np.minimum(flow.start[rows, step].astype(np.int64), until)
        latest = np.minimum(flow.latest[rows, step].astype(np.int64), start)
        ready = np.minimum(flow.ready[rows, step].astype(np.int64), start)
        by = flow.bound_by[rows, step].astype(np.int64)
        freed = np.where(by >= 0, flow.end[rows, np.maximum(by, 0)], ready).astype(np.int64)
        tool = by <= -2
        unit = -2 - by[tool]
        freed[tool] = flow.unit_back[rows[tool], unit]
        freed = np.clip(freed, ready, start)
        steps = len(self.own)
        self.own += np.bincount(step, until - start, steps)
        np.add.at(self.thing, np.array(self.tables.unit_owner, dtype=np.int64)[unit], (freed - ready)[tool])
        self._absence(flow, rows, step, start - freed)
        self._release(flow, rows, step, np.where(by < 0, ready - latest, 0))
        before = np.where(by >= 0, by, flow.why[rows, step])
        until = np.where(by >= 0, freed, latest)
        on = (before >= 0) & (until > 0)
        return rows[on], before[on], until[on]

    def _absence(self, flow: Played, rows: Array, step: Array, waited: Array) -> None:
        """Time in which a step was ready but not begun: nobody was there, or a thing never came free."""
        waited = np.where(step < self.tables.crewed, waited, 0)
        for i in np.flatnonzero((self.tables.takes[step, 0] >= 0) & (flow.start[rows, step] >= flow.never)):
            for hold in self.tables.takes[step[i]]:
                r = self.tables.hold_resource[hold]
                units = self.tables.units[r]
                if hold >= 0 and (flow.unit_free[rows[i], units[units >= 0]] >= flow.never).all():
                    self.thing[r] += waited[i]
                    waited[i] = 0
        self.absent += np.bincount(step, waited, len(self.absent))

    def _release(self, flow: Played, rows: Array, step: Array, waited: Array) -> None:
        """Time between the last need and readiness: a part, a date, a consent, curing."""
        for j in np.unique(step[waited > 0]):
            at = (step == j) & (waited > 0)
            this = self.tables.steps[j]
            if this.key.stage == "gate":
                causes = flow.released_by[this.work.uid][rows[at]]
                for c in np.unique(causes):
                    cause = flow.causes[int(c)]
                    self.cause[cause] = self.cause.get(cause, 0.0) + float(waited[at][causes == c].sum())
            elif this.key.stage == "extra":
                self.found_part[j] += waited[at].sum()
            else:
                self.own[j] += waited[at].sum()
