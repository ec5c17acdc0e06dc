"""Small invented workshops for the tests of the forecast."""

from __future__ import annotations

import random
from datetime import datetime, timedelta

from readiness.engine.workshop import (
    Delivery,
    Discovery,
    Estimate,
    Evidence,
    Goal,
    Hand,
    Place,
    Tool,
    Work,
    WorkDay,
    Workshop,
)

NOW = datetime(2031, 5, 3, 8)
SKILLS = ("brakes", "engine")


def at(days: float, hours: float = 0.0) -> datetime:
    return NOW + timedelta(days=days, hours=hours)


def day(offset: int, *, start: int = 10, end: int = 16, worked: int | None = None) -> WorkDay:
    first = NOW.replace(hour=0) + timedelta(days=offset)
    return WorkDay(
        start=first + timedelta(hours=start), end=first + timedelta(hours=end), worked_slots=worked
    )


def full_days(count: int) -> tuple[WorkDay, ...]:
    """Days of 10:00 to 16:00 without a break."""
    return tuple(day(k, worked=24) for k in range(count))


def hand(uid: str = "A", days: tuple[WorkDay, ...] = (), **more: object) -> Hand:
    return Hand(uid=uid, name=f"Hand {uid}", days=days, **{"turn_up": 1.0, **more})  # type: ignore[arg-type]


def work(uid: str = "J", hours: float | tuple[float, float, float] | None = 1.0, **more: object) -> Work:
    estimate = Estimate.three(*hours) if isinstance(hours, tuple) else None
    if isinstance(hours, (int, float)):
        estimate = Estimate.three(hours, hours, hours)
    return Work(**{"uid": uid, "label": f"Job {uid}", "vehicle": "Bramble", "estimate": estimate, **more})  # type: ignore[arg-type]


def goal(needs: tuple[str, ...], deadline: datetime, uid: str = "S1", **more: object) -> Goal:
    return Goal(
        **{
            "uid": uid,
            "vehicle": "Bramble",
            "label": f"Entry {uid}",
            "needs": needs,
            "deadline": deadline,
            **more,
        }
    )  # type: ignore[arg-type]


def _hand(r: random.Random, i: int) -> Hand:
    days = []
    for k in range(6):
        if r.random() < 0.8:
            start = r.choice([9, 10, 10, 10, 13])
            days.append(day(k, start=start, end=r.choice([12, 16]) if start < 12 else 17, worked=None))
        if r.random() < 0.1:
            days.append(day(k, start=18, end=20, worked=r.choice([3, 8])))
    trainee = i > 0 and r.random() < 0.25
    skills = frozenset(s for s in SKILLS if r.random() < 0.75)
    signs = frozenset(s for s in ("stop", "steer") if r.random() < 0.5)
    return Hand(
        uid=f"P{i}",
        name=f"Hand {i}",
        skills=skills,
        days=tuple(days),
        turn_up=0.85,
        trainee=trainee,
        signs=signs,
    )


def _estimate(r: random.Random) -> Estimate:
    low = r.choice([0.25, 0.5, 1.0])
    return r.choice(
        [
            Estimate.three(low, low * 1.5, low * 4),
            Estimate.guess(low),
            Estimate.expert(low),
            Estimate.three(low, low, low),
        ]
    )


def _maybe(r: random.Random, chance: float, value: object) -> object:
    return value if r.random() < chance else None


