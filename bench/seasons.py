"""Does "80 in 100" come true 80 times in 100? Simulated seasons of invented museums, with the truth from other code.

    python -m bench.seasons [seasons] [samples]

Each season is played once (bench/truth.py) and looked at on several mornings; each vehicle with work left is a case: the
forecast's chance that it is clear by the freeze, and whether it was. Three worlds:

  as assumed      estimates, turn-up, finds and promises are what the forecast assumes
  otherwise       everything takes 1 / 0.6 of the estimate and people come half the time where .75 is assumed
  after learning  the same world, the forecast having learnt from three seasons of each museum's record

Beside it stand two rules of thumb, which say yes or no. No time is measured here.
"""

from __future__ import annotations

import math
import random
import sys
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from bench.stored import store
from bench.truth import DAY_HOURS, LOOKED_AT, Job, Nature, Person, Play, Season, people_of, season
from readiness.engine.estimates import Pert
from readiness.engine.forecast import forecast
from readiness.engine.learning import Record, Spent, habits, record, turn_ups
from readiness.engine.workshop import (
    Delivery,
    Discovery,
    Estimate,
    Evidence,
    Goal,
    Hand,
    Place,
    Work,
    WorkDay,
    Workshop,
)

FIRST = datetime(2031, 5, 5)  # a Monday
LOOKS = (0, 9, 18, 24)
ASSUMED = Nature()
OTHERWISE = Nature(turn_up=0.5, hours_times=1 / 0.6)
PAST_SEASONS = 3
ENOUGH = 50
FULL = 200
"""Fewer seasons than this are a trial, and not kept."""
SEED = 20310505


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the museum has learnt before the season; empty is a museum without history."""

    turn_up: dict[str, float] = field(default_factory=dict)
    factor: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    season: int
    look: int
    said: float
    came: bool
    enough_hours: bool
    parts_in: bool


def moment(day: int, hour: int = 0) -> datetime:
    return FIRST + timedelta(days=day, hours=hour)


def hand(what: Season, person: Person, today: int, known: Known) -> Hand:
    days = [d for d in range(today, what.days + 7) if what.meant_in(person, d)]
    return Hand(
        uid=person.uid,
        name=person.uid,
        skills=person.skills,
        days=tuple(WorkDay.on(moment(d).date()) for d in days),
        turn_up=known.turn_up.get(person.uid, ASSUMED.turn_up),
        signs=frozenset({"safety"} if person.signs else ()),
    )


def work(job: Job, known: Known) -> Work:
    """The job as it would stand on its card that morning."""
    factor = known.factor.get(job.skill, known.factor.get("", 1.0))
    scaled = tuple(factor * h for h in job.three)
    found = tuple(factor * h for h in job.extra)
    running = job.stage == "work"
    if running and job.finds:
        scaled = tuple(a + b for a, b in zip(scaled, found, strict=True))
    before_tests = job.stage in {"waits", "work"}
    return Work(
        uid=job.uid,
        label=job.uid,
        vehicle=str(job.vehicle),
        estimate=Estimate.three(*scaled) if before_tests else None,
        persons=job.persons,
        skills=frozenset({job.skill}),
        kept_by=job.crew if running else (),
        doers=tuple(sorted(job.doers)),
        place="pit" if job.pit and before_tests else None,
        parts=(job.part,) if job.part and job.stage == "waits" else (),
        functional_hours=0.5 if job.test and job.stage != "sign" else 0.0,
        second_signature="safety" if job.signed else None,
        after=(job.after,) if job.after and job.stage == "waits" else (),
        hours_done=job.worked if running else 0.0,
        discovery=Discovery(chance=job.surprise, extra=Estimate.three(*found))
        if job.stage == "waits"
        else None,
        rank=job.vehicle,
    )


def workshop(what: Season, today: int, known: Known) -> Workshop:
    open_jobs = [j for v in range(what.vehicles) for j in what.open_jobs(v)]
    left = {j.uid for j in open_jobs}
    works = [work(j, known) for j in open_jobs]
    works = [w if set(w.after) <= left else _free(w) for w in works]
    parts = [
        Delivery(
            uid=p.uid, name=p.uid, state="on_shelf" if p.here(today, LOOKED_AT) else "on_order", ordered=moment(p.ordered, 10),
            promised=moment(p.promised, 10),
        )
        for p in what.parts.values()
    ]  # fmt: skip
    goals = [
        Goal(
            uid=str(v),
            vehicle=str(v),
            label=str(v),
            needs=tuple(j.uid for j in jobs),
            deadline=moment(what.days - 1, 18),
        )
        for v in range(what.vehicles)
        if (jobs := what.open_jobs(v))
    ]
    return Workshop(
        now=moment(today, 8),
        horizon=moment(what.days + 7),
        hands=tuple(hand(what, p, today, known) for p in what.people),
        places=(Place(uid="pit", name="Pit"),),
        deliveries=tuple(parts),
        works=tuple(works),
        goals=tuple(goals),
        evidence=evidence(what, known),
    )


def evidence(what: Season, known: Known) -> tuple[Evidence, ...]:
    """Hours of the jobs done and begun this season, against what they were thought to take then."""
    told = []
    for job in what.jobs.values():
        factor = known.factor.get(job.skill, known.factor.get("", 1.0))
        hours = [factor * h for h in job.three]
        if job.stage in {"test", "sign", "done"}:
            told.append(Evidence(estimate=Estimate.three(*hours), hours=job.hours))
        elif job.worked > 0 and not job.finds:
            told.append(Evidence(estimate=Estimate.three(*hours), hours=job.worked, open=True))
    return tuple(told)


def _free(w: Work) -> Work:
    from dataclasses import replace

    return replace(w, after=())


def rules(what: Season, vehicle: int, today: int) -> tuple[bool, bool]:
    """Usual hours of this vehicle and all before it against the hours left; and: its parts are all in."""
    ahead = [j for v in range(vehicle + 1) for j in what.open_jobs(v)]
    to_do = sum(max(j.three[1] - j.worked, 0.0) * j.persons for j in ahead if j.stage in {"waits", "work"})
    left = sum(DAY_HOURS for p in what.people for d in range(today, what.days) if what.meant_in(p, d))
    waits = [j.part for j in what.open_jobs(vehicle) if j.part and j.stage == "waits"]
    return to_do <= left, all(what.parts[p].here(today, LOOKED_AT) for p in waits)


@dataclass(slots=True)
class Book:
    """A museum's record: sign-ins, and jobs against their estimates."""

    seen: dict[str, list[bool]] = field(default_factory=lambda: defaultdict(list))
    jobs: dict[str, list[Spent]] = field(default_factory=lambda: defaultdict(list))

    def write(self, what: Season, today: int) -> None:
        """What one season has shown up to that morning."""
        for (uid, day), came in what.came.items():
            if day < today:
                self.seen[uid].append(came)
        for job in what.jobs.values():
            usual = Pert(*job.three).ppf(0.5)
            if job.stage in {"test", "sign", "done"}:
                self.jobs[job.skill].append(Spent(estimate=usual, actual=job.hours))
            elif job.worked > 0 and not job.finds:
                self.jobs[job.skill].append(Spent(estimate=usual, actual=job.worked, open=True))

    def known(self) -> Known:
        """What the program learns from it."""
        whole, by_skill = habits(self.jobs)
        return Known(
            turn_up=turn_ups(
                {uid: (sum(c), len(c) - sum(c)) for uid, c in self.seen.items()}, ASSUMED.turn_up
            ),
            factor={"": whole.factor} | {skill: h.factor for skill, h in by_skill.items()},
        )


