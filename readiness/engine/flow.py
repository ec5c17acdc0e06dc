"""State of a simulation over many samples at once: what is ready, what is done, what waited for what.

Both policies share it. Rows are samples, columns are steps: first all steps with a crew, in order of priority,
then those that pass by themselves. A step that is done tells its successors; one whose last need is done
becomes ready at max(end of needs, release) + cure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from readiness.engine.calendar import Grid
from readiness.engine.params import SLOTS_PER_HOUR
from readiness.engine.sampling import Draws
from readiness.engine.steps import Key, Network, Step
from readiness.engine.workshop import Work, Workshop
from readiness.engine.worktime import Calendars

Array = NDArray[np.integer]
Bools = NDArray[np.bool_]


def padded(lists: list[list[int]]) -> Array:
    """A rectangle of the lists, filled up with -1."""
    out = np.full((len(lists), max([1, *map(len, lists)])), -1, dtype=np.int64)
    for row, values in zip(out, lists, strict=True):
        row[: len(values)] = values
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """What releases a card: kind of hold, subject and words."""

    subject: str
    label: str


class Tables:
    """The network as arrays, the same for all samples."""

    def __init__(self, workshop: Workshop, network: Network, grid: Grid) -> None:
        self.workshop, self.network, self.grid = workshop, network, grid
        hands = sorted(workshop.hands, key=lambda h: h.uid)
        self.hands = tuple(h.uid for h in hands)
        self.person = {uid: p for p, uid in enumerate(self.hands)}
        self.trainee = np.array([h.trainee for h in hands], dtype=np.bool_)
        crewed = sorted((s for s in network.steps if s.crew is not None), key=lambda s: s.order)
        passing = [s for s in network.steps if s.crew is None]
        self.steps: tuple[Step, ...] = (*crewed, *passing)
        self.crewed = len(crewed)
        self.number = {step.key: j for j, step in enumerate(self.steps)}
        self._edges()
        self._people()
        self._resources()
        self._signatures()
        visits = [s.work.fixed if s.key.stage == "visit" else None for s in self.steps]
        self.fixed = np.array([-1 if v is None else grid.edge_at_or_after(v) for v in visits], dtype=np.int64)
        for j, visit in enumerate(visits):
            if visit is not None and visit < workshop.now:
                self.fixed[j] = -2

    def _edges(self) -> None:
        needs = [[*s.needs, *s.soft] for s in self.steps]
        after: list[list[int]] = [[] for _ in self.steps]
        for j, keys in enumerate(needs):
            for key in dict.fromkeys(keys):
                after[self.number[key]].append(j)
        self.after = padded(after)
        self.before = padded([[self.number[key] for key in dict.fromkeys(keys)] for keys in needs])
        self.any_of = np.array([s.any_of for s in self.steps], dtype=np.bool_)
        counts = [1 if s.any_of else len(dict.fromkeys(k)) for s, k in zip(self.steps, needs, strict=True)]
        self.counts = np.array(counts, dtype=np.int16)

    def _people(self) -> None:
        shape = (self.crewed, len(self.hands))
        self.persons = np.ones(self.crewed, dtype=np.int64)
        # Place in the order of choice; 999 = may not.
        self.lead = np.full(shape, 999, dtype=np.int16)
        self.help = np.full(shape, 999, dtype=np.int16)
        for j, step in enumerate(self.steps[: self.crewed]):
            assert step.crew is not None
            self.persons[j] = step.crew.persons
            for order, uids in ((self.lead, step.crew.lead), (self.help, step.crew.help)):
                for place, uid in enumerate(uids):
                    order[j, self.person[uid]] = place

    def _resources(self) -> None:
        things = [(p.uid, p.capacity) for p in sorted(self.workshop.places, key=lambda p: p.uid)]
        things += [(t.uid, 1) for t in sorted(self.workshop.tools, key=lambda t: t.uid)]
        self.resource = {uid: r for r, (uid, _) in enumerate(things)}
        units: list[list[int]] = []
        self.unit_owner: list[int] = []
        for r, (_, capacity) in enumerate(things):
            units.append(list(range(len(self.unit_owner), len(self.unit_owner) + capacity)))
            self.unit_owner += [r] * capacity
        self.units = padded(units)
        holds = {hold: i for i, hold in enumerate(sorted({h for s in self.steps for h in s.takes}))}
        self.holds = len(holds)
        self.takes = padded([[holds[h] for h in s.takes] for s in self.steps])
        self.frees = padded([[holds[h] for h in s.frees if h in holds] for s in self.steps])
        self.hold_resource = np.array([self.resource[h[1]] for h in holds], dtype=np.int64)

    def _signatures(self) -> None:
        signed = sorted({s.signs for s in self.steps if s.signs is not None})
        row = {uid: i for i, uid in enumerate(signed)}
        self.signers = np.zeros((len(signed), len(self.hands)), dtype=np.bool_)
        for step in self.steps:
            if step.signs is not None and step.crew is not None:
                self.signers[row[step.signs], [self.person[uid] for uid in step.crew.lead]] = True
        self.guards = padded([[row[uid] for uid in s.guards] for s in self.steps])
        self.signs = np.array([-1 if s.signs is None else row[s.signs] for s in self.steps], dtype=np.int64)


class Flow:
    """What has happened so far in samples ``lo`` to ``hi``.

    Attributes, each (samples, steps): ``ready``, ``start``, ``end`` edges; ``why`` the need that was done
    last, -1 if none; ``bound_by`` the step that kept a person, place or tool busy past readiness, -1 if none,
    -2 - u if it was the return of unit u of a tool.
    """

    def __init__(self, tables: Tables, draws: Draws, lo: int, hi: int) -> None:
        self.tables = tables
        self.never = tables.grid.never
        self.taken = self.never + 1
        self.calendars = Calendars(tables.hands, draws, tables.grid, lo, hi)
        dtype = self.calendars.dtype
        shape = (hi - lo, len(tables.steps))
        self.samples: Array = np.arange(hi - lo)
        self.ready: Array = np.full(shape, self.never, dtype=dtype)
        self.start: Array = np.full(shape, self.never, dtype=dtype)
        self.end: Array = np.full(shape, self.never, dtype=dtype)
        self.latest: Array = np.zeros(shape, dtype=dtype)
        self.why: Array = np.full(shape, -1, dtype=np.int16 if shape[1] < 32000 else np.int32)
        self.bound_by: Array = np.full(shape, -1, dtype=self.why.dtype)
        self.open_needs = np.tile(tables.counts, (hi - lo, 1))
        self.release, self.released_by, self.causes = releases(tables, draws, lo, hi)
        self.wait = waits(tables, draws, lo, hi, dtype)
        self.slots = durations(tables, draws, lo, hi, dtype)
        self.free_at = np.zeros((hi - lo, len(tables.hands)), dtype=dtype)
        self.last_step = np.full((hi - lo, len(tables.hands)), -1, dtype=self.why.dtype)
        self.unit_back: Array = unit_starts(tables, draws, lo, hi, dtype)
        self.unit_free: Array = self.unit_back.copy()
        self.unit_step = np.full((hi - lo, len(tables.unit_owner)), -1, dtype=self.why.dtype)
        self.held = np.full((hi - lo, tables.holds), -1, dtype=np.int16)
        self.doers = np.zeros((hi - lo, *tables.signers.shape), dtype=np.bool_)
        # Slots of the day at which a sample must be looked at again (edge, sample).
        self.wake = np.zeros((self.never + 2, hi - lo), dtype=np.bool_)
        for unit in range(len(tables.unit_owner)):
            self.wake[self.unit_back[:, unit], self.samples] = True
        # When a step is to be tried next; ``taken`` once it has been started.
        self.attempt = np.full((hi - lo, tables.crewed), self.never, dtype=dtype)
        self._begin()

    def _begin(self) -> None:
        """Drops soft needs that will never be done, then lets through what needs nothing."""
        dead = never_done(self.tables, self.release, self.wait, len(self.samples))
        for j, step in enumerate(self.tables.steps):
            for key in dict.fromkeys(step.soft):
                if key not in step.needs:
                    self.open_needs[:, j] -= dead[key]
        for j in range(self.tables.crewed, len(self.tables.steps)):
            rows = self.samples[self.open_needs[:, j] == 0]
            # Only those which no earlier gate has let through already.
            rows = rows[self.ready[rows, j] == self.never]
            self._activate(rows, np.full(len(rows), j))

    def finish(self, rows: Array, steps: Array, ends: Array) -> None:
        """Marks steps as done (one a row) and passes the news on."""
        tables = self.tables
        self.end[rows, steps] = ends
        known = ends < self.never
        if not known.all():
            rows, steps, ends = rows[known], steps[known], ends[known]
        if not len(rows):
            return
        self._free(rows, steps, ends)
        after = tables.after[steps]
        for k in range(after.shape[1]):
            at = np.flatnonzero(after[:, k] >= 0)
            if not len(at):
                break
            self._tell(rows[at], after[at, k], ends[at], steps[at])

    def _tell(self, rows: Array, steps: Array, ends: Array, sources: Array) -> None:
        """A need of ``steps`` was done at ``ends``."""
        any_of = self.tables.any_of[steps]
        if any_of.any():
            r, j, e = rows[any_of], steps[any_of], ends[any_of]
            sooner = (e < self.ready[r, j]) & (self.attempt[r, j] < self.taken)
            r, j, e = r[sooner], j[sooner], e[sooner]
            self.ready[r, j] = self.latest[r, j] = self.attempt[r, j] = e
            self.why[r, j] = sources[any_of][sooner]
            self.wake[e, r] = True
            rows, steps, ends, sources = rows[~any_of], steps[~any_of], ends[~any_of], sources[~any_of]
        self.open_needs[rows, steps] -= 1
        later = ends >= self.latest[rows, steps]
        self.latest[rows[later], steps[later]] = ends[later]
        self.why[rows[later], steps[later]] = sources[later]
        all_done = self.open_needs[rows, steps] == 0
        if all_done.any():
            self._activate(rows[all_done], steps[all_done])

    def _activate(self, rows: Array, steps: Array) -> None:
        """All needs are done: sets when each step is ready and passes those without a crew."""
        ready = self.latest[rows, steps].astype(np.int64)
        for j in np.unique(steps):
            step = self.tables.steps[j]
            if step.key.stage == "gate":
                at = steps == j
                ready[at] = np.maximum(ready[at], self.release[step.work.uid][rows[at]])
            elif j in self.wait:
                at = steps == j
                ready[at] = ready[at] + self.wait[j][rows[at]]
        ready = np.minimum(ready, self.never)
        self.ready[rows, steps] = ready
        passing = steps >= self.tables.crewed
        skipped = ~passing
        skipped[skipped] = self.slots[rows[skipped], steps[skipped]] == 0
        through = passing | skipped
        r, j, e = rows[~through], steps[~through], ready[~through]
        self.attempt[r, j] = e
        self.wake[e, r] = True
        if through.any():
            r, j, e = rows[through], steps[through], ready[through]
            fixed = self.tables.fixed[j]
            self.attempt[r[j < self.tables.crewed], j[j < self.tables.crewed]] = self.taken
            self.start[r, j] = e
            e = np.where(fixed == -1, e, np.where(e <= fixed, fixed, self.never))
            self.finish(r, j, e)

    def _free(self, rows: Array, steps: Array, ends: Array) -> None:
        """Gives held places and tools back at ``ends``."""
        frees = self.tables.frees[steps]
        for k in range(frees.shape[1]):
            at = np.flatnonzero(frees[:, k] >= 0)
            if not len(at):
                break
            units = self.held[rows[at], frees[at, k]]
            self.unit_free[rows[at], units] = ends[at]
            self.unit_step[rows[at], units] = steps[at]
            self.wake[ends[at], rows[at]] = True

    def take(self, rows: Array, steps: Array) -> tuple[Array, Array]:
        """Holds the places and tools of the steps, the unit that was free first.

        Returns:
            When the last of them came free, and the step that freed it (-2 - unit if it came back by itself).
        """
        freed = np.zeros(len(rows), dtype=np.int64)
        by = np.full(len(rows), -1, dtype=np.int64)
        takes = self.tables.takes[steps]
        for k in range(takes.shape[1]):
            at = np.flatnonzero(takes[:, k] >= 0)
            if not len(at):
                break
            r = rows[at]
            unit, free = self.best_unit(r, self.tables.hold_resource[takes[at, k]])
            later = free > freed[at]
            freed[at[later]] = free[later]
            before = self.unit_step[r, unit]
            by[at[later]] = np.where(before < 0, -2 - unit, before)[later]
            self.held[r, takes[at, k]] = unit
            self.unit_free[r, unit] = self.taken
        return freed, by

    def best_unit(self, rows: Array, resource: Array) -> tuple[Array, Array]:
        """The unit of a resource that is free first, and when."""
        units = self.tables.units[resource]
        free = np.where(units >= 0, self.unit_free[rows[:, None], units], self.taken)
        pick = free.argmin(axis=1)
        line = np.arange(len(rows))
        return units[line, pick], free[line, pick].astype(np.int64)

    def record(
        self, rows: Array, steps: Array, people: tuple[Array, Array], things: tuple[Array, Array]
    ) -> None:
        """Notes what bound the start: the person or thing that came free last, if after readiness."""
        ready = self.ready[rows, steps]
        (busy, busy_step), (freed, freed_step) = people, things
        by_thing = freed > busy
        until = np.where(by_thing, freed, busy)
        step = np.where(by_thing, freed_step, busy_step)
        self.bound_by[rows, steps] = np.where(until > ready, step, -1)


def never_done(
    tables: Tables, release: dict[str, Array], wait: dict[int, Array], samples: int
) -> dict[Key, Bools]:
    """Which steps can be seen from the start never to be done, by sample."""
    never = tables.grid.never
    dead: dict[Key, Bools] = {}
    for step in tables.network.steps:
        j = tables.number[step.key]
        needs = [dead[key] for key in step.needs]
        gone = np.zeros(samples, dtype=np.bool_)
        if needs:
            gone = np.logical_and.reduce(needs) if step.any_of else np.logical_or.reduce(needs)
        if (j < tables.crewed and not (tables.lead[j] < 999).any()) or tables.fixed[j] == -2:
            gone = np.ones_like(gone)
        if step.key.stage == "gate":
            gone = gone | (release[step.work.uid] >= never)
        if j in wait:
            gone = gone | (wait[j] >= never)
        dead[step.key] = gone
    return dead


def releases(
    tables: Tables, draws: Draws, lo: int, hi: int
) -> tuple[dict[str, Array], dict[str, Array], list[Cause]]:
    """When each card may be opened for reasons outside the workshop, and which reason is the last."""
    causes: list[Cause] = []
    release: dict[str, Array] = {}
    released_by: dict[str, Array] = {}
    works = {work.uid: work for work in tables.workshop.works}
    parts = {part.uid: part for part in tables.workshop.deliveries}
    for step in tables.steps:
        if step.key.stage != "gate":
            continue
        work: Work = step.work
        rows: list[tuple[Cause, Any]] = []
        for uid in sorted(set(work.parts)):
            rows.append((Cause(subject=uid, label=parts[uid].name), draws.arrival[uid][lo:hi]))
        for moment, words in ((work.not_before, "not before its date"), (work.hold_until, work.hold_for)):
            if moment is not None:
                cause = Cause(subject=work.uid, label=f"{work.label}: {words}")
                rows.append((cause, tables.grid.edge_at_or_after(moment)))
        for uid in sorted(set(work.after)):
            if not works[uid].booked:
                cause = Cause(subject=uid, label=f"{works[uid].label}: not booked")
                rows.append((cause, tables.grid.never))
        times = np.zeros((len(rows) + 1, hi - lo), dtype=np.int64)
        for i, (_, edges) in enumerate(rows):
            times[i + 1] = edges
        release[work.uid] = times.max(axis=0)
        last = times.argmax(axis=0) - 1
        released_by[work.uid] = np.where(last < 0, -1, last + len(causes))
        causes += [cause for cause, _ in rows]
    return release, released_by, causes


def waits(tables: Tables, draws: Draws, lo: int, hi: int, dtype: Any) -> dict[int, Array]:
    """Calendar slots that must pass after a step's needs: curing, or a part that was found missing."""
    out: dict[int, Array] = {}
    for j, step in enumerate(tables.steps):
        if step.cures > 0:
            out[j] = np.full(
                hi - lo, min(math.ceil(step.cures * SLOTS_PER_HOUR), tables.grid.never), dtype=dtype
            )
        elif step.key.stage == "extra" and step.work.uid in draws.part_wait:
            found = draws.found[step.work.uid][lo:hi]
            out[j] = np.where(found, draws.part_wait[step.work.uid][lo:hi], 0)
    return out


