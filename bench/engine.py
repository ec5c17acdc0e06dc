"""How fast the forecast is, as ratios measured in one run on one machine.

    python -m bench.engine [samples]

Rows:
  dispatch      the forecast's own simulation against a plain Python loop over samples that reads the same tables
  fixed plan    the same with people and order fixed, drivers recorded, against the same kind of loop
  floor         the fixed plan against nothing but its table look-ups (one end of work per step)
  12x the jobs  time of twelve times as many jobs with the same people, and with twelve times the people too

The plain loops must give exactly the same finish of every step; the run stops if they do not.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from statistics import median
from time import perf_counter
from typing import Any

import numpy as np

from bench.stored import store
from readiness.engine.calendar import grid_of
from readiness.engine.dispatch import run_dispatch
from readiness.engine.flow import Flow, Tables
from readiness.engine.forecast import forecast
from readiness.engine.plan_policy import Order, Plan, PlanRow, check_plan
from readiness.engine.plan_run import PlanRun
from readiness.engine.sampling import draw
from readiness.engine.steps import network_of
from readiness.engine.workshop import (
    Delivery,
    Discovery,
    Estimate,
    Goal,
    Hand,
    Place,
    Work,
    WorkDay,
    Workshop,
)

NOW = datetime(2031, 5, 3, 8)
SKILLS = ("brakes", "electrical", "engine", "body", "steam")
PLAIN_SAMPLES = 100
REPEAT = 5
FULL = 2000
"""Fewer samples than this are a trial, and not kept."""


def museum(
    jobs: int, hands: int, days: int = 35, seed: int = 1, *, persons: tuple[int, ...] = (1, 1, 2)
) -> Workshop:
    """An invented workshop: weekend hands, five jobs a vehicle, parts, a pit and three bays."""
    r = random.Random(seed)
    dates = [NOW.date() + timedelta(days=k) for k in range(days)]
    people = [
        Hand(
            uid=f"P{i:03}",
            name=f"Hand {i}",
            skills=frozenset(r.sample(SKILLS, 2)),
            days=tuple(WorkDay.on(d) for d in dates if d.weekday() in ((5, 6) if i % 3 else (2, 5))),
            turn_up=0.8,
            trainee=i % 6 == 5,
            signs=frozenset({"stop"}) if i % 3 == 0 else frozenset(),
        )
        for i in range(hands)
    ]
    parts = [
        Delivery(
            uid=f"D{k}",
            name=f"Part {k}",
            state="on_order",
            ordered=NOW - timedelta(days=5),
            promised=NOW + timedelta(days=r.randint(1, 25)),
        )
        for k in range(jobs // 5)
    ]
    works = []
    for k in range(jobs):
        usual = r.choice([0.5, 1.0, 2.0, 3.0])
        works.append(
            Work(
                uid=f"J{k:04}",
                label=f"Job {k}",
                vehicle=f"V{k // 5}",
                estimate=Estimate.three(usual * 0.6, usual, usual * 2.2),
                persons=r.choice(persons),
                skills=frozenset({r.choice(SKILLS)}),
                place=r.choice([None, None, None, "pit", "bay"]),
                parts=(f"D{k // 5}",) if k % 5 == 0 else (),
                functional_hours=0.5 if k % 2 else 0.0,
                road_hours=1.0 if k % 4 == 0 else 0.0,
                second_signature="stop" if k % 6 == 0 else None,
                discovery=Discovery(chance=0.2, extra=Estimate.three(0.5, 1, 2)) if k % 4 == 1 else None,
                after=(f"J{k - 1:04}",) if k % 5 == 4 else (),
                rank=float(r.choice([1, 2, 3])),
            )
        )
    goals = [
        Goal(
            uid=f"E{v}",
            vehicle=f"V{v}",
            label=f"Entry {v}",
            needs=tuple(f"J{5 * v + q:04}" for q in range(5)),
            deadline=NOW + timedelta(days=days - 2),
        )
        for v in range(jobs // 5)
    ]
    return Workshop(
        now=NOW,
        horizon=NOW + timedelta(days=days),
        hands=tuple(people),
        places=(Place(uid="pit", name="Pit"), Place(uid="bay", name="Bay", capacity=3)),
        deliveries=tuple(parts),
        works=tuple(works),
        goals=tuple(goals),
    )


class Plain:
    """The same rules, the same tables, one sample after another in plain Python."""

    def __init__(self, tables: Tables, start: Flow) -> None:
        self.t, self.never = tables, start.never
        self.persons = tables.persons.tolist()
        self.lead = [
            [p for p in np.argsort(row, kind="stable").tolist() if row[p] < 999] for row in tables.lead
        ]
        self.help = [
            [p for p in np.argsort(row, kind="stable").tolist() if row[p] < 999] for row in tables.help
        ]
        self.trainee = tables.trainee.tolist()
        clean = [
            [[x for x in row if x >= 0] for row in m.tolist()]
            for m in (tables.after, tables.takes, tables.frees, tables.guards)
        ]
        self.after, self.takes, self.frees, self.guards = clean
        self.signs = tables.signs.tolist()
        self.signers = [[p for p, may in enumerate(row) if may] for row in tables.signers.tolist()]
        self.units = [[u for u in row if u >= 0] for row in tables.units.tolist()]
        self.resource = tables.hold_resource.tolist()
        self.gate = [s.work.uid if s.key.stage == "gate" else None for s in tables.steps]
        cal = start.calendars
        self.before = cal.before.tolist()
        self.most = cal.most
        self.sessions = [
            [(s.start, s.end, cal.first[p] + i) for i, s in enumerate(r)] for p, r in enumerate(cal.rosters)
        ]
        self.busy = sorted(
            {t for r in cal.rosters for s in r for t in range(max(s.start, 0), min(s.end, start.never - 1))}
        )
        self.joints: dict[tuple[int, ...], list[tuple[list[int], list[int]]]] = {}
        self.cal = cal

    def load(self, f: Flow, s: int) -> None:
        self.attempt, self.needs = f.attempt[s].tolist(), f.open_needs[s].tolist()
        self.latest, self.end = f.latest[s].tolist(), f.end[s].tolist()
        self.slots, self.free_at = f.slots[s].tolist(), [0] * len(self.lead and self.trainee)
        self.unit_free, self.held = f.unit_free[s].tolist(), {}
        self.done = self.cal.done[:, :, s].tolist()
        self.ends = self.cal.ends[:, :, s].tolist()
        self.present = self.cal.present[:, s].tolist()
        self.release = {uid: int(edges[s]) for uid, edges in f.release.items()}
        self.doers: list[set[int]] = [set() for _ in self.signers]

    def alone(self, p: int, start: int, slots: int) -> int:
        return self.ends[p][min(self.done[p][self.before[p][start]] + slots - 1, self.most)]

    def together(self, crew: tuple[int, ...], start: int, slots: int) -> int:
        if crew not in self.joints:
            number = self.cal.crew_numbers(np.array([crew]))[0]
            rows = zip(self.cal.spans[number].tolist(), self.cal.members[number].tolist(), strict=True)
            self.joints[crew] = [row for row in rows if row[0][2]]
        for (lo, length, worked), sessions in self.joints[crew]:
            if lo + length > start and all(self.present[i] for i in sessions):
                passed = max(start - lo, 0) * worked // length
                if worked - passed >= slots:
                    edge = lo - (-(passed + slots) * length // worked)
                    return min(self.never, edge)
                slots -= worked - passed
        return self.never

    def finish(self, j: int, end: int) -> None:
        self.end[j] = end
        if end >= self.never:
            return
        for hold in self.frees[j]:
            self.unit_free[self.held[hold]] = end
        for k in self.after[j]:
            self.needs[k] -= 1
            self.latest[k] = max(self.latest[k], end)
            if self.needs[k] == 0:
                ready = self.latest[k]
                if self.gate[k] is not None:
                    ready = min(max(ready, self.release[self.gate[k]]), self.never)
                if k >= len(self.lead):
                    self.finish(k, ready)
                else:
                    self.attempt[k] = ready

    def choose(self, j: int, free: list[bool]) -> list[int] | None:
        crew: list[int] = []
        for k in range(self.persons[j]):
            banned = set(crew)
            if self.signs[j] >= 0:
                banned |= self.doers[self.signs[j]]
            for card in self.guards[j]:
                left = [p for p in self.signers[card] if p not in self.doers[card] and p not in crew]
                if len(left) == 1:
                    banned.add(left[0])
            for p in self.help[j] if k else self.lead[j]:
                if free[p] and p not in banned:
                    crew.append(p)
                    break
            else:
                return None
        return crew

    def start(self, j: int, crew: list[int], t: int) -> None:
        need = self.persons[j]
        halves = min(2 * len(crew) - sum(self.trainee[p] for p in crew), 2 * need)
        slots = -(-(self.slots[j] * 2 * need) // halves)
        end = (
            self.alone(crew[0], t, slots) if len(crew) == 1 else self.together(tuple(sorted(crew)), t, slots)
        )
        for hold in self.takes[j]:
            unit = min(self.units[self.resource[hold]], key=lambda u: self.unit_free[u])
            self.held[hold] = unit
            self.unit_free[unit] = self.never + 1
        for p in crew:
            self.free_at[p] = end
            for card in self.guards[j]:
                self.doers[card].add(p)
        self.attempt[j] = self.never + 1
        self.finish(j, end)

    def dispatch(self) -> list[int]:
        open_steps = list(range(len(self.lead)))
        for t in self.busy:
            free = [
                self.free_at[p] <= t and any(a <= t < b and self.present[i] for a, b, i in rows)
                for p, rows in enumerate(self.sessions)
            ]
            if not any(free):
                continue
            open_steps = [j for j in open_steps if self.attempt[j] <= self.never]
            for j in open_steps:
                if self.attempt[j] > t:
                    continue
                if any(
                    all(self.unit_free[u] > t for u in self.units[self.resource[h]]) for h in self.takes[j]
                ):
                    continue
                crew = self.choose(j, free)
                if crew is not None:
                    self.start(j, crew, t)
                    for p in crew:
                        free[p] = False
        return self.end

    def plan(self, orders: tuple[Order, ...]) -> list[int]:
        for order in orders:
            j, begin = order.step, self.attempt[order.step]
            if begin >= self.never:
                continue
            for hold in self.takes[j]:
                begin = max(begin, min(self.unit_free[u] for u in self.units[self.resource[hold]]))
            if begin >= self.never:
                continue
            begin = max([begin, *(self.free_at[p] for p in order.people)])
            self.start(j, list(order.people), min(begin, self.never))
        return self.end


def timed(act: Callable[[], object], repeat: int = REPEAT) -> float:
    """Median seconds of several runs."""
    spent = []
    for _ in range(repeat):
        begin = perf_counter()
        act()
        spent.append(perf_counter() - begin)
    return median(spent)


class Bed:
    """One workshop with everything drawn and tabled; only the playing is timed, on both sides."""

    def __init__(self, workshop: Workshop, samples: int) -> None:
        self.samples, grid = samples, grid_of(workshop)
        self.draws = draw(workshop, grid, samples=samples, seed=1)
        self.tables = Tables(workshop, network_of(workshop), grid)

    def flow(self) -> Flow:
        return Flow(self.tables, self.draws, 0, self.samples)

    def plan_run(self) -> PlanRun:
        return PlanRun(self.tables, self.draws, 0, self.samples)

    def fast(
        self, state: Callable[[], Flow | PlanRun], play: Callable[[Flow | PlanRun], None]
    ) -> tuple[float, np.ndarray]:
        """Median seconds of playing all samples, and the end of every step."""
        spent = []
        for _ in range(REPEAT):
            flow = state()
            begin = perf_counter()
            play(flow)
            spent.append(perf_counter() - begin)
        return median(spent), flow.end

    def slow(self, play: Callable[[Plain], list[int]], ends: np.ndarray) -> float:
        """Seconds the plain loop would take for all samples; stops if a result differs."""
        start = self.flow()
        loop, spent = Plain(self.tables, start), []
        for s in range(PLAIN_SAMPLES):
            loop.load(start, s)
            begin = perf_counter()
            found = play(loop)
            spent.append(perf_counter() - begin)
            if found != ends[s].tolist():
                raise SystemExit(f"sample {s}: the plain loop disagrees")
        return sum(spent) / PLAIN_SAMPLES * self.samples


def fixed_plan(workshop: Workshop) -> Plan:
    """Every job by one skilled hand, in order of its number (needs come first by number)."""
    rows = []
    for turn, w in enumerate(workshop.works):
        able = [h.uid for h in workshop.hands if not h.trainee and h.skills & w.skills]
        rows.append(PlanRow(work=w.uid, hands=(able[turn % len(able)],)))
    return Plan(rows=tuple(rows))


def look_ups(flow: Flow, orders: tuple[Order, ...]) -> None:
    """The floor of a fixed plan: one end of work per step and nothing else."""
    at = np.zeros(len(flow.samples), dtype=np.int64)
    for order in orders:
        person = np.full(len(at), order.people[0])
        flow.calendars.end_alone(person, flow.samples, at, flow.slots[:, order.step])


def rows(samples: int) -> list[dict[str, Any]]:
    """Each row: words, ratio, and the aim."""
    shop = museum(100, 12)
    bed = Bed(shop, samples)
    fast, ends = bed.fast(bed.flow, run_dispatch)
    found = [
        ("dispatch against a plain loop, same tables", bed.slow(Plain.dispatch, ends) / fast, "at least", 8)
    ]
    single = museum(100, 12, persons=(1,))
    works = tuple(replace(w, road_hours=0.0, second_signature=None) for w in single.works)
    bed = Bed(replace(single, works=works), samples)
    orders = check_plan(bed.tables, fixed_plan(single))
    fast, ends = bed.fast(bed.plan_run, lambda run: run.play(orders))
    slow = bed.slow(lambda loop: loop.plan(orders), ends)
    found.append(("fixed plan with drivers against the same", slow / fast, "at least", 15))
    flow = bed.flow()
    floor = timed(lambda: look_ups(flow, orders))
    found.append(("fixed plan against the floor of its look-ups", fast / floor, "at most", 4))
    whole = timed(lambda: forecast(shop, samples=samples))
    for hands, words in ((12, "12x the jobs, same people"), (144, "12x the jobs, 12x the people")):
        large = museum(1200, hands)
        ratio = timed(lambda w=large: forecast(w, samples=samples), repeat=3) / whole  # type: ignore[misc]
        found.append((words, ratio, "at most", 20))
    return [
        {
            "what": what, "ratio": round(ratio, 1), "aim": f"{way} {aim}",
            "met": ratio >= aim if way == "at least" else ratio <= aim,
        }
        for what, ratio, way, aim in found
    ]  # fmt: skip


def main() -> None:
    samples = int(sys.argv[1]) if len(sys.argv) > 1 else FULL
    print(f"{samples} samples; plain loops on {PLAIN_SAMPLES} of them; medians of {REPEAT} runs")
    found = rows(samples)
    for row in found:
        print(
            f"{row['what']:46} {row['ratio']:6.1f} x   (aim {row['aim']}: {'met' if row['met'] else 'MISSED'})"
        )
    if samples >= FULL:
        store("engine", {"samples": samples, "runs": REPEAT, "rows": found})


if __name__ == "__main__":
    main()