def past_of(dice: random.Random, nature: Nature, people: list[Person]) -> list[Season]:
    """Past seasons of the same people, played to their end."""
    found = []
    for _ in range(PAST_SEASONS):
        past = season(dice, nature, people)
        play = Play(past)
        for _ in range(past.days):
            play.play_day()
        found.append(past)
    return found


def cases(seasons: int, samples: int, nature: Nature, *, learning: bool = False) -> list[Case]:
    found = []
    for n in range(seasons):
        dice = random.Random(f"{SEED} {n}")
        people = people_of(dice)
        past = past_of(random.Random(f"{SEED} past {n}"), nature, people) if learning else []
        what = season(dice, nature, people)
        play, pending = Play(what), []
        for day in range(what.days):
            if day in LOOKS:
                known = Known()
                if learning:
                    book = Book()
                    for old in past:
                        book.write(old, old.days)
                    book.write(what, day)
                    known = book.known()
                said = forecast(workshop(what, day, known), samples=samples, seed=n)
                for uid, goal in said.goals.items():
                    pending.append((day, int(uid), goal.chance, *rules(what, int(uid), day)))
            play.play_day()
        for day, vehicle, chance, hours, parts in pending:
            came = not what.open_jobs(vehicle)
            found.append(Case(season=n, look=day, said=chance, came=came, enough_hours=hours, parts_in=parts))
    return found


RULES: dict[str, Callable[[Case], bool]] = {
    "usual hours against hours left": lambda c: c.enough_hours,
    "all parts in": lambda c: c.parts_in,
}


