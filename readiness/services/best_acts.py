"""What would change it: single acts tried on the same draws, and for each entry in trouble the three that help most."""

from __future__ import annotations

import datetime as dt
import logging
import shlex
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from django.utils import timezone

from readiness.engine.crew import judge_crew
from readiness.engine.forecast import forecast
from readiness.engine.gates import ORDER, judge
from readiness.engine.reasons import Code
from readiness.engine.whatif import DayAdded, closure
from readiness.engine.whatif import candidates as thought_of
from readiness.engine.workshop import Goal
from readiness.models import Assessment, Event
from readiness.services.what_if import NotUnderstood, compare, tried, understand
from readiness.services.working_out import Worked, standing_of, work_out
from readiness.snapshot import Rows, fetch

log = logging.getLogger("running_order.assess")
SAMPLES = 600
MOST = 3
MOST_TAKERS = 2
TROUBLE = frozenset({"unlikely", "doubtful"})
SOONER = dt.timedelta(days=7)
ERRORS = 2.0
"""An act is named only when it helps by more than this many standard errors."""


def in_trouble(worked: Worked) -> list[str]:
    return sorted(uid for uid in worked.judged if standing_of(worked, uid)[0] in TROUBLE)


def lines_to_try(worked: Worked) -> list[str]:
    """Acts worth trying, each as a what-if line: parts, bookings, one more day, a rival vehicle stood down, a limit."""
    lines: list[str] = []
    workshop = worked.workshop
    parts = {d.uid: d for d in workshop.deliveries}
    works = {w.uid: w for w in workshop.works}
    before = forecast(workshop, samples=SAMPLES, seed=worked.seed) if workshop.goals else None
    for uid in in_trouble(worked):
        _, entry, verdict = worked.judged[uid]
        needed = closure(workshop, verdict.needs)
        for name in sorted({p for w in needed for p in works[w].parts}):
            part = parts[name]
            if part.state == "not_ordered" and part.lead_days is not None:
                lines.append(f"order {name}")
            elif part.promised is not None:
                lines.append(f"part {name} {max(part.promised - SOONER, workshop.now).date().isoformat()}")
        lines += [
            f"book {w}" for w in sorted(needed) if not works[w].booked and not w.startswith("inspection:")
        ]
        chance = worked.chances.get(uid)
        for hold in chance.holds if chance else ():
            rival = works.get(hold["subject"])
            if hold["kind"] == "behind" and rival is not None and rival.vehicle != entry.vehicle:
                lines.append(f"stand-down {rival.vehicle}")
        lines += _limits(worked, uid)
        lines += _standbys(worked, uid) + takers(worked, uid)
        if before is not None:
            goal = next((g for g in workshop.goals if g.label == uid), None)
            lines += _days(worked, before, goal) if goal is not None else []
    return list(dict.fromkeys(lines))


def _standbys(worked: Worked, uid: str) -> list[str]:
    """Another vehicle that is entered as its standby takes the slots."""
    event, entry, _ = worked.judged[uid]
    return [
        f"swap {entry.vehicle} {e.vehicle}"
        for e in event.entries
        if e.covers == entry.vehicle and e.vehicle != entry.vehicle
    ]


def takers(worked: Worked, uid: str) -> list[str]:
    """Vehicles that nobody has entered there and that could take the slot as they stand: the same gates as for any other.

    They are in service, in no other slot at that time, and meet every gate of the role. Those whose people are there and
    current come before those for whom somebody would have to be found; two at most are tried.
    """
    event, entry, _ = worked.judged[uid]
    museum, slot = worked.museum, entry.slot
    moved = [e for e in event.entries if e.vehicle == entry.vehicle and e.slot.code == slot.code]
    found: list[tuple[int, bool, str, str]] = []
    for name, vehicle in sorted(museum.vehicles.items()):
        theirs = [e for e in event.entries if e.vehicle == name]
        if vehicle.status != "in service" or any(e.covers == entry.vehicle for e in theirs):
            continue
        if any(a.slot.starts < b.slot.ends and b.slot.starts < a.slot.ends for a in theirs for b in moved):
            continue
        verdicts = [judge(museum, event, replace(e, vehicle=name)) for e in moved]
        if not moved or any(v.standing not in {"fit", "limits"} for v in verdicts):
            continue
        line = f"swap {entry.vehicle} {name} {slot.code}"
        swapped = understand([line], museum).imagined[0](museum)
        state = next(e for e in swapped.events if e.uid == event.uid)
        short = sum(f.entry in {e.uid for e in moved} for f in judge_crew(swapped, state))
        found.append((short, any(v.standing == "limits" for v in verdicts), name, line))
    return [line for *_, line in sorted(found)[:MOST_TAKERS]]


def _days(worked: Worked, before: Any, goal: Goal) -> list[str]:
    found = [c for c in thought_of(worked.workshop, before, goal) if isinstance(c, DayAdded)]
    return [f"in {c.hand} {c.day.start.date().isoformat()}" for c in found[:4]]