def _work(r: random.Random, k: int, parts: list[str], hands: int) -> Work:
    found = None
    if r.random() < 0.3:
        part = None
        if r.random() < 0.5:
            state = r.choice(["on_shelf", "not_ordered"])
            part = Delivery(uid=f"X{k}", name=f"Found {k}", state=state, lead_days=r.choice([0.3, 1.0, 9.0]))
        found = Discovery(chance=0.5, extra=_estimate(r), part=part)
    fixed = at(r.uniform(-0.5, 4)) if r.random() < 0.08 else None
    earlier = [f"J{i}" for i in range(k)]
    return Work(
        uid=f"J{k}",
        label=f"Job {k}",
        vehicle=f"V{k % 3}",
        estimate=_estimate(r) if r.random() < 0.9 else None,
        persons=r.choice([1, 1, 1, 1, 2, 2, 3]),
        skills=frozenset(s for s in SKILLS if r.random() < 0.3),
        helper_any=r.random() < 0.7,
        prefers=f"P{r.randrange(hands)}" if r.random() < 0.3 else None,
        kept_by=tuple(f"P{i}" for i in r.sample(range(hands + 1), r.choice([1, 1, 2])))
        if r.random() < 0.2
        else (),
        doers=(f"P{r.randrange(hands)}",) if r.random() < 0.15 else (),
        two_person=r.random() < 0.15,
        place=r.choice([None, None, "pit", "bay"]),
        tools=("puller",) if r.random() < 0.2 else (),
        parts=tuple(p for p in parts if r.random() < 0.15),
        group="lift" if k % 3 == 0 and r.random() < 0.5 else None,
        open_hours=_maybe(r, 0.4, _estimate(r)),
        close_hours=_maybe(r, 0.4, _estimate(r)),
        functional_hours=0.5 if r.random() < 0.3 else 0.0,
        road_hours=1.0 if r.random() < 0.2 else 0.0,
        second_signature=r.choice(["stop", "steer"]) if r.random() < 0.35 else None,
        cure_hours=r.choice([3.0, 20.0]) if r.random() < 0.2 else 0.0,
        after=tuple(j for j in earlier if r.random() < 0.08),
        after_if_done=tuple(j for j in earlier if r.random() < 0.1),
        not_before=_maybe(r, 0.1, at(r.uniform(0, 3))),
        fixed=fixed,
        hours_done=r.choice([0.5, 2.0]) if r.random() < 0.15 else 0.0,
        discovery=found,
        booked=r.random() < 0.93,
        hold_until=_maybe(r, 0.1, at(r.uniform(0, 3))),
        rank=r.choice([1.0, 2.0]),
    )


def random_workshop(seed: int) -> Workshop:
    """A small workshop with a little of everything; a few of them contradict themselves."""
    r = random.Random(seed)
    hands = [_hand(r, i) for i in range(r.choice([2, 3, 4, 5]))]
    parts = [
        Delivery(uid="D0", name="Hose", state="on_order", ordered=at(-2), promised=at(r.uniform(-1, 2))),
        Delivery(uid="D1", name="Seal", state=r.choice(["on_shelf", "on_shelf", "not_ordered", "unknown"])),
    ]
    tools = (
        Tool(
            uid="puller",
            name="Puller",
            back=r.choice([None, at(r.uniform(0, 2))]),
            late=((0.0, 0.5), (1.0, 0.5)),
        ),
    )
    works = [_work(r, k, [p.uid for p in parts], len(hands)) for k in range(r.choice([3, 4, 6]))]
    goals = [
        goal(tuple(w.uid for w in works if w.vehicle == f"V{v}"), at(5.5), f"S{v}", vehicle=f"V{v}")
        for v in range(3)
    ]
    return Workshop(
        now=NOW,
        horizon=at(6),
        hands=tuple(hands),
        places=(Place(uid="pit", name="Pit"), Place(uid="bay", name="Bay", capacity=2)),
        tools=tools,
        deliveries=tuple(parts),
        works=tuple(works),
        goals=tuple(goals),
        evidence=_season_so_far(random.Random(f"season {seed}")),
    )


def _season_so_far(r: random.Random) -> tuple[Evidence, ...]:
    """Half the workshops have done or begun some work already."""
    return tuple(
        Evidence(
            estimate=Estimate.three(1.0, 2.0, 4.0) if r.random() < 0.7 else Estimate.expert(2.0),
            hours=r.uniform(0.5, 6.0),
            open=r.random() < 0.3,
        )
        for _ in range(r.choice([0, 0, 1, 4]))
    )
