"""Inspections, certificates and readings: valid to the last minute of the slot, by date and by forecast meter.

A repair voids what it touches until repeated: the brakes their reading, steering and running gear their inspection,
lifting gear its thorough examination (*common practice*).
"""

from __future__ import annotations

from decimal import Decimal

from readiness.engine.case import Case
from readiness.engine.intervals import Validity, first_failing_run, validity
from readiness.engine.reasons import Code, Reason, Weight, day_words
from readiness.engine.roles import NAMED_INSPECTIONS
from readiness.engine.state import MOVING, Inspection, use_of


def step_of(inspection: Inspection) -> str:
    """The step that repeats an inspection for which no card is open."""
    return f"inspection:{inspection.uid}"


def closure(case: Case, jobs: set[str]) -> set[str]:
    """The jobs and everything that must be done before them, on this vehicle."""
    seen: set[str] = set()
    queue = sorted(jobs)
    while queue:
        uid = queue.pop()
        job = case.job(uid)
        if uid not in seen and job is not None:
            seen.add(uid)
            queue.extend(job.after)
    return seen


def judge(case: Case, open_jobs: set[str]) -> list[Reason]:
    """Reasons of all inspections that this role asks for, given the jobs that must be done first."""
    found: list[Reason] = []
    on_file = (*case.vehicle.inspections, *case.museum.site)
    doing = closure(case, open_jobs)
    for kind, demand, _ in case.museum.rules.asked(case.role, "inspection"):
        if not _applies(case, kind):
            continue
        rows = sorted((i for i in on_file if i.kind == kind), key=lambda i: i.uid)
        if not rows and demand != "n":
            found.append(
                Reason(
                    code=Code.INSPECTION_UNKNOWN,
                    weight=Weight.UNJUDGED,
                    subject=("inspection kind", kind),
                    words=f"{kind}: none on file",
                    act="enter the last result",
                )
            )
        for row in rows:
            found += _one(case, row, doing, gates=demand != "n")
    for row in sorted((i for i in on_file if i.kind not in NAMED_INSPECTIONS), key=lambda i: i.uid):
        found += _one(case, row, doing, gates=case.role in MOVING)
    return found


def _applies(case: Case, kind: str) -> bool:
    vehicle = case.vehicle
    if kind == "co":
        return vehicle.closed and (case.role != "running" or case.entry.crewed_inside)
    return {"boiler": vehicle.steam, "lifting": vehicle.lifts}.get(kind, True)


def _one(case: Case, row: Inspection, doing: set[str], *, gates: bool) -> list[Reason]:
    extra = tuple(u for u in case.extra_use)
    answer = validity(row, case.vehicle, case.slot.ends, extra=extra)
    subject = ("inspection", row.uid)
    if not gates:
        if answer.state == "valid":
            return []
        return [
            Reason(
                code=Code.OTHER_INTERVAL,
                weight=Weight.NOTE,
                subject=subject,
                words=f"{row.name}: {_state_words(case, row, answer)}",
            )
        ]
    if answer.state == "unknown":
        code = Code.METER_UNREAD if answer.by == "meter" else Code.INSPECTION_UNKNOWN
        act = "read the meter" if answer.by == "meter" else "enter the last result"
        return [
            Reason(
                code=code,
                weight=Weight.UNJUDGED,
                subject=subject,
                words=f"{row.name}: {_state_words(case, row, answer)}",
                act=act,
            )
        ]
    voiding = sorted(uid for uid in doing if _voids(case, uid, row))
    clears, act = _ways(case, row)
    data = {"after": voiding, "by": answer.by, "name": row.name}
    if answer.state in {"lapsed", "voided"}:
        code = Code.INSPECTION_LAPSED if answer.state == "lapsed" else Code.INSPECTION_VOIDED
        return [
            Reason(
                code=code,
                weight=Weight.OPEN,
                subject=subject,
                words=f"{row.name}: {_state_words(case, row, answer)}",
                clears=clears,
                act=act,
                data=data,
            )
        ]
    if voiding:
        labels = ", ".join(job.label for uid in voiding if (job := case.job(uid)))
        return [
            Reason(
                code=Code.INSPECTION_TO_REPEAT,
                weight=Weight.OPEN,
                subject=subject,
                clears=clears,
                act=act,
                data=data,
                words=f"{row.name}: void after {labels}, to be repeated",
            )
        ]
    return []


def _voids(case: Case, uid: str, row: Inspection) -> bool:
    job = case.job(uid)
    return job is not None and row.kind in job.voids and uid not in row.jobs


def _ways(case: Case, row: Inspection) -> tuple[tuple[str, ...], str]:
    """The steps that renew an inspection: its open card, else a step of its own; and the act where there is none."""
    cards = tuple(sorted(j.uid for j in case.vehicle.jobs if j.uid in row.jobs and j.lifts))
    if cards:
        unbooked = [j.label for j in case.vehicle.jobs if j.uid in cards and not j.booked]
        return cards, f"book {', '.join(unbooked)}" if unbooked else ""
    if row.outside and row.booked_on is None:
        return (), "book the examiner's visit"
    return (step_of(row),), ""


def _state_words(case: Case, row: Inspection, answer: Validity) -> str:
    if answer.state == "voided":
        return f"void since {row.voided_why}" if row.voided_why else "void until repeated"
    if answer.state == "unknown":
        return f"the {row.meter} meter was never read" if answer.by == "meter" else "no result on file"
    if answer.by == "date" and row.valid_through is not None:
        return (
            f"valid through {day_words(row.valid_through)}, the slot ends {day_words(case.slot.ends.date())}"
        )
    # What is left is past its meter, which only a forecast can say.
    assert answer.expected is not None
    words = f"valid to {answer.limit} {row.meter}, {answer.expected.quantize(Decimal('0.1')).normalize():f} expected by the end of the slot"
    use = use_of(case.entry, case.slot)
    if row.meter == "km" and row.valid_meter is not None:
        run = first_failing_run(answer.expected - use.km, row.valid_meter, use.km, case.slot.runs)
        words += f" (falls due in run {run})" if run else ""
    return words
