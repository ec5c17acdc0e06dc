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
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from readiness.engine.flow import Flow, Tables
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


class HoldCounter:
    """Adds up the driving chains of one entry over chunks of samples."""

    def __init__(self, tables: Tables, goal: Goal) -> None:
        self.tables, self.goal = tables, goal
        self.time: dict[tuple[Kind, str, str], int] = {}
        finals = [tables.network.final.get(uid) for uid in goal.needs]
        self.final = np.array([tables.number[key] for key in finals if key is not None], dtype=np.int64)

    def holds(self) -> tuple[Hold, ...]:
        """All holds, largest share first."""
        total = sum(self.time.values())
        rows = [
            Hold(kind=kind, subject=subject, label=label, share=spent / total)
            for (kind, subject, label), spent in self.time.items()
            if spent > 0
        ]
        return tuple(sorted(rows, key=lambda h: (-h.share, h.kind, h.subject, h.label)))

    def add(self, flow: Flow) -> None:
        """Walks the chains of one chunk."""
        if not len(self.final) or self.goal.impossible:
            return
        rows: Array = flow.samples
        step: Array = self.final[flow.end[:, self.final].argmax(axis=1)]
        until: Array = np.minimum(flow.end[rows, step].astype(np.int64), flow.never - 1)
        rows, step, until = self._to_unfinished(flow, rows, step, until)
        while len(rows):
            rows, step, until = self._back(flow, rows, step, until)

    def _to_unfinished(
        self, flow: Flow, rows: Array, step: Array, until: Array
    ) -> tuple[Array, Array, Array]:
        """Where the end lies past the horizon, goes back to the first step that was ready or ran."""
        while True:
            stuck = (flow.end[rows, step] >= flow.never) & (flow.ready[rows, step] >= flow.never)
            needs = np.where(stuck[:, None], self.tables.before[step], -1)
            ends = np.where(needs >= 0, flow.end[rows[:, None], needs], -1)
            pick = ends.argmax(axis=1)
            line = np.arange(len(rows))
            deeper = stuck & (ends[line, pick] >= flow.never)
            if not deeper.any():
                return rows, step, until
            step = np.where(deeper, needs[line, pick], step)

    def _back(self, flow: Flow, rows: Array, step: Array, until: Array) -> tuple[Array, Array, Array]:
        """Accounts for the step that ends at ``until``; returns the steps before it."""
        start = np.minimum(flow.start[rows, step].astype(np.int64), until)
        latest = np.minimum(flow.latest[rows, step].astype(np.int64), start)
        ready = np.minimum(flow.ready[rows, step].astype(np.int64), start)
        by = flow.bound_by[rows, step].astype(np.int64)
        freed = np.where(by >= 0, flow.end[rows, np.maximum(by, 0)], ready).astype(np.int64)
        tool = by <= -2
        freed[tool] = flow.unit_back[rows[tool], -2 - by[tool]]
        freed = np.clip(freed, ready, start)
        for j in np.unique(step):
            at = step == j
            self._own(int(j), int((until - start)[at].sum()))
            self._absence(flow, int(j), rows[at], (start - freed)[at])
            self._release(flow, int(j), rows[at], (ready - latest)[at] * (by[at] < 0))
        for u in np.unique(-2 - by[tool]):
            name, label = self._thing(self.tables.unit_owner[u])
            self._spend("waiting", name, label, int((freed - ready)[by == -2 - u].sum()))
        before = np.where(by >= 0, by, flow.why[rows, step])
        until = np.where(by >= 0, freed, latest)
        on = (before >= 0) & (until > 0)
        return rows[on], before[on], until[on]

    def _spend(self, kind: Kind, subject: str, label: str, slots: int) -> None:
        if slots > 0:
            key = (kind, subject, label)
            self.time[key] = self.time.get(key, 0) + slots

    def _own(self, j: int, slots: int) -> None:
        work, stage = self.tables.steps[j].work, self.tables.steps[j].key.stage
        if stage == "visit":
            self._spend("waiting", work.uid, f"{work.label}: the day of the visit", slots)
        else:
            kind: Kind = "own" if work.vehicle == self.goal.vehicle else "behind"
            self._spend(kind, work.uid, work.label, slots)

    def _absence(self, flow: Flow, j: int, rows: Array, waited: Array) -> None:
        """Time in which the step was ready but not begun: nobody was there, or a thing never came free."""
        step = self.tables.steps[j]
        if step.crew is None:
            return
        for _, thing in step.takes:
            units = self.tables.units[self.tables.resource[thing]]
            gone = (flow.unit_free[rows[:, None], units[units >= 0]] >= flow.never).all(axis=1)
            gone &= flow.start[rows, j] >= flow.never
            self._spend("waiting", *self._thing(self.tables.resource[thing]), int(waited[gone].sum()))
            rows, waited = rows[~gone], waited[~gone]
        self._spend("waiting", *self._somebody(step), int(waited.sum()))

    def _thing(self, resource: int) -> tuple[str, str]:
        workshop = self.tables.workshop
        names = {p.uid: p.name for p in workshop.places} | {t.uid: t.name for t in workshop.tools}
        uid = next(uid for uid, r in self.tables.resource.items() if r == resource)
        return uid, names[uid]

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

    def _release(self, flow: Flow, j: int, rows: Array, waited: Array) -> None:
        """Time between the last need and readiness: a part, a date, a consent, curing."""
        step = self.tables.steps[j]
        if step.key.stage == "gate":
            causes = flow.released_by[step.work.uid][rows]
            for c in np.unique(causes[waited > 0]):
                cause = flow.causes[int(c)]
                self._spend("waiting", cause.subject, cause.label, int(waited[causes == c].sum()))
        elif step.key.stage == "extra":
            found = step.work.discovery
            if found is not None and found.part is not None:
                self._spend("waiting", found.part.uid, found.part.name, int(waited.sum()))
        else:
            self._own(j, int(waited.sum()))