def by_season(inside: list[Case]) -> float:
    """Standard error of the share, cases of one season taken as hanging together."""
    off: dict[int, float] = defaultdict(float)
    for c in inside:
        off[c.season] += c.came - c.said
    return math.sqrt(sum(v * v for v in off.values())) / len(inside)


def brier_of(found: list[Case], says: Callable[[Case], bool]) -> tuple[float, float]:
    """Of a yes-or-no rule: taken at its word, and at its best (yes and no worth how often each came true here)."""
    taken = sum((says(c) - c.came) ** 2 for c in found) / len(found)
    best = 0.0
    for answer in (True, False):
        group = [c.came for c in found if says(c) is answer]
        share = sum(group) / len(group) if group else 0.0
        best += sum((share - came) ** 2 for came in group)
    return taken, best / len(found)


def figures(found: list[Case]) -> dict[str, Any]:
    """Everything that is printed of one world, for keeping."""
    table: Record = record([c.said for c in found], [c.came for c in found])
    lines = []
    for t in table.tenths:
        inside = [c for c in found if min(int(c.said * 10 + 1e-9), 9) == round(t.low * 10)]
        apart, two = 100 * (t.came_true - t.said), 200 * t.error
        lines.append(
            {
                "from": round(100 * t.low), "to": round(100 * t.high), "cases": t.count, "said": round(100 * t.said, 1),
                "came_true": round(100 * t.came_true, 1), "apart": round(apart, 1), "two_errors": round(two, 1),
                "two_errors_by_season": round(200 * by_season(inside), 1),
                "aim": "few cases" if t.count < ENOUGH else "met" if abs(apart) <= max(5.0, two) else "MISSED",
            }
        )  # fmt: skip
    rules = {}
    for name, says in RULES.items():
        taken, best = brier_of(found, says)
        rules[name] = {"as_said": round(taken, 3), "at_its_best": round(best, 3)}
    looks = {}
    for look in LOOKS:
        some = [c for c in found if c.look == look]
        if some:
            looks[f"{28 - look} days before"] = {
                "cases": len(some),
                "said": round(100 * sum(c.said for c in some) / len(some), 1),
                "came_true": round(100 * sum(c.came for c in some) / len(some), 1),
                "brier": round(record([c.said for c in some], [c.came for c in some]).brier, 3),
            }
    return {
        "cases": len(found),
        "seasons": len({c.season for c in found}),
        "came_true": round(100 * sum(c.came for c in found) / len(found), 1),
        "brier": round(table.brier, 3),
        "missed": sum(line["aim"] == "MISSED" for line in lines),
        "tenths": lines,
        "rules_of_thumb": rules,
        "looked_at": looks,
    }


def show(title: str, kept: dict[str, Any]) -> None:
    print(
        f"\n{title}: {kept['cases']} cases in {kept['seasons']} seasons, {kept['came_true']:.0f} in 100 came true"
    )
    print(
        "  said, in 100   cases   said   came true   apart   2 errors (by season)   aim: within the larger of 5 and 2 errors"
    )
    for t in kept["tenths"]:
        print(
            f"  {t['from']:3d} to {t['to']:3d}     {t['cases']:5d}  {t['said']:5.1f}      {t['came_true']:5.1f}  {t['apart']:+6.1f}"
            f"     {t['two_errors']:4.1f} ({t['two_errors_by_season']:4.1f})          {t['aim']}"
        )
    print(f"  tenths with {ENOUGH} cases or more that missed: {kept['missed']}")
    print(f"  Brier score                                          {kept['brier']:.3f}")
    for name, rule in kept["rules_of_thumb"].items():
        print(f"    rule: {name:32} as said {rule['as_said']:.3f}, at its best {rule['at_its_best']:.3f}")
    for name, look in kept["looked_at"].items():
        print(
            f"    {name:15} {look['cases']:5d} cases, said {look['said']:.1f}, came true {look['came_true']:.1f}, Brier {look['brier']:.3f}"
        )


def main() -> None:
    seasons = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    samples = int(sys.argv[2]) if len(sys.argv) > 2 else 400
    print(
        f"{seasons} seasons, {samples} samples a forecast, looked at on days {', '.join(map(str, LOOKS))} of 28"
    )
    kept: dict[str, Any] = {"seasons": seasons, "samples": samples, "worlds": {}}
    for title, nature, learning in (
        ("as assumed", ASSUMED, False),
        ("otherwise, before learning", OTHERWISE, False),
        ("otherwise, after learning", OTHERWISE, True),
    ):
        kept["worlds"][title] = figures(cases(seasons, samples, nature, learning=learning))
        show(title, kept["worlds"][title])
    if seasons >= FULL:
        store("seasons", kept)


if __name__ == "__main__":
    main()
