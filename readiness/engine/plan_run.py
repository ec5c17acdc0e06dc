"""Plays a plan: one step after the other, all samples at once, no clock.

A step begins when it is ready, its people have ended what stands before it in the plan and its things are free;
it ends at one look-up. Arrays are kept step by step, so that each step reads and writes whole rows; a sample in
which a step can never be done carries ``never`` along and keeps nobody busy.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from readiness.engine.flow import Tables, durations, never_done, releases, unit_starts, waits
from readiness.engine.plan_policy import Order
from readiness.engine.sampling import Draws
from readiness.engine.worktime import Calendars

Array = NDArray[np.integer]
Bools = NDArray[np.bool_]


class PlanRun:
    """State of samples ``lo`` to ``hi``; the attributes that holds are read from are as in ``Flow``."""

    def __init__(self, tables: Tables, draws: Draws, lo: int, hi: int) -> None:
        self.tables, self.never = tables, tables.grid.never
        self.calendars = Calendars(tables.hands, draws, tables.grid, lo, hi)
        count, steps = hi - lo, len(tables.steps)
        self.samples: Array = np.arange(count)
        # 64-bit throughout: they index the look-up tables without being converted.
        self._ready, self._start, self._end = (np.full((steps, count), self.never) for _ in range(3))
        self._latest = np.zeros((steps, count), dtype=np.int64)
        self._why, self._bound_by = (np.full((steps, count), -1) for _ in range(2))
        self.ready: Array = self._ready.T
        self.start: Array = self._start.T
        self.end: Array = self._end.T
        self.latest: Array = self._latest.T
        self.why: Array = self._why.T
        self.bound_by: Array = self._bound_by.T
        self.release, self.released_by, self.causes = releases(tables, draws, lo, hi)
        self.wait = waits(tables, draws, lo, hi, np.int64)
        self.slots = np.ascontiguousarray(durations(tables, draws, lo, hi, np.int64).T)
        self.dead = never_done(tables, self.release, self.wait, count)
        self.free_at = np.zeros((len(tables.hands), count), dtype=np.int64)
        self.last_step = np.full((len(tables.hands), count), -1)
        self.unit_back: Array = unit_starts(tables, draws, lo, hi, np.int64)
        self.unit_free: Array = self.unit_back.copy()
        self.unit_step = np.full(self.unit_back.shape, -1)
        self.settled: set[int] = set()
        self._zero, self._nobody = np.zeros(count, dtype=np.int64), np.full(count, -1)
        self.held = np.full((count, tables.holds), -1)
        self.doers = np.zeros((*tables.signers.shape, count), dtype=np.bool_)

    def play(self, orders: tuple[Order, ...]) -> None:
        """Plays the steps of the plan in order, then lets through what passes by itself."""
        for order in orders:
            self._step(order)
        for step in self.tables.network.steps:
            j = self.tables.number[step.key]
            if j >= self.tables.crewed and j not in self.settled:
                self._settle(j, lasting=True)

    def _settle(self, j: int, *, lasting: bool) -> Array:
        """Sets when a step is ready from its needs; one without a crew is then done.

        ``lasting``: all its needs have been played, so that it need not be looked at again.
        """
        tables, step = self.tables, self.tables.steps[j]
        lasting = lasting and not step.any_of
        if lasting and j >= tables.crewed:
            self.settled.add(j)
        ready, why = self._latest[j], self._why[j]
        ready[:] = self.never if step.any_of else 0
        for i, key in enumerate(dict.fromkeys([*step.needs, *step.soft])):
            b = tables.number[key]
            fresh = b >= tables.crewed and b not in self.settled
            end = self._settle(b, lasting=lasting) if fresh else self._end[b]
            if key in step.soft and key not in step.needs:
                end = np.where(self.dead[key], 0, end)
            if i == 0:
                ready[:], why[:] = end, b
                continue
            np.copyto(why, b, where=end < ready if step.any_of else end >= ready)
            (np.minimum if step.any_of else np.maximum)(ready, end, out=ready)
        out = self._ready[j]
        out[:] = ready
        if step.key.stage == "gate":
            np.maximum(out, self.release[step.work.uid], out=out)
        elif j in self.wait:
            out += self.wait[j]
        np.minimum(out, self.never, out=out)
        if j >= tables.crewed:
            fixed = tables.fixed[j]
            self._end[j] = out if fixed == -1 else np.where(out <= fixed, fixed, self.never)
            self._start[j] = out
            self._give_back(j, self._end[j])
        done: Array = self._end[j]
        return done

    def _step(self, order: Order) -> None:
        j = order.step
        self._settle(j, lasting=True)
        ready = self._ready[j]
        skipped = self.slots[j] == 0
        begin, until, by = self._things_free(j, ready)
        able = (begin < self.never) & ~skipped
        if len(order.people) == order.persons == 1:
            p = order.people[0]
            by = np.where(self.free_at[p] >= until, self.last_step[p], by)
            until = np.maximum(until, self.free_at[p])
            begin = np.where(able, np.minimum(np.maximum(begin, until), self.never), self.never)
            start, end = self._alone(j, p, begin)
            self._keep(j, p, end, able)
        else:
            crew = [np.full(len(ready), p) for p in order.people]
            while len(crew) < order.persons:
                crew.append(self._first_to_come(j, crew, begin))
                able &= crew[-1] >= 0
            for people in crew:
                free, last = self.free_at[people, self.samples], self.last_step[people, self.samples]
                by = np.where(free > until, last, by)
                until = np.maximum(until, free)
            begin = np.where(able, np.minimum(np.maximum(begin, until), self.never), self.never)
            start, end = self._work(j, crew, begin)
            self._occupy(j, crew, end, able)
        self._bound_by[j] = np.where(until > ready, by, -1)
        self._start[j], self._end[j] = start, end
        if skipped.any():
            self._start[j, skipped] = self._end[j, skipped] = ready[skipped]
        self._hold(j, able)
        self._give_back(j, self._end[j])
        for k in self.tables.after[j]:
            if k >= self.tables.crewed and (self.tables.frees[k] >= 0).any():
                self._settle(int(k), lasting=False)

    def _alone(self, j: int, p: int, begin: Array) -> tuple[Array, Array]:
        """First and last edge of the work of one person, by two look-ups in flat tables."""
        calendars, wide = self.calendars, len(begin)
        before = calendars.done[p].reshape(-1).take(calendars.before[p].take(begin) * wide + self.samples)
        slots = self.slots[j]
        flat = calendars.ends[p].reshape(-1)
        first = flat.take(np.minimum(before, calendars.most).astype(np.int64) * wide + self.samples)
        last = flat.take(np.minimum(before + slots - 1, calendars.most) * wide + self.samples)
        return np.where(first < self.never, first - 1, self.never), last

    def _keep(self, j: int, p: int, end: Array, able: Bools) -> None:
        """One person is busy until ``end``."""
        np.copyto(self.free_at[p], end, where=able)
        np.copyto(self.last_step[p], j, where=able)
        for card in self.tables.guards[j]:
            if card >= 0:
                self.doers[card, p] |= able

    def _work(self, j: int, crew: list[Array], begin: Array) -> tuple[Array, Array]:
        """First and last edge of the step's work."""
        calendars, need = self.calendars, int(self.tables.persons[j])
        trainees = sum(self.tables.trainee[people].astype(np.int64) for people in crew)
        halves = np.minimum(2 * need, 2 * len(crew) - trainees)
        slots = self.slots[j]
        if (halves < 2 * need).any():
            slots = -(-(slots * 2 * need) // halves)
        if len(crew) > 1:
            members = np.stack(crew, axis=1)
            numbers = np.zeros(len(begin), dtype=np.int64)
            known = (members >= 0).all(axis=1)
            if not known.any():
                return np.full_like(begin, self.never), np.full_like(begin, self.never)
            numbers[known] = calendars.crew_numbers(members[known])
            return calendars.work_together(numbers, self.samples, begin, slots)
        before = calendars.done[crew[0], calendars.before[crew[0], begin], self.samples].astype(np.int64)
        first = calendars.ends[crew[0], np.minimum(before, calendars.most), self.samples]
        last = calendars.ends[crew[0], np.minimum(before + slots - 1, calendars.most), self.samples]
        return np.where(first < self.never, first - 1, self.never), last

    def _first_to_come(self, j: int, crew: list[Array], begin: Array) -> Array:
        """Of those who may, the one who can be there first; ties by order of choice. -1 if nobody."""
        tables = self.tables
        choice = tables.help[j] if crew else tables.lead[j]
        best = np.full(len(begin), self.never)
        person = np.full(len(begin), -1)
        one = np.ones(len(begin), dtype=np.int64)
        for p in np.argsort(choice, kind="stable"):
            if choice[p] >= 999:
                break
            at = np.minimum(np.maximum(begin, self.free_at[p]), self.never)
            comes = self.calendars.end_alone(np.full(len(begin), p), self.samples, at, one).astype(np.int64)
            for taken in crew:
                comes[taken == p] = self.never
            if tables.signs[j] >= 0:
                comes[self.doers[tables.signs[j], p]] = self.never
            better = comes < best
            best[better], person[better] = comes[better], p
        return person

    def _occupy(self, j: int, crew: list[Array], end: Array, able: Bools) -> None:
        rows = self.samples[able]
        for people in crew:
            who = people[able]
            self.free_at[who, rows], self.last_step[who, rows] = end[able], j
            for card in self.tables.guards[j][self.tables.guards[j] >= 0]:
                self.doers[card, who, rows] = True

    def _best_unit(self, hold: int) -> tuple[Array, Array]:
        units = self.tables.units[self.tables.hold_resource[hold]]
        units = units[units >= 0]
        unit = units[self.unit_free[:, units].argmin(axis=1)]
        return unit, self.unit_free[self.samples, unit]

    def _things_free(self, j: int, ready: Array) -> tuple[Array, Array, Array]:
        """When readiness and all things are there; when the last thing came free and through which step."""
        if self.tables.takes[j, 0] < 0:
            return ready, self._zero, self._nobody
        begin, freed = ready.copy(), np.zeros(len(ready), dtype=np.int64)
        by = np.full(len(ready), -1)
        for hold in self.tables.takes[j]:
            if hold >= 0:
                unit, free = self._best_unit(hold)
                step = self.unit_step[self.samples, unit]
                by = np.where(free > freed, np.where(step < 0, -2 - unit, step), by)
                freed = np.maximum(freed, free)
                begin = np.maximum(begin, free)
        return begin, freed, by

    def _hold(self, j: int, able: Bools) -> None:
        rows = self.samples[able]
        for hold in self.tables.takes[j]:
            if hold >= 0:
                unit = self._best_unit(hold)[0][able]
                self.held[rows, hold] = unit
                self.unit_free[rows, unit] = self.never + 1

    def _give_back(self, j: int, end: Array) -> None:
        for hold in self.tables.frees[j]:
            if hold >= 0:
                rows = self.samples[(end < self.never) & (self.held[:, hold] >= 0)]
                unit = self.held[rows, hold]
                self.unit_free[rows, unit], self.unit_step[rows, unit] = end[rows], j
                self.held[rows, hold] = -1
