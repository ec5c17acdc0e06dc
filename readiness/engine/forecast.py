"""Will it be ready: Monte Carlo of the shared workshop.

Every sample plays the whole workshop once, with its own hours, no-shows, late parts and finds. The chance of
an entry is the share of samples in which all its needed work is done by its deadline; its standard error is
sqrt(p (1 - p) / n), which is 0 where all n samples agree (then the true chance differs by less than about
3 / n, the rule of three). Vehicles share people, so their samples belong together: use ``clear`` jointly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from readiness.engine import ENGINE_VERSION
from readiness.engine.calendar import Grid, grid_of
from readiness.engine.dispatch import run_dispatch
from readiness.engine.flow import Flow, Tables
from readiness.engine.holds import Hold, HoldCounter, Played
from readiness.engine.plan_policy import Order, Plan, check_plan
from readiness.engine.plan_run import PlanRun
from readiness.engine.sampling import Draws, Flag, draw
from readiness.engine.steps import network_of
from readiness.engine.workshop import Goal, Workshop

if TYPE_CHECKING:
    from collections.abc import Sequence

    from readiness.engine.whatif import Change, WhatIf

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Policy = Literal["dispatch", "plan"]

# Values of the per-sample state that one chunk may hold; bounds memory, not the answer.
_CHUNK_CELLS = 60_000_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GoalForecast:
    """The answer for one entry.

    Attributes:
        chance: share of samples that are clear by the deadline.
        error: standard error of ``chance``.
        percent: ``chance`` in hundredths as shown, halves up.
        even: moment by which half of the samples are clear, None if past the horizon.
        eight_in_ten: the same for eight in ten.
        float_hours: calendar hours from ``even`` to the deadline, negative when late.
        holds: what holds it, largest share first.
        clear: (samples,) whether each sample is clear by the deadline.
        finish: (samples,) edge at which the last needed work is done.
    """

    uid: str
    vehicle: str
    chance: float
    error: float
    percent: int
    even: datetime | None
    eight_in_ten: datetime | None
    float_hours: float | None
    holds: tuple[Hold, ...]
    clear: Bools
    finish: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Forecast:
    """The answer for all entries, with what it was computed from.

    Attributes:
        goals: by uid.
        finish: work -> (samples,) edge at which it is done, ``grid.never`` past the horizon.
        impossible: work -> why it can never be done by the people there are.
        flags: assumptions that had to be made.
    """

    goals: dict[str, GoalForecast]
    finish: dict[str, Ints]
    impossible: dict[str, str]
    flags: tuple[Flag, ...]
    grid: Grid
    seed: int
    samples: int
    policy: Policy
    version: str = ENGINE_VERSION

    def done_by(self, work: str, share: float) -> datetime | None:
        """Moment by which a share of the samples has the work done, None if past the horizon."""
        return self.grid.moment(edge_of(self.finish[work], share))


def edge_of(finish: Ints, share: float) -> int:
    """Smallest edge by which at least ``share`` of the samples are done."""
    at = max(math.ceil(share * len(finish) - 1e-9) - 1, 0)
    return int(np.partition(finish, at)[at])


def forecast(
    workshop: Workshop,
    *,
    samples: int = 2000,
    seed: int = 0,
    policy: Policy = "dispatch",
    plan: Plan | None = None,
) -> Forecast:
    """Forecasts every entry of a workshop.

    Args:
        workshop: people, places, parts, work and entries; the order of rows does not matter.
        samples: number of samples; the error falls with its square root.
        seed: base seed. Same workshop, seed and samples give the same answer.
        policy: ``"dispatch"`` for what will happen, ``"plan"`` for whether a plan holds.
        plan: people and order, needed for ``"plan"``.

    Raises:
        WorkshopError: unknown names, jobs that wait for each other, or a plan that contradicts the work.
        ValueError: no samples, or policy ``"plan"`` without a plan.
    """
    if samples < 1:
        raise ValueError("At least one sample is needed.")
    if policy == "plan" and plan is None:
        raise ValueError("Policy 'plan' needs a plan.")
    if policy == "plan":
        workshop = replace(workshop, works=tuple(replace(w, kept_by=()) for w in workshop.works))
    network, grid = network_of(workshop), grid_of(workshop)
    draws = draw(workshop, grid, samples=samples, seed=seed)
    tables = Tables(workshop, network, grid)
    orders = check_plan(tables, plan) if policy == "plan" and plan is not None else None
    finish = {work.uid: np.full(samples, grid.never, dtype=np.int64) for work in workshop.works}
    counters = {goal.uid: HoldCounter(tables, goal) for goal in workshop.goals}
    cells = len(tables.steps) * 12 + grid.slots + 1
    cells += 2 * sum(s.worked for roster in draws.sessions.values() for s in roster)
    size = max(1, min(samples, _CHUNK_CELLS // cells))
    for lo in range(0, samples, size):
        hi = min(lo + size, samples)
        flow = (
            _dispatched(tables, draws, lo, hi) if orders is None else _planned(tables, draws, orders, lo, hi)
        )
        for uid, key in network.final.items():
            finish[uid][lo : lo + size] = flow.end[:, tables.number[key]]
        for counter in counters.values():
            counter.add(flow)
    goals = {
        goal.uid: _answer(goal, finish, grid, counters[goal.uid].holds(), samples)
        for goal in sorted(workshop.goals, key=lambda g: g.uid)
    }
    flags = tuple(sorted(draws.flags, key=lambda f: (f.code, f.subject)))
    return Forecast(
        goals=goals,
        finish=finish,
        impossible=dict(sorted(network.impossible.items())),
        flags=flags,
        grid=grid,
        seed=seed,
        samples=samples,
        policy=policy,
    )


def _dispatched(tables: Tables, draws: Draws, lo: int, hi: int) -> Played:
    flow = Flow(tables, draws, lo, hi)
    run_dispatch(flow)
    return flow


def _planned(tables: Tables, draws: Draws, orders: tuple[Order, ...], lo: int, hi: int) -> Played:
    run = PlanRun(tables, draws, lo, hi)
    run.play(orders)
    return run


def _answer(
    goal: Goal, finish: dict[str, Ints], grid: Grid, holds: tuple[Hold, ...], samples: int
) -> GoalForecast:
    last = np.zeros(samples, dtype=np.int64)
    for uid in goal.needs:
        last = np.maximum(last, finish[uid])
    if goal.impossible:
        last = np.full(samples, grid.never, dtype=np.int64)
    clear = last <= grid.edge_at_or_before(goal.deadline)
    chance = float(clear.mean())
    even = grid.moment(edge_of(last, 0.5))
    return GoalForecast(
        uid=goal.uid,
        vehicle=goal.vehicle,
        chance=chance,
        error=math.sqrt(chance * (1.0 - chance) / samples),
        percent=int((200 * int(clear.sum()) + samples) // (2 * samples)),
        even=even,
        eight_in_ten=grid.moment(edge_of(last, 0.8)),
        float_hours=None if even is None else (goal.deadline - even) / timedelta(hours=1),
        holds=holds,
        clear=clear,
        finish=last,
    )


def what_if(workshop: Workshop, changes: Sequence[Change], **options: Any) -> WhatIf:
    """Compare the workshop with and without changes on the same draws; see :func:`readiness.engine.whatif.what_if`.

    Args:
        workshop: as it is.
        changes: made together, in their order (classes of ``readiness.engine.whatif``).
        options: ``samples``, ``seed`` and ``before``.

    Returns:
        Paired differences with their standard errors, largest first.

    Raises:
        WorkshopError: a change names what does not exist.
    """
    from readiness.engine import whatif

    return whatif.what_if(workshop, changes, **options)
