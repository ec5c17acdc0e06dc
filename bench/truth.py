"""A season of an invented workshop, played once as it "really" went: the truth against which forecasts are held.

Nothing of the forecast is used here: other random numbers (the standard library's), other time (hours at the bench, not
quarter hours of a calendar), other code. A work day gives everybody who came the same four hours. Those who are free take
the first job on the list that can be started; who has begun a job keeps it, and waits for a partner who is away. A test or
signature that a day is too short for is done anew by whoever is free on the next.
"""

from __future__ import annotations

import heapq
import math
import random
from dataclasses import dataclass, field

DAY_HOURS = 4.0
OPENS, CLOSES = 10.0, 16.0  # by the clock; the four hours at the bench are spread evenly between
LOOKED_AT = 8.0
SKILLS = ("brakes", "electrics", "engine", "body")
RATIOS = ((1.0, 0.5), (1.3, 0.3), (2.0, 0.2))
TEST_HOURS = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Nature:
    """How the world is. The forecast assumes the values given here unless it has learnt others."""

    turn_up: float = 0.75
    common: float = 0.2
    hours_times: float = 1.0


@dataclass(slots=True, kw_only=True)
class Person:
    uid: str
    skills: frozenset[str]
    weekdays: frozenset[int]
    signs: bool


@dataclass(slots=True, kw_only=True)
class Job:
    """One job as it is written (three figures, people, part ...) and, below, as it goes."""

    uid: str
    vehicle: int
    three: tuple[float, float, float]
    skill: str
    persons: int
    part: str | None
    surprise: float
    extra: tuple[float, float, float]
    after: str | None
    pit: bool
    test: bool
    signed: bool
    # as it goes
    hours: float = 0.0
    finds: bool = False
    extra_hours: float = 0.0
    stage: str = "waits"  # waits, work, test, sign, done
    left: float = 0.0
    since: float | None = None
    begun: bool = False
    worked: float = 0.0
    crew: tuple[str, ...] = ()
    doers: set[str] = field(default_factory=set)
    done_on: int | None = None


@dataclass(slots=True, kw_only=True)
class Part:
    uid: str
    ordered: int
    promised: int
    comes: float = 0.0  # days from the first midnight

    def here(self, day: int, hour: float) -> bool:
        return self.comes <= day + hour / 24


@dataclass(slots=True, kw_only=True)
class Season:
    """A museum with its work, from day 0 to the freeze at the end of day `days` - 1. Vehicle 0 is looked after first."""

    days: int
    people: list[Person]
    jobs: dict[str, Job]
    parts: dict[str, Part]
    vehicles: int
    came: dict[tuple[str, int], bool] = field(default_factory=dict)
    finished: list[tuple[str, str, float, float]] = field(default_factory=list)

    def meant_in(self, person: Person, day: int) -> bool:
        return day % 7 in person.weekdays

    def open_jobs(self, vehicle: int) -> list[Job]:
        return [j for j in self.jobs.values() if j.vehicle == vehicle and j.stage != "done"]


def beta_hours(dice: random.Random, three: tuple[float, float, float]) -> float:
    """A draw from best, usual, bad, by the usual beta shape of weight four."""
    low, usual, high = three
    if high <= low:
        return low
    rise, fall = (usual - low) / (high - low), (high - usual) / (high - low)
    return low + (high - low) * dice.betavariate(1 + 4 * rise, 1 + 4 * fall)


def three_figures(dice: random.Random, usual: float) -> tuple[float, float, float]:
    return (usual * dice.uniform(0.5, 0.8), usual, usual * dice.choice([2.0, 2.0, 3.5]))


def people_of(dice: random.Random) -> list[Person]:
    """Four to eight hands; every skill twice or more, two who may sign."""
    count = dice.randint(4, 8)
    found = []
    for n in range(count):
        skills = {SKILLS[n % len(SKILLS)], SKILLS[(n + dice.randint(1, 3)) % len(SKILLS)]}
        weekdays = {5} if dice.random() < 0.8 else {6}
        weekdays |= {day for day in (1, 3, 6) if dice.random() < 0.35}
        found.append(
            Person(uid=f"P{n}", skills=frozenset(skills), weekdays=frozenset(weekdays), signs=n in {0, 1, 4})
        )
    return found


