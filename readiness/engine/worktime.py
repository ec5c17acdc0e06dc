"""When work ends: look-up tables for one person, closed form for people who must be there together.

For one person and one sample, with the slots numbered in which that person is present and working:
C[t] = worked slots before t, INV[x] = edge at which worked slot x ends. A job of d slots that starts at s ends
at INV[C[s] + d]. C needs a small table by calendar (the same for all samples) and one by sample.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from readiness.engine.calendar import Grid, Session, joint_sessions, worked_edges
from readiness.engine.sampling import Draws

Array = NDArray[np.integer]


class Calendars:
    """The people's calendars over samples ``lo`` to ``hi`` of the draws.

    Attributes:
        present: (sessions of all people + 1, samples), the last row false.
        first: number of each person's first session in ``present``.
        starts, ends: edges of each person's sessions, in order.
    """

    def __init__(self, hands: tuple[str, ...], draws: Draws, grid: Grid, lo: int, hi: int) -> None:
        self.never, self.count = grid.never, len(hands)
        self.dtype = np.int16 if grid.never < 32000 else np.int32
        self.rosters = [draws.sessions[uid] for uid in hands]
        sizes = [len(roster) for roster in self.rosters]
        self.first = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
        rows = [draws.present[uid][:, lo:hi] for uid in hands]
        self.present = np.concatenate([*rows, np.zeros((1, hi - lo), dtype=np.bool_)])
        self.by_sample = np.ascontiguousarray(self.present.T)
        self._tables(hi - lo)
        self._crews: dict[int, int] = {}
        # Windows of all crews seen so far, grown by doubling: (crews, windows, start-length-worked) and
        # (crews, windows, people), the session numbers of the members; empty windows have no work in them.
        self.spans = np.zeros((0, 1, 3), dtype=np.int32)
        self.members = np.zeros((0, 1, 1), dtype=np.int32)

    def _tables(self, samples: int) -> None:
        edges = [[worked_edges(s) for s in roster] for roster in self.rosters]
        most = max((sum(map(len, row)) for row in edges), default=0)
        self.most = most
        self.before = np.zeros((self.count, self.never + 2), dtype=np.int32)
        self.done = np.zeros((self.count, most + 1, samples), dtype=self.dtype)
        self.ends = np.full((self.count, most + 1, samples), self.never, dtype=self.dtype)
        column = np.arange(samples)
        for p, row in enumerate(edges):
            flat = np.array([e for session in row for e in session], dtype=np.int64)
            of = np.repeat(np.arange(len(row)), [len(session) for session in row]) + self.first[p]
            # A slot that ends at edge e lies before t when e <= t.
            self.before[p] = np.searchsorted(flat, np.arange(self.never + 2), side="right")
            there = self.present[of]
            self.done[p, 1 : len(flat) + 1] = np.cumsum(there, axis=0)
            self.done[p, len(flat) + 1 :] = self.done[p, len(flat)]
            for k, edge in enumerate(flat):
                here = there[k]
                self.ends[p, self.done[p, k][here], column[here]] = min(self.never, edge)

    def end_alone(self, person: Array, rows: Array, start: Array | int, slots: Array) -> Array:
        """INV[C[start] + slots] of one person a row; ``never`` past the horizon."""
        reached = self.done[person, self.before[person, start], rows] + slots - 1
        ends: Array = self.ends[person, np.minimum(reached, self.most), rows]
        return ends

    def crew_numbers(self, members: Array) -> Array:
        """Numbers of the crews in ``members`` (rows, people), for ``end_together``."""
        members = np.sort(members, axis=1).astype(np.int64)
        code = np.zeros(len(members), dtype=np.int64)
        for k in range(members.shape[1]):
            code = code * (self.count + 1) + members[:, k] + 1
        unique, at, inverse = np.unique(code, return_index=True, return_inverse=True)
        numbers = np.empty(len(unique), dtype=np.int64)
        for i, value in enumerate(unique):
            number = self._crews.get(int(value))
            if number is None:
                number = self._add_crew(members[at[i]])
                self._crews[int(value)] = number
            numbers[i] = number
        return numbers[inverse]

    def _add_crew(self, members: Array) -> int:
        people = [int(p) for p in members if p >= 0]
        joints = joint_sessions([self.rosters[p] for p in people])
        spans = np.array([(j.start, j.length, j.worked) for j in joints], dtype=np.int64).reshape(-1, 3)
        sessions = np.array(
            [[self.first[p] + s for p, s in zip(people, j.members, strict=True)] for j in joints],
            dtype=np.int64,
        ).reshape(-1, len(people))
        number = len(self._crews)
        self._reserve(number + 1, max(1, len(spans)), len(people))
        self.spans[number, : len(spans)] = spans
        if len(spans):
            self.members[number, : len(spans)] = sessions[:, :1]
            self.members[number, : len(spans), : len(people)] = sessions
        return number

    def _reserve(self, crews: int, windows: int, people: int) -> None:
        """Makes room in the tables of the crews."""
        have = self.members.shape
        if crews <= have[0] and windows <= have[1] and people <= have[2]:
            return
        size = (2 * crews if crews > have[0] else have[0], max(windows, have[1]), max(people, have[2]))
        spans = np.zeros((*size[:2], 3), dtype=np.int32)
        spans[:, :, 1] = 1
        spans[: have[0], : have[1]] = self.spans
        # A crew of fewer people repeats its first one; an empty window belongs to nobody's session.
        members = np.full(size, len(self.present) - 1, dtype=np.int32)
        members[: have[0], : have[1]] = self.members[:, :, :1]
        members[: have[0], : have[1], : have[2]] = self.members
        self.spans, self.members = spans, members

    def work_together(
        self, crew: Array, rows: Array, start: Array | int, slots: Array
    ) -> tuple[Array, Array]:
        """First and last edge of ``slots`` slots that a whole crew works from ``start`` on.

        Returns:
            (edge at which the first of the slots begins, edge at which the last ends), ``never`` past the
            horizon.
        """
        lo, length, worked = np.moveaxis(self.spans[crew], 2, 0)
        sessions = self.members
        there = self.by_sample[rows[:, None], sessions[crew, :, 0]]
        for k in range(1, sessions.shape[2]):
            there &= self.by_sample[rows[:, None], sessions[crew, :, k]]
        begun = start[:, None] if isinstance(start, np.ndarray) else start
        passed = np.clip(begun - lo, 0, length) * worked // length
        left = np.where(there, worked - passed, 0)
        total = left.cumsum(axis=1)
        first = self._edge(lo, length, worked, passed, left, total, np.ones_like(slots))
        last = self._edge(lo, length, worked, passed, left, total, slots)
        return np.where(first < self.never, first - 1, self.never), last

    def _edge(
        self, lo: Array, length: Array, worked: Array, passed: Array, left: Array, total: Array, slots: Array
    ) -> Array:
        day = (total < slots[:, None]).sum(axis=1)
        found = day < total.shape[1]
        pick = (np.arange(len(day)), np.minimum(day, total.shape[1] - 1))
        x = slots - (total[pick] - left[pick]) + passed[pick]
        edge = lo[pick] - (-x * length[pick]) // np.maximum(worked[pick], 1)
        return np.where(found & (edge < self.never), edge, self.never)


def session_starts(rosters: list[tuple[Session, ...]]) -> set[int]:
    """Slots at which somebody's stay begins, or 0 for one under way."""
    return {max(session.start, 0) for roster in rosters for session in roster}
