"""Does the plan hold: people and order are fixed by the plan, chance decides the rest.

Rows of the plan are played in their order. A row's steps start when they are ready, its people have finished
what stands before it, and its places are free. A row that cannot be done in a sample at all is passed over.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from readiness.engine.flow import Tables
from readiness.engine.steps import TESTS, Key
from readiness.engine.workshop import WorkshopError

Stage = Literal["all", "work", "tests"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRow:
    """One card in the plan: who does it, the leader first, and who gives the second signature.

    ``stage`` splits a card in two rows, the work and its tests, for instance around curing time. Where the
    plan names too few people for a road test, or no signer, whoever can come first is taken.
    """

    work: str
    hands: tuple[str, ...]
    stage: Stage = "all"
    signer: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Cards in the order in which they are to be done; each person's order follows from it."""

    rows: tuple[PlanRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One step to be played: people in it for certain, and how many it needs."""

    step: int
    people: tuple[int, ...]
    persons: int


def check_plan(tables: Tables, plan: Plan) -> tuple[Order, ...]:
    """The steps of the plan in order.

    Raises:
        WorkshopError: an unknown card or person, a leader without the skill, too few people, a card planned
            twice or before what it needs.
    """
    return _Checker(tables, plan).orders()


class _Checker:
    def __init__(self, tables: Tables, plan: Plan) -> None:
        self.tables, self.plan = tables, plan
        self.problems: list[str] = []
        self.out: dict[int, Order] = {}
        booked = {w.uid: w for w in tables.workshop.works if w.booked}
        self.booked = booked
        self.rows = [row for row in plan.rows if row.work in booked]
        self.problems += [
            f"The plan names {r.work}, which is no booked work" for r in plan.rows if r.work not in booked
        ]
        self.left: dict[str, int] = {}
        for row in self.rows:
            group = self.group(row.work)
            if group is not None and row.stage != "tests":
                self.left[group] = self.left.get(group, 0) + 1

    def group(self, uid: str) -> str | None:
        group = self.booked[uid].group
        return group if group is not None and Key(f"group {group}", "open") in self.tables.number else None

    def orders(self) -> tuple[Order, ...]:
        for row in self.rows:
            strangers = [
                uid for uid in (*row.hands, row.signer) if uid is not None and uid not in self.tables.person
            ]
            if strangers or not row.hands or len(set(row.hands)) < len(row.hands):
                self.problems.append(
                    f"The plan gives {row.work} to {', '.join(strangers) or 'nobody, or one twice'}"
                )
                continue
            for key in self.keys(row):
                if key in self.tables.number and self.tables.number[key] < self.tables.crewed:
                    self.add(row, key)
        self.in_order()
        if self.problems:
            raise WorkshopError(self.problems)
        return tuple(self.out.values())

    def keys(self, row: PlanRow) -> list[Key]:
        """Steps of a row; a group is opened by its first row and closed by its last."""
        group = self.group(row.work)
        keys: list[Key] = []
        if row.stage != "tests":
            if group is not None and Key(f"group {group}", "open") not in {
                self.tables.steps[j].key for j in self.out
            }:
                keys.append(Key(f"group {group}", "open"))
            keys += [Key(row.work, stage) for stage in ("main", "extra", "close")]
            if group is not None:
                self.left[group] -= 1
                if self.left[group] == 0:
                    keys.append(Key(f"group {group}", "close"))
        if row.stage != "work":
            keys += [Key(row.work, stage) for stage in TESTS]
        return keys

    def add(self, row: PlanRow, key: Key) -> None:
        j = self.tables.number[key]
        label, persons = self.tables.steps[j].work.label, int(self.tables.persons[j])
        people = tuple(self.tables.person[uid] for uid in row.hands)
        if j in self.out:
            self.problems.append(f"The plan has {label} twice")
        if key.stage == "sign":
            people = () if row.signer is None else (self.tables.person[row.signer],)
            if row.signer in row.hands:
                self.problems.append(f"{label}: who did the work may not sign for it")
        elif key.stage in TESTS:
            people = people[:persons]
        elif len(people) < persons:
            self.problems.append(f"{label} needs {persons} people, the plan gives {len(people)}")
        if people and self.tables.lead[j, people[0]] >= 999:
            self.problems.append(f"{label}: {self.tables.hands[people[0]]} may not lead it")
        helpers = self.tables.help[j, list(people[1:])] if len(people) > 1 else np.zeros(0)
        if (helpers >= 999).any():
            self.problems.append(f"{label}: the plan gives a helper without the skill")
        self.out[j] = Order(step=j, people=people, persons=max(persons, len(people)))

    def in_order(self) -> None:
        place = {j: i for i, j in enumerate(self.out)}
        for j, i in place.items():
            if self.tables.any_of[j]:
                continue
            for need in self.earlier(j):
                if place.get(need, -1) > i:
                    names = self.tables.steps[j].work.label, self.tables.steps[need].work.label
                    self.problems.append(f"The plan has {names[0]} before {names[1]}, which it needs")

    def earlier(self, j: int) -> set[int]:
        """Crewed steps that a step needs, through those that pass by themselves."""
        found: set[int] = set()
        stack = [int(b) for b in self.tables.before[j] if b >= 0]
        while stack:
            b = stack.pop()
            if b < self.tables.crewed:
                found.add(b)
            else:
                stack += [int(x) for x in self.tables.before[b] if x >= 0]
        return found