def season(dice: random.Random, nature: Nature, people: list[Person] | None = None) -> Season:
    """A museum with more or less to do than it has hands for, and what fate has in store for it."""
    people = people or people_of(dice)
    days, vehicles = 28, dice.randint(5, 7)
    promised = sum(4 * DAY_HOURS * len(p.weekdays) for p in people) * 0.75
    to_do = promised * dice.uniform(0.35, 1.2)
    whole = math.exp(dice.gauss(-(nature.common**2) / 2, nature.common)) * nature.hours_times
    out = Season(days=days, people=people, jobs={}, parts={}, vehicles=vehicles)
    total, n = 0.0, 0
    while total < to_do:
        usual = dice.choice([1.0, 1.5, 2.0, 3.0, 4.0, 6.0])
        vehicle, uid = n % vehicles, f"J{n:02d}"
        three = three_figures(dice, usual)
        persons = 2 if dice.random() < 0.2 else 1
        part = None
        if dice.random() < 0.25:
            part = f"D{n:02d}"
            out.parts[part] = _part(dice, part)
        earlier = [j.uid for j in out.jobs.values() if j.vehicle == vehicle]
        opened = dice.random() < 0.5
        job = Job(
            uid=uid, vehicle=vehicle, three=three, skill=dice.choice(SKILLS), persons=persons, part=part,
            surprise=dice.choice([0.1, 0.35, 0.6]) if opened else 0.0, extra=(0.3 * usual, 0.6 * usual, 1.5 * usual),
            after=earlier[-1] if earlier and dice.random() < 0.3 else None, pit=dice.random() < 0.2,
            test=dice.random() < 0.4, signed=dice.random() < 0.3,
        )  # fmt: skip
        job.hours = beta_hours(dice, three) * whole
        job.finds = dice.random() < job.surprise
        job.extra_hours = beta_hours(dice, job.extra) * whole
        out.jobs[uid] = job
        total += usual * persons * 1.25
        n += 1
    for day in range(days):
        for p in people:
            if out.meant_in(p, day):
                out.came[p.uid, day] = dice.random() < nature.turn_up
    return out


def _part(dice: random.Random, uid: str) -> Part:
    """Ordered before day 0, at ten, and not here yet on the first morning."""
    ordered, lead = -dice.randint(0, 12), dice.randint(4, 24)
    while True:
        ratio = dice.choices([r for r, _ in RATIOS], weights=[chance for _, chance in RATIOS])[0]
        comes = ordered + OPENS / 24 + lead * ratio
        if comes > LOOKED_AT / 24:
            return Part(uid=uid, ordered=ordered, promised=ordered + lead, comes=comes)
        lead = dice.randint(4, 24)


