"""What will happen: the next free person takes the best-ranked job that can start.

At each quarter hour, steps are looked at in order of priority. A step starts if it is ready, its places and
tools are free, a person who may lead it is present and free and so are the others that it needs. A step that
cannot start is passed over, so one late part holds nobody's list (parallel schedule generation; Kolisch 1996).
All samples stand at the same quarter hour; in each round every sample starts at most one step.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from readiness.engine.flow import Flow
from readiness.engine.worktime import session_starts

Array = NDArray[np.integer]
Bools = NDArray[np.bool_]
NOBODY = 999


class Classes:
    """Steps that ask for the same people and things share one test of feasibility."""

    def __init__(self, flow: Flow) -> None:
        tables = flow.tables
        keys: dict[tuple[bytes, bytes, int, tuple[int, ...]], int] = {}
        self.of = np.zeros(tables.crewed, dtype=np.int64)
        lead, helpers, persons, self.things = [], [], [], []
        for j in range(tables.crewed):
            may_lead, may_help = tables.lead[j] < NOBODY, tables.help[j] < NOBODY
            holds = [h for h in tables.takes[j] if h >= 0]
            things = tuple(sorted(int(tables.hold_resource[h]) for h in holds))
            key = (may_lead.tobytes(), may_help.tobytes(), int(tables.persons[j]), things)
            if key not in keys:
                keys[key] = len(keys)
                lead.append(may_lead)
                helpers.append(may_lead | may_help)
                persons.append(tables.persons[j])
                self.things.append(things)
            self.of[j] = keys[key]
        self.lead = bits(np.array(lead, dtype=np.bool_).reshape(len(keys), -1))
        self.anyone = bits(np.array(helpers, dtype=np.bool_).reshape(len(keys), -1))
        self.persons = np.array(persons, dtype=np.int64)

    def feasible(self, flow: Flow, rows: Array, free: Bools, which: Array, t: int) -> Bools:
        """Whether a step of each class in ``which`` could start now, (rows, classes).

        Looks at free people and things only, not at who may still sign.
        """
        there = bits(free)
        out = np.zeros((len(rows), len(which)), dtype=np.bool_)
        count = np.zeros((len(rows), len(which)), dtype=np.int64)
        for word in range(there.shape[1]):
            out |= (there[:, word, None] & self.lead[which, word]) != 0
            count += np.bitwise_count(there[:, word, None] & self.anyone[which, word])
        out &= count >= self.persons[which]
        open_now: dict[int, Bools] = {}
        for i, c in enumerate(which):
            for r in self.things[c]:
                if r not in open_now:
                    units = flow.tables.units[r]
                    here = flow.unit_free[rows[:, None], units[units >= 0]]
                    open_now[r] = (here <= t).any(axis=1)
                out[:, i] &= open_now[r]
        return out


def bits(people: Bools) -> NDArray[np.uint64]:
    """Rows of people as bits, 64 to a word."""
    words = -(-people.shape[1] // 64)
    wide = np.zeros((len(people), words * 64), dtype=np.bool_)
    wide[:, : people.shape[1]] = people
    return np.packbits(wide, axis=1, bitorder="little").view(np.uint64)


def run_dispatch(flow: Flow) -> None:
    """Plays all samples forward to the horizon; the result stands in ``flow``."""
    rosters = flow.calendars.rosters
    if not flow.tables.crewed or not any(rosters):
        return
    go_on(flow)
    classes = Classes(flow)
    starts = session_starts(rosters)
    busy_slots = np.zeros(flow.never + 1, dtype=np.bool_)
    for roster in rosters:
        for session in roster:
            busy_slots[max(session.start, 0) : max(session.end, 0)] = True
    for t in np.flatnonzero(busy_slots[: flow.never - 1]):
        _quarter_hour(flow, classes, int(t), int(t) in starts)


def present_at(flow: Flow, t: int) -> Bools:
    """Who is there at slot ``t``, (samples, people)."""
    out = np.zeros((len(flow.samples), len(flow.tables.hands)), dtype=np.bool_)
    for p, roster in enumerate(flow.calendars.rosters):
        for i, session in enumerate(roster):
            if session.start <= t < session.end:
                out[:, p] = flow.calendars.present[flow.calendars.first[p] + i]
    return out


def _quarter_hour(flow: Flow, classes: Classes, t: int, all_awake: bool) -> None:
    """Starts everything that can start in slot ``t``."""
    free = present_at(flow, t) & (flow.free_at <= t)
    awake = free.any(axis=1)
    if not all_awake:
        awake &= flow.wake[t]
    rows = np.flatnonzero(awake)
    ready = flow.attempt.take(rows, axis=0) <= t
    # Steps that are ready in some sample, in order of priority.
    columns = np.flatnonzero(ready.any(axis=0))
    ready = ready[:, columns]
    which, of = np.unique(classes.of[columns], return_inverse=True)
    while len(rows) and len(columns):
        able = classes.feasible(flow, rows, free[rows], which, t).take(of, axis=1)
        able &= ready
        pick = able.argmax(axis=1)
        some = able[np.arange(len(rows)), pick]
        rows, pick, ready = rows[some], pick[some], ready[some]
        if len(rows):
            _start(flow, rows, columns[pick], free, t)
            # Begun, or to be tried again in the next slot; nothing else becomes ready within this one.
            ready[np.arange(len(rows)), pick] = False


def _start(flow: Flow, rows: Array, steps: Array, free: Bools, t: int) -> None:
    """Chooses the crew of one step in each row and starts it; where no crew is allowed, tries again later."""
    crew = choose_crew(flow, rows, steps, free)
    short = crew[:, 0] < 0
    if short.any():
        flow.attempt[rows[short], steps[short]] = t + 1
        flow.wake[t + 1, rows[short]] = True
        rows, steps, crew = rows[~short], steps[~short], crew[~short]
        if not len(rows):
            return
    for k in range(crew.shape[1]):
        there = crew[:, k] >= 0
        free[rows[there], crew[there, k]] = False
    _begin(flow, rows, steps, crew, ends_of(flow, rows, steps, crew, t), t)


def ends_of(flow: Flow, rows: Array, steps: Array, crew: Array, t: int) -> Array:
    """When each step is done if its crew begins it in slot ``t``."""
    ends = np.empty(len(rows), dtype=np.int64)
    slots = crew_slots(flow, rows, steps, crew)
    together = flow.tables.persons[steps] > 1
    if together.any():
        r, c = rows[together], flow.calendars.crew_numbers(crew[together])
        ends[together] = flow.calendars.work_together(c, r, t, slots[together])[1]
    alone = ~together
    ends[alone] = flow.calendars.end_alone(crew[alone, 0], rows[alone], t, slots[alone])
    return ends


def _begin(flow: Flow, rows: Array, steps: Array, crew: Array, ends: Array, t: int) -> None:
    things = flow.take(rows, steps)
    flow.record(rows, steps, occupy(flow, rows, steps, crew, ends), things)
    flow.attempt[rows, steps] = flow.taken
    flow.start[rows, steps] = t
    flow.finish(rows, steps, ends)


def go_on(flow: Flow) -> None:
    """Lets begun work go on: its people are busy with it from the first slot, there that day or not.

    Without this, somebody who has taken a job apart would be given a better-ranked one on the next morning, and one
    of two whose partner is away would begin something else; neither is done within a play. Begun work that cannot
    go on (its part is missing, its people are at another begun job, they will not be there together) waits like
    any other, and is still theirs.
    """
    tables = flow.tables
    for j, step in enumerate(tables.steps[: tables.crewed]):
        if not step.goes_on:
            continue
        people = np.array([[tables.person[uid] for uid in step.goes_on]])
        can = (flow.attempt[:, j] <= 0) & (flow.free_at[:, people[0]] <= 0).all(axis=1)
        for hold in tables.takes[j][tables.takes[j] >= 0]:
            resource = np.full(len(can), tables.hold_resource[hold])
            can &= flow.best_unit(flow.samples, resource)[1] <= 0
        rows = np.flatnonzero(can)
        steps, crew = np.full(len(rows), j), np.repeat(people, len(rows), axis=0)
        ends = ends_of(flow, rows, steps, crew, 0) if len(rows) else rows
        some = ends < flow.never
        if some.any():
            _begin(flow, rows[some], steps[some], crew[some], ends[some], 0)


def choose_crew(flow: Flow, rows: Array, steps: Array, free: Bools) -> Array:
    """People for each step, the leader first, filled up with -1; a first -1 means that no crew is allowed."""
    tables = flow.tables
    need = tables.persons[steps]
    crew = np.full((len(rows), int(need.max())), -1, dtype=np.int64)
    here = free[rows]
    guards, signs = tables.guards[steps], tables.signs[steps]
    watched = np.flatnonzero(guards[:, 0] >= 0)
    signing = signs >= 0
    if signing.any():
        here[signing] &= ~flow.doers[rows[signing], signs[signing]]
    line = np.arange(len(rows))
    left = here.copy()
    chosen = np.zeros_like(here)
    for k in range(crew.shape[1]):
        allowed = left.copy()
        if len(watched):
            allowed[watched] &= ~_last_signers(flow, rows[watched], guards[watched], chosen[watched])
        order = np.where(allowed, (tables.lead if k == 0 else tables.help)[steps], NOBODY)
        person = order.argmin(axis=1)
        good = (order[line, person] < NOBODY) & (need > k)
        crew[good, k] = person[good]
        left[line[good], person[good]] = False
        chosen[line[good], person[good]] = True
        crew[~good & (need > k), 0] = -1
        # A row that failed once must not take a leader in a later turn.
        left[crew[:, 0] < 0] = False
    return crew


def _last_signers(flow: Flow, rows: Array, guards: Array, chosen: Bools) -> Bools:
    """People who may not touch the work, because nobody else would be left to sign for it."""
    out = np.zeros_like(chosen)
    for k in range(guards.shape[1]):
        at = np.flatnonzero(guards[:, k] >= 0)
        card = guards[at, k]
        remaining = flow.tables.signers[card] & ~flow.doers[rows[at], card] & ~chosen[at]
        out[at] |= remaining & (remaining.sum(axis=1) == 1)[:, None]
    return out


def crew_slots(flow: Flow, rows: Array, steps: Array, crew: Array) -> Array:
    """Slots that the crew needs: a trainee counts half, so d slots of n become d n / (n - trainees / 2)."""
    slots = flow.slots[rows, steps].astype(np.int64)
    need = flow.tables.persons[steps]
    there = crew >= 0
    halves = 2 * there.sum(axis=1) - (flow.tables.trainee[crew] & there).sum(axis=1)
    halves = np.minimum(halves, 2 * need)
    stretched: Array = -(-(slots * 2 * need) // halves)
    return stretched


def occupy(flow: Flow, rows: Array, steps: Array, crew: Array, ends: Array) -> tuple[Array, Array]:
    """Keeps the crew busy until ``ends`` and remembers who did what.

    Returns:
        When the last of the crew had come free before, and from which step (-1 if none).
    """
    tables = flow.tables
    busy = np.zeros(len(rows), dtype=np.int64)
    by = np.full(len(rows), -1, dtype=np.int64)
    guards = tables.guards[steps]
    for k in range(crew.shape[1]):
        at = np.flatnonzero(crew[:, k] >= 0)
        r, p = rows[at], crew[at, k]
        until = flow.free_at[r, p].astype(np.int64)
        later = until > busy[at]
        busy[at[later]], by[at[later]] = until[later], flow.last_step[r, p][later]
        flow.free_at[r, p], flow.last_step[r, p] = ends[at], steps[at]
        flow.wake[ends[at], r] = True
        for g in range(guards.shape[1]):
            card = guards[at, g]
            signed = card >= 0
            flow.doers[r[signed], card[signed], p[signed]] = True
    return busy, by