def _limits(worked: Worked, uid: str) -> list[str]:
    """Jobs whose defects only reduce what the role takes under a limit: put off with one that suits the slot."""
    _, entry, verdict = worked.judged[uid]
    rules = worked.museum.rules
    reduced = {
        r.subject[1]
        for r in verdict.reasons
        if r.code is Code.FUNCTION_REDUCED
        and all(rules.demand(entry.slot.role, "function", f) != "!" for f in r.functions)
    }
    kind = {
        "road": "daylight only",
        "arena": "arena only",
        "running": "arena only",
        "static": "static only",
    }.get(entry.slot.role)
    if kind is None:
        return []
    vehicle = worked.museum.vehicles[entry.vehicle]
    return [f'put-off {job} "{kind}"' for d in vehicle.defects if d.uid in reduced for job in d.jobs]


def best_acts(
    rows: Rows, worked: Worked, *, moved_on: Callable[[], bool] = lambda: False
) -> dict[str, list[dict[str, Any]]]:
    """For each entry in trouble, the acts that help most, with the paired difference and its error.

    A job is put off only where no other entry pays for it; a vehicle stood down says itself what it costs. `moved_on` is
    asked between acts: the work has changed meanwhile, and the rest is not worth finding.
    """
    found: dict[str, list[dict[str, Any]]] = {uid: [] for uid in in_trouble(worked)}
    for line in lines_to_try(worked):
        if moved_on():
            return {}
        try:
            after = tried(understand([line], worked.museum), rows, samples=worked.samples, seed=worked.seed)
        except NotUnderstood:
            log.warning("a thought-of act was not understood: %s", line)
            continue
        moves = compare(worked, after)
        if line.startswith("put-off") and any(_rank(m["to"]) < _rank(m["from"]) for m in moves):
            continue
        for move in moves:
            gain, noise = move["difference"] or 0.0, ERRORS * (move["error"] or 0.0)
            if move["entry"] in found and (_rank(move["to"]) > _rank(move["from"]) or gain > noise):
                act = {
                    "line": line,
                    "words": words_of(line, worked),
                    "to": move["to"],
                    "difference": gain,
                    "error": move["error"],
                }
                found[move["entry"]].append(act)
    return {uid: chosen for uid, acts in found.items() if (chosen := _three(acts))}


def _rank(standing: dict[str, Any]) -> int:
    return ORDER.index(standing["standing"])


def _three(acts: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The best three, no two about the same thing."""
    acts = sorted(acts, key=lambda a: (-_rank(a["to"]), -(a["to"]["percent"] or 0), a["line"]))
    by_thing: dict[tuple[str, str], dict[str, Any]] = {}
    for act in acts:
        verb, thing, *_ = shlex.split(act["line"])
        by_thing.setdefault((verb, thing), act)
    return list(by_thing.values())[:MOST]


def words_of(line: str, worked: Worked) -> str:
    """A what-if line in plain words."""
    verb, *rest = shlex.split(line)
    people, vehicles = worked.museum.people, worked.museum.vehicles
    labels = {w.uid: w.label for w in worked.workshop.works} | {
        d.uid: d.name for d in worked.workshop.deliveries
    }
    match verb:
        case "order":
            return f"order {labels.get(rest[0], rest[0])} today"
        case "part":
            return f"ring for {labels.get(rest[0], rest[0])}: here by {_day(rest[1])}"
        case "book":
            return f"book {rest[0]} {labels.get(rest[0], '')}".strip()
        case "in":
            return f"{people[rest[0]].name} comes in on {_day(rest[1])}"
        case "stand-down":
            return f"stand {vehicles[rest[0]].name} down"
        case "swap":
            slots = f"{rest[2]} from" if len(rest) > 2 else "the slots of"
            return f"{vehicles[rest[1]].name} takes {slots} {vehicles[rest[0]].name}"
        case "put-off":
            return f"put {rest[0]} off: {rest[1]}"
        case _:
            return line


def _day(text: str) -> str:
    day = dt.date.fromisoformat(text)
    return f"{day:%a} {day.day} {day:%B}"


def keep_best_acts() -> int:
    """Work out the best acts of the newest assessments that have none yet; nothing is kept if the work moved on meanwhile."""
    waiting = list(
        Assessment.objects.filter(is_latest=True, acts_at=None, event__wanted_at=None).select_related("event")
    )
    if not waiting:
        return 0
    rows = fetch()
    worked = work_out(rows, samples=SAMPLES, seed=waiting[0].seed)
    acts = best_acts(rows, worked, moved_on=lambda: Event.objects.filter(wanted_at__isnull=False).exists())
    kept = 0
    for assessment in waiting:
        mine = {
            uid: found for uid, found in acts.items() if worked.judged[uid][0].code == assessment.event.code
        }
        still = Event.objects.filter(pk=assessment.event_id, wanted_at=None).exists()
        kept += (
            Assessment.objects.filter(pk=assessment.pk, is_latest=True).update(
                acts=mine, acts_at=timezone.now()
            )
            if still
            else 0
        )
    return kept