class Play:
    """Plays a season day by day; between two days the state may be looked at."""

    def __init__(self, what: Season) -> None:
        self.s, self.day = what, 0
        self.pit_of: str | None = None
        self.busy: dict[str, str] = {}  # person to job

    def play_day(self) -> None:
        s, here = self.s, {p.uid for p in self.s.people if self.s.came.get((p.uid, self.day))}
        clock = [(at, "") for p in s.parts.values() if 0 < (at := self._bench_time(p.comes)) < DAY_HOURS]
        heapq.heapify(clock)
        for uid in sorted(set(self.busy.values())):
            self._go_on(s.jobs[uid], here, 0.0, clock)
        self._hand_out(here, 0.0, clock)
        while clock:
            now, uid = heapq.heappop(clock)
            if now > DAY_HOURS:
                break
            if uid:
                self._step_done(s.jobs[uid])
            self._hand_out(here, now, clock)
        for uid in sorted(set(self.busy.values())):
            job = s.jobs[uid]
            if set(job.crew) <= here:
                spent = DAY_HOURS - job.since if job.since is not None else 0.0
                job.left -= spent
                if job.stage == "work":
                    job.worked += spent
            job.since = None
            if job.stage != "work":
                # A test or signature that was not finished is done anew by whoever is free.
                for one in job.crew:
                    del self.busy[one]
                job.crew = ()
        self.day += 1

    def _bench_time(self, moment: float) -> float:
        """Hours at the bench of this day that have passed by a moment."""
        return (24 * (moment - self.day) - OPENS) * DAY_HOURS / (CLOSES - OPENS)

    def _go_on(self, job: Job, here: set[str], now: float, clock: list[tuple[float, str]]) -> None:
        job.since = None
        if set(job.crew) <= here:
            job.since = now
            heapq.heappush(clock, (now + job.left, job.uid))

    def _hand_out(self, here: set[str], now: float, clock: list[tuple[float, str]]) -> None:
        moved = True
        while moved:
            moved = False
            for job in sorted(self.s.jobs.values(), key=lambda j: (j.vehicle, j.uid)):
                if job.crew or job.stage == "done":
                    continue
                crew = self._crew(job, here, now)
                if crew:
                    self._start(job, crew, here, now, clock)
                    moved = True

    def _crew(self, job: Job, here: set[str], now: float) -> tuple[str, ...]:
        free = [p for p in self.s.people if p.uid in here and p.uid not in self.busy]
        free.sort(key=lambda p: (len(p.skills), p.uid))
        if job.stage == "waits":
            if job.part and self._bench_time(self.s.parts[job.part].comes) > now:
                return ()
            if job.after and self.s.jobs[job.after].stage != "done":
                return ()
            if job.pit and self.pit_of not in {None, job.uid}:
                return ()
            free = self._leave_a_signer(job, free)
            leaders = sorted((p for p in free if job.skill in p.skills), key=lambda p: job.signed and p.signs)
            others = [p for p in free if not leaders or p is not leaders[0]]
            others.sort(key=lambda p: job.signed and p.signs)
            crew = leaders[:1]
            if leaders and job.persons > 1:
                crew = crew + self._leave_a_signer(job, others, leaders[0])[: job.persons - 1]
            return tuple(p.uid for p in crew) if len(crew) == job.persons else ()
        if job.stage == "test":
            able = [p for p in free if job.skill in p.skills]
        else:
            able = [p for p in free if p.signs and p.uid not in job.doers]
        return (able[0].uid,) if able else ()

    def _leave_a_signer(self, job: Job, free: list[Person], taken: Person | None = None) -> list[Person]:
        """Without the last one who could still sign for it."""
        if not job.signed:
            return free
        left = [p for p in self.s.people if p.signs and p is not taken]
        return [p for p in free if p not in left or len(left) > 1]

    def _start(
        self, job: Job, crew: tuple[str, ...], here: set[str], now: float, clock: list[tuple[float, str]]
    ) -> None:
        job.crew = crew
        if job.stage == "waits":
            job.stage, job.begun, job.left = "work", True, job.hours + (job.extra_hours if job.finds else 0.0)
            job.doers |= set(crew)
            if job.pit:
                self.pit_of = job.uid
        else:
            job.left = TEST_HOURS
        for uid in crew:
            self.busy[uid] = job.uid
        self._go_on(job, here, now, clock)

    def _step_done(self, job: Job) -> None:
        if job.stage == "work":
            if self.pit_of == job.uid:
                self.pit_of = None
            self.s.finished.append((job.uid, job.crew[0], job.hours, job.hours))
        for uid in job.crew:
            del self.busy[uid]
        job.crew = ()
        order = ["work", *(["test"] if job.test else []), *(["sign"] if job.signed else []), "done"]
        job.stage = order[order.index(job.stage) + 1]
        if job.stage == "done":
            job.done_on = self.day