def durations(tables: Tables, draws: Draws, lo: int, hi: int, dtype: Any) -> Array:
    """Slots of every crewed step: nearest quarter hour, at least one; 0 where nothing extra was found."""
    out = np.zeros((hi - lo, tables.crewed), dtype=dtype)
    for j, step in enumerate(tables.steps[: tables.crewed]):
        hours = np.zeros(hi - lo)
        for owner, part in step.hours:
            if (owner, part) in draws.hours:
                share = draws.hours[owner, part][lo:hi]
                hours += np.where(draws.found[owner][lo:hi], share, 0.0) if part == "extra" else share
        slots = np.clip(np.rint(hours * SLOTS_PER_HOUR), 1, tables.grid.never)
        if step.key.stage == "extra":
            slots = np.where(draws.found[step.work.uid][lo:hi], slots, 0)
        out[:, j] = slots
    return out


def unit_starts(tables: Tables, draws: Draws, lo: int, hi: int, dtype: Any) -> Array:
    """Edge from which each unit of a place or tool is here."""
    out = np.zeros((hi - lo, len(tables.unit_owner)), dtype=dtype)
    for tool in tables.workshop.tools:
        r = tables.resource[tool.uid]
        out[:, [u for u, owner in enumerate(tables.unit_owner) if owner == r]] = draws.back[tool.uid][
            lo:hi, None
        ]
    return out
