"""What chance decides in one forecast, drawn once for all samples.

Hours of a part of a job = draw of its estimate x common factor of the sample. The common factor is lognormal
with mean one, moved by what this season's jobs have shown (readiness/engine/common.py). A running job is drawn given that it is not finished: with F the
common factor, h the hours already worked and G the distribution of the estimate,

    u' = G(h / F) + u (1 - G(h / F)),  remaining = F G^-1(u') - h.

An estimate that is already overrun says nothing more; the rest is then drawn from the usual hours with the
scatter of a guess, given h. A delivery that is not here is drawn given that it has not arrived by now.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import special

from readiness.engine.calendar import Grid, Session, sessions_of
from readiness.engine.common import common_factor
from readiness.engine.estimates import Lognormal, Pert
from readiness.engine.params import SLOT_MINUTES, SLOTS_PER_HOUR, Params
from readiness.engine.streams import uniform
from readiness.engine.workshop import Delivery, Estimate, Tool, Work, Workshop

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_TABLE_POINTS = 1025
_SLOTS_PER_DAY = 24 * 60 // SLOT_MINUTES


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """Something that the forecast had to assume: stable code, subject, words."""

    code: str
    subject: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """All random values of a forecast; the last axis is always the sample.

    Attributes:
        present: hand -> (sessions, samples), whether the person turns up.
        arrival: delivery -> edge at which the part is here.
        back: tool -> edge at which it is here.
        hours: (owner, part of the work) -> hours of each person present.
        found: work -> whether opening shows more.
        part_wait: work -> slots from finding until the part that it asks for is here.
        flags: assumptions that had to be made.
    """

    samples: int
    sessions: dict[str, tuple[Session, ...]]
    present: dict[str, Bools] = field(default_factory=dict)
    arrival: dict[str, Ints] = field(default_factory=dict)
    back: dict[str, Ints] = field(default_factory=dict)
    hours: dict[tuple[str, str], Floats] = field(default_factory=dict)
    found: dict[str, Bools] = field(default_factory=dict)
    part_wait: dict[str, Ints] = field(default_factory=dict)
    flags: list[Flag] = field(default_factory=list)


@lru_cache(maxsize=4096)
def _unit_table(mode: float) -> tuple[Floats, Floats]:
    """Quantiles of the beta-PERT on 0 to 1 with the given mode, closer together in both tails."""
    q = special.betainc(4.0, 4.0, np.arange(_TABLE_POINTS) / (_TABLE_POINTS - 1))
    x = Pert(0.0, mode, 1.0).ppf(q)
    q.setflags(write=False)
    x.setflags(write=False)
    return q, x


def quantile(spread: Pert | Lognormal, u: Floats) -> Floats:
    """Quantile of an estimate, by table for the beta-PERT (error below 1e-4 of its range)."""
    if isinstance(spread, Lognormal):
        return spread.ppf(u)
    width = spread.high - spread.low
    if width <= 0:
        return np.full(u.shape, spread.low)
    q, x = _unit_table((spread.mode - spread.low) / width)
    return spread.low + width * np.interp(u, q, x)


def remaining_hours(estimate: Estimate, done: float, factor: Floats, u: Floats, params: Params) -> Floats:
    """Hours still to work, given that ``done`` hours did not finish the job."""
    spread = estimate.spread(params)
    if done <= 0:
        return quantile(spread, u) * factor
    left = _given_more(spread, done, factor, u)
    overrun = spread.cdf(done / factor) >= 1.0
    if overrun.any():
        guess = Lognormal(max(estimate.usual, 1.0 / SLOTS_PER_HOUR), params.guess_sigma)
        left = np.where(overrun, _given_more(guess, done, factor, u), left)
    return left


def _given_more(spread: Pert | Lognormal, done: float, factor: Floats, u: Floats) -> Floats:
    passed = spread.cdf(done / factor)
    # Just below one: the quantile of a lognormal at one is infinite.
    u = np.minimum(passed + u * (1.0 - passed), 1.0 - 2.0**-53)
    return np.maximum(quantile(spread, u) * factor - done, 0.0)


def _pick(table: list[tuple[int, float]], u: Floats) -> Ints:
    """Draws from a small table of (value, weight)."""
    weights = np.cumsum([weight for _, weight in table])
    values = np.array([value for value, _ in table], dtype=np.int64)
    return values[np.minimum(np.searchsorted(weights / weights[-1], u, side="right"), len(table) - 1)]


def _arrival_table(part: Delivery, grid: Grid, now: datetime, params: Params) -> list[tuple[int, float]]:
    """Possible arrivals of a part on order as (edge, weight)."""
    ordered = part.ordered or now
    lead = _lead(part)
    if lead is None:
        return [(grid.never, 1.0)]
    ways = [(ordered + lead * ratio, weight) for ratio, weight in sorted(part.ratios) if weight > 0]
    ahead = [(grid.edge_at_or_after(when), weight) for when, weight in ways if when > now]
    return ahead or [(grid.edge_at_or_after(now + max(lead, timedelta(days=1)) * params.overdue_share), 1.0)]


def _lead(part: Delivery) -> timedelta | None:
    """Promised lead time, None if nobody has said."""
    if part.promised is not None and part.ordered is not None:
        return max(part.promised - part.ordered, timedelta(0))
    return None if part.lead_days is None else timedelta(days=part.lead_days)


def draw_arrival(part: Delivery, workshop: Workshop, grid: Grid, u: Floats, flags: list[Flag]) -> Ints:
    """Edge at which a part is here, ``grid.never`` if it never comes."""
    if part.state == "on_shelf" or part.received is not None:
        return np.zeros(len(u), dtype=np.int64)
    if part.state == "unknown":
        flags.append(
            Flag(code="part-unknown", subject=part.uid, words=f"Not known what is needed: {part.name}")
        )
    elif part.state == "not_ordered":
        flags.append(Flag(code="part-not-ordered", subject=part.uid, words=f"Not ordered: {part.name}"))
    else:
        if part.promised is not None and part.ordered is None:
            part = replace(part, ordered=workshop.now)
        if _lead(part) is None:
            flags.append(Flag(code="part-no-date", subject=part.uid, words=f"No date given for {part.name}"))
        return _pick(_arrival_table(part, grid, workshop.now, workshop.params), u)
    return np.full(len(u), grid.never, dtype=np.int64)


def _wait_for(part: Delivery, grid: Grid, u: Floats) -> Ints:
    """Slots from asking for a part until it is here."""
    if part.state == "on_shelf":
        return np.zeros(len(u), dtype=np.int64)
    lead = _lead(part)
    if lead is None or part.state == "unknown":
        return np.full(len(u), grid.never, dtype=np.int64)
    days = lead / timedelta(days=1)
    table = [(math.ceil(days * r * _SLOTS_PER_DAY), w) for r, w in sorted(part.ratios) if w > 0]
    return np.minimum(_pick(table, u), grid.never)


def _tool_back(tool: Tool, grid: Grid, u: Floats) -> Ints:
    if tool.missing:
        return np.full(len(u), grid.never, dtype=np.int64)
    if tool.back is None:
        return np.zeros(len(u), dtype=np.int64)
    late = sorted(tool.late) or [(0.0, 1.0)]
    return _pick([(grid.edge_at_or_after(tool.back + timedelta(days=d)), w) for d, w in late], u)


def group_access(members: list[Work]) -> tuple[Work | None, Work | None]:
    """The jobs whose opening and closing are paid for the whole group: the longest, ties by uid."""
    ordered = sorted(members, key=lambda w: w.uid)
    opening = max((w for w in ordered if w.open_hours), key=lambda w: w.open_hours.usual, default=None)  # type: ignore[union-attr]
    closing = max((w for w in ordered if w.close_hours), key=lambda w: w.close_hours.usual, default=None)  # type: ignore[union-attr]
    return opening, closing


def draw(workshop: Workshop, grid: Grid, *, samples: int, seed: int) -> Draws:
    """Draws everything that chance decides.

    Args:
        workshop: what is forecast.
        grid: its quarter hours.
        samples: number of samples.
        seed: base seed; same seed and same uid give the same uniform numbers whatever else changes.
    """
    out = Draws(samples=samples, sessions={hand.uid: sessions_of(hand, grid) for hand in workshop.hands})
    factor = common_factor(workshop.evidence, workshop.params, uniform(seed, "", "common factor", samples))
    for hand in workshop.hands:
        rows = [
            uniform(seed, hand.uid, f"turn-up {s.key}", samples) < hand.turn_up
            for s in out.sessions[hand.uid]
        ]
        out.present[hand.uid] = np.array(rows, dtype=np.bool_).reshape(len(rows), samples)
    for part in workshop.deliveries:
        u = uniform(seed, part.uid, "lead time", samples)
        out.arrival[part.uid] = draw_arrival(part, workshop, grid, u, out.flags)
    for tool in workshop.tools:
        out.back[tool.uid] = _tool_back(tool, grid, uniform(seed, tool.uid, "return", samples))
    groups: dict[str, list[Work]] = {}
    for work in workshop.works:
        if work.booked:
            _draw_work(work, workshop.params, grid, factor, seed, out)
            if work.group is not None:
                groups.setdefault(work.group, []).append(work)
    for name, members in groups.items():
        _draw_group(name, members, workshop.params, factor, seed, out)
    return out


def _draw_work(work: Work, params: Params, grid: Grid, factor: Floats, seed: int, out: Draws) -> None:
    samples = len(factor)

    def hours(part: str, estimate: Estimate | None, done: float = 0.0) -> None:
        if estimate is not None:
            u = uniform(seed, work.uid, part, samples)
            out.hours[work.uid, part] = remaining_hours(estimate, done, factor, u, params)

    hours("main", work.estimate, work.hours_done)
    if work.estimate is not None and work.estimate.kind == "guess":
        out.flags.append(Flag(code="guess", subject=work.uid, words=f"No estimate, a guess: {work.label}"))
    if work.hours_done <= 0:
        hours("open", work.open_hours)
    hours("close", work.close_hours)
    if work.functional_hours > 0:
        out.hours[work.uid, "functional"] = work.functional_hours * factor
    if work.road_hours > 0:
        out.hours[work.uid, "road"] = work.road_hours * factor
    if work.second_signature is not None:
        out.hours[work.uid, "sign"] = params.signature_hours * factor
    if work.discovery is not None:
        hours("extra", work.discovery.extra)
        out.found[work.uid] = uniform(seed, work.uid, "found", samples) < work.discovery.chance
        if work.discovery.part is not None:
            u = uniform(seed, work.discovery.part.uid, "lead time if found", samples)
            out.part_wait[work.uid] = _wait_for(work.discovery.part, grid, u)


def _draw_group(
    name: str, members: list[Work], params: Params, factor: Floats, seed: int, out: Draws
) -> None:
    opening, closing = group_access(members)
    owner = f"group {name}"
    running = any(work.hours_done > 0 for work in members)
    for part, estimate in (
        ("open", opening.open_hours if opening else None),
        ("close", closing.close_hours if closing else None),
    ):
        if estimate is None:
            continue
        u = uniform(seed, owner, part, len(factor))
        hours = remaining_hours(estimate, 0.0, factor, u, params)
        out.hours[owner, part] = np.zeros_like(hours) if running and part == "open" else hours
