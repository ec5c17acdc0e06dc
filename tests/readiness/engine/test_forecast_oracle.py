"""The forecast against a slow second opinion, edge by edge on the same draws."""

from __future__ import annotations

import random

import numpy as np

from readiness.engine.calendar import grid_of
from readiness.engine.forecast import forecast
from readiness.engine.plan_policy import Plan, PlanRow
from readiness.engine.sampling import draw
from readiness.engine.steps import network_of
from readiness.engine.workshop import Work, Workshop, WorkshopError
from tests.readiness.engine.oracle import Oracle
from tests.readiness.engine.workshops import random_workshop

SAMPLES = 3
WANTED = 200


def _drawn(workshop: Workshop, seed: int):
    grid = grid_of(workshop)
    return grid, draw(workshop, grid, samples=SAMPLES, seed=seed)


def test_dispatch_equals_the_oracle_on_random_workshops():
    compared = finished = 0
    for seed in range(1000):
        workshop = random_workshop(seed)
        try:
            answer = forecast(workshop, samples=SAMPLES, seed=seed)
        except WorkshopError:
            continue
        grid, draws = _drawn(workshop, seed)
        for sample in range(SAMPLES):
            expected = Oracle(workshop, draws, grid, sample).dispatch()
            found = {uid: int(edges[sample]) for uid, edges in answer.finish.items()}
            assert found == expected, f"workshop {seed}, sample {sample}"
            finished += sum(edge < grid.never for edge in expected.values())
        compared += 1
        if compared == WANTED:
            break
    assert compared == WANTED
    assert finished > WANTED * SAMPLES  # the comparison is not one of jobs that never end


FEATURES = {
    "pairs": lambda w, x: x.persons > 1,
    "trainees": lambda w, x: any(h.trainee for h in w.hands) and x.crew > 1,
    "two-person rule": lambda w, x: x.two_person and x.persons == 1,
    "places": lambda w, x: x.place is not None,
    "tools with a return time": lambda w, x: bool(x.tools) and any(t.back is not None for t in w.tools),
    "curing": lambda w, x: x.cure_hours > 0,
    "chain to the second signature": lambda w, x: (
        x.functional_hours > 0 and x.road_hours > 0 and bool(x.second_signature)
    ),
    "shared opening": lambda w, x: (
        x.group is not None
        and sum(y.group == x.group and y.booked for y in w.works) > 1
        and any(y.group == x.group and y.open_hours for y in w.works)
    ),
    "discovery": lambda w, x: x.discovery is not None and x.discovery.part is None,
    "discovery with its part": lambda w, x: x.discovery is not None and x.discovery.part is not None,
    "common factor": lambda w, x: w.params.common_sigma > 0,
    "lead times": lambda w, x: any(d.uid in x.parts and d.state == "on_order" for d in w.deliveries),
    "censored running job": lambda w, x: x.hours_done > 0 and x.estimate is not None,
    "begun work": lambda w, x: bool(set(x.kept_by) & {h.uid for h in w.hands}),
    "needs": lambda w, x: bool(x.after),
    "soft needs": lambda w, x: bool(x.after_if_done),
    "outside visit": lambda w, x: x.fixed is not None,
    "not booked": lambda w, x: not x.booked,
    "held": lambda w, x: x.hold_until is not None,
}


def test_the_random_workshops_hold_every_feature_often():
    """A comparison says nothing of what does not occur in it."""
    seen = dict.fromkeys(FEATURES, 0)
    compared, seed = 0, -1
    while compared < WANTED:
        seed += 1
        workshop = random_workshop(seed)
        try:
            network_of(workshop)
        except WorkshopError:
            continue
        compared += 1
        for name, holds in FEATURES.items():
            seen[name] += any(holds(workshop, w) for w in workshop.works)
    assert {name: count for name, count in seen.items() if count < 10} == {}


def _plan_order(works: list[Work], r: random.Random) -> list[Work] | None:
    """A random order in which needs come first, groups standing for all their members."""
    booked = {w.uid: w for w in works if w.booked}
    members: dict[str | None, set[str]] = {}
    for w in booked.values():
        members.setdefault(w.group, set()).add(w.uid)
    left, out = dict(booked), []
    while left:
        ready = []
        for w in left.values():
            needs = {u for u in (*w.after, *w.after_if_done) if u in booked}
            for u in list(needs):
                group = booked[u].group
                if group is not None and group != w.group:
                    needs |= members[group]
            if not needs & left.keys():
                ready.append(w)
        if not ready:
            return None
        chosen = r.choice(sorted(ready, key=lambda w: w.uid))
        out.append(left.pop(chosen.uid))
    return out


def _random_plan(workshop: Workshop, r: random.Random) -> Plan | None:
    order = _plan_order(list(workshop.works), r)
    if order is None:
        return None
    rows = []
    for w in order:
        leads = [h.uid for h in workshop.hands if not h.trainee and (not w.skills or h.skills & w.skills)]
        pool = [h.uid for h in workshop.hands if w.helper_any or not w.skills or h.skills & w.skills]
        if not leads or (w.group is not None and r.random() < 0.2):
            continue
        lead = r.choice(leads)
        others = [u for u in pool if u != lead]
        r.shuffle(others)
        if len(others) < w.crew - 1:
            continue
        size = min(w.crew - 1 + (r.random() < 0.1), len(others))
        crew = (lead, *others[:size])
        signers = [
            h.uid
            for h in workshop.hands
            if w.second_signature in h.signs and not h.trainee and h.uid not in crew
        ]
        signer = r.choice([*signers, None]) if w.second_signature else None
        if r.random() < 0.2:
            rows += [
                PlanRow(work=w.uid, hands=crew, stage="work"),
                PlanRow(work=w.uid, hands=crew, stage="tests", signer=signer),
            ]
        else:
            rows.append(PlanRow(work=w.uid, hands=crew, signer=signer))
    return Plan(rows=tuple(rows))


def test_plan_equals_the_oracle_on_random_plans():
    compared = finished = 0
    for seed in range(3000):
        workshop = random_workshop(seed)
        plan = _random_plan(workshop, random.Random(seed))
        if plan is None:
            continue
        try:
            answer = forecast(workshop, samples=SAMPLES, seed=seed, policy="plan", plan=plan)
        except WorkshopError:
            continue
        grid, draws = _drawn(workshop, seed)
        rows = [(row.work, row.hands, row.stage, row.signer) for row in plan.rows]
        for sample in range(SAMPLES):
            expected = Oracle(workshop, draws, grid, sample).plan(rows)
            found = {uid: int(edges[sample]) for uid, edges in answer.finish.items()}
            assert found == expected, f"workshop {seed}, sample {sample}"
            finished += sum(edge < grid.never for edge in expected.values())
        compared += 1
        if compared == WANTED:
            break
    assert compared == WANTED
    assert finished > WANTED * SAMPLES


def test_samples_are_played_alone():
    """A chunk boundary or a longer run changes nothing in a sample."""
    workshop = random_workshop(7)
    short = forecast(workshop, samples=5, seed=3)
    long = forecast(workshop, samples=50, seed=3)
    for uid, edges in short.finish.items():
        assert np.array_equal(edges, long.finish[uid][:5])
