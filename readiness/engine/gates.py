"""Gates: is a vehicle fit for a slot, in a role, with its work and papers as they stand?

`judge` looks at one entry and gives a verdict with every reason. No chance is worked out here: `needs` names the steps
(job cards, inspections to repeat) whose end would clear the gates, and `impossible` says that no work does.
One unmet gate and the vehicle is not fit for that slot; nothing is averaged. "Not known" never counts as good.
The rules are the museum's role table and the trade's (*common practice*); each reason carries a stable code.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from readiness.engine import gate_defects, gate_inspections, gate_rest
from readiness.engine.case import Case, slots_judged
from readiness.engine.reasons import Code, Reason, Weight
from readiness.engine.state import Entry, Event, Museum, Slot

ORDER = ("down", "barred", "unlikely", "doubtful", "unjudged", "likely", "limits", "fit")
"""Standings, worst first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What the gates say of one entry. `standing` is without chance: down, barred, open, unjudged, limits or fit."""

    entry: str
    standing: str
    reasons: tuple[Reason, ...]
    needs: tuple[str, ...]
    impossible: bool

    @property
    def is_open(self) -> bool:
        return any(r.weight is Weight.OPEN for r in self.reasons)

    @property
    def is_unjudged(self) -> bool:
        return any(r.weight is Weight.UNJUDGED for r in self.reasons)


def _case(museum: Museum, event: Event, entry: Entry, slot: Slot, judged: Sequence[Slot]) -> Case:
    own = tuple(
        (e, e.slot)
        for e in event.entries
        if e.vehicle == entry.vehicle and e.slot.role != "standby" and e.slot.day == slot.day
    )
    taken = tuple((entry, s) for s in judged) if entry.slot.role == "standby" else ()
    return Case(
        museum=museum,
        event=event,
        entry=entry,
        slot=slot,
        vehicle=museum.vehicles[entry.vehicle],
        same_day=own + tuple(pair for pair in taken if pair[1].day == slot.day),
        taken_over=taken,
    )


def judge(museum: Museum, event: Event, entry: Entry) -> Verdict:
    """Judge one entry.

    Args:
        museum: everything at one moment.
        event: the event that the entry belongs to.
        entry: the vehicle in its slot.

    Returns:
        The verdict with every reason, in a fixed order that does not depend on the order of input.
    """
    vehicle = museum.vehicles[entry.vehicle]
    reasons: dict[tuple[str, tuple[str, str], str], Reason] = {}
    for reason in gate_rest.status(vehicle):
        reasons.setdefault(_key(reason), reason)
    judged = slots_judged(entry, event)
    if entry.slot.role == "standby":
        for reason in gate_rest.standby(entry, judged):
            reasons.setdefault(_key(reason), reason)
    for slot in judged:
        for reason in _of_slot(_case(museum, event, entry, slot, judged)):
            reasons.setdefault(_key(reason), reason)
    ordered = tuple(
        sorted(reasons.values(), key=lambda r: (list(Weight).index(r.weight), r.code, r.subject, r.words))
    )
    return _verdict(entry, ordered)


def _key(reason: Reason) -> tuple[str, tuple[str, str], str]:
    return str(reason.code), reason.subject, str(reason.weight)


def _of_slot(case: Case) -> list[Reason]:
    found = gate_defects.judge(case)
    found += gate_rest.tag(case)
    found += gate_rest.cards(case)
    open_jobs = {uid for r in found if r.weight is Weight.OPEN for uid in r.clears}
    found += gate_inspections.judge(case, open_jobs)
    open_jobs |= {uid for r in found if r.weight is Weight.OPEN for uid in r.clears}
    found += gate_rest.of_open_jobs(case, open_jobs)
    found += gate_rest.papers(case)
    found += gate_rest.checks(case)
    return found


def _verdict(entry: Entry, reasons: tuple[Reason, ...]) -> Verdict:
    weights = {r.weight for r in reasons}
    needs = tuple(sorted({uid for r in reasons if r.weight is Weight.OPEN for uid in r.clears}))
    impossible = any(r.weight is Weight.OPEN and not r.clears and not r.sure for r in reasons)
    if Weight.DOWN in weights:
        standing = "down"
    elif Weight.BARRED in weights:
        standing = "barred"
    elif Weight.OPEN in weights:
        standing = "open"
    elif Weight.UNJUDGED in weights:
        standing = "unjudged"
    elif Weight.LIMIT in weights:
        standing = "limits"
    else:
        standing = "fit"
    return Verdict(entry=entry.uid, standing=standing, reasons=reasons, needs=needs, impossible=impossible)


def with_chance(
    verdict: Verdict, percent: int | None, *, likely_from: int = 75, doubtful_from: int = 25
) -> str:
    """The standing once the chance is known, as shown: the whole number decides.

    Gates open and something not judged at once: the worse of the two.
    """
    if verdict.standing != "open":
        return verdict.standing
    if percent is None:
        return "open"
    found = "likely" if percent >= likely_from else "doubtful" if percent >= doubtful_from else "unlikely"
    return worst([found, "unjudged"]) if verdict.is_unjudged else found


def worst(standings: Sequence[str]) -> str:
    """The worst of several standings (stood down, barred, unlikely, doubtful, not judged, likely, limits, fit)."""
    return min(standings, key=ORDER.index)


__all__ = ["Case", "Code", "Verdict", "judge", "slots_judged", "with_chance", "worst"]
