"""The other gates: status, tag, unfinished cards, papers, checks of use, standby."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from readiness.engine.case import Case
from readiness.engine.gate_inspections import closure
from readiness.engine.reasons import Code, Reason, Weight, day_words
from readiness.engine.state import Entry, Job, Slot, Vehicle

CHECK_WORDS = {
    "event": "event check",
    "first parade": "first parade",
    "condition before": "condition check before use",
}


def status(vehicle: Vehicle) -> list[Reason]:
    """Withdrawn vehicles stand down whatever they are entered for."""
    if vehicle.status == "in service":
        return []
    return [
        Reason(
            code=Code.STOOD_DOWN, weight=Weight.DOWN, subject=("vehicle", vehicle.uid), words=vehicle.status
        )
    ]


def tag(case: Case) -> list[Reason]:
    """The do-not-run tag: stops every role but static display, where it counts as a limit."""
    hung = case.vehicle.tag
    if hung is None:
        return []
    subject = ("tag", hung.uid)
    why = f"do not run: {hung.reason}" if hung.reason else "do not run"
    if case.role == "static":
        return [
            Reason(
                code=Code.TAG_STATIC,
                weight=Weight.LIMIT,
                subject=subject,
                words=f"{why}; static display only",
            )
        ]
    if hung.job_done:
        return [
            Reason(
                code=Code.TAG_NOT_LIFTED,
                weight=Weight.OPEN,
                subject=subject,
                words=f"{why}; the card is done, the tag still hangs",
                act="the lead lifts the tag and enters its stub number",
            )
        ]
    job = case.job(hung.job) if hung.job else None
    lifting: tuple[str, ...] = (job.uid,) if job is not None and job.lifts else ()
    if lifting:
        return [Reason(code=Code.TAG, weight=Weight.OPEN, subject=subject, words=why, clears=lifting)]
    return [
        Reason(
            code=Code.TAG_NO_WORK,
            weight=Weight.DOWN,
            subject=subject,
            words=f"{why}; no work lifts it before the event",
        )
    ]


def cards(case: Case) -> list[Reason]:
    """Cards left stripped, untested or unsigned, on a function that this role asks for."""
    found = []
    for job in sorted(case.vehicle.jobs, key=lambda j: j.uid):
        problem = _problem(job)
        if problem is None:
            continue
        code, words = problem
        gating = tuple(sorted(f for f in job.functions if case.gates_on(f)))
        subject = ("job", job.uid)
        if not gating:
            found.append(
                Reason(
                    code=code,
                    weight=Weight.NOTE,
                    subject=subject,
                    words=f"{job.label}: {words}; this role does not ask for it",
                )
            )
        elif job.lifts:
            found.append(
                Reason(
                    code=code,
                    weight=Weight.OPEN,
                    subject=subject,
                    words=f"{job.label}: {words}",
                    clears=(job.uid,),
                    functions=gating,
                )
            )
        else:
            found.append(
                Reason(
                    code=code,
                    weight=Weight.OPEN,
                    subject=subject,
                    words=f"{job.label}: {words}, and it is not meant for before the event",
                    act="refit it, or bring the card forward",
                    functions=gating,
                )
            )
    return found


def _problem(job: Job) -> tuple[Code, str] | None:
    if job.stripped:
        return Code.STRIPPED, "stripped, not refitted"
    if job.refit_done and job.tests_missing:
        return Code.TEST_MISSING, f"{' and '.join(job.tests_missing)} not recorded"
    if job.refit_done and job.signature_missing:
        return Code.SIGNATURE_MISSING, f"second signature for {job.signature_missing} missing"
    return None


def of_open_jobs(case: Case, open_jobs: set[str]) -> list[Reason]:
    """What the gating cards themselves wait for and a person must settle: parts not known or ordered, consent."""
    found = []
    doing = closure(case, open_jobs)
    for job in sorted((j for j in case.vehicle.jobs if j.uid in doing), key=lambda j: j.uid):
        uid = job.uid
        for part, name in job.unknown_parts:
            found.append(
                Reason(
                    code=Code.PART_UNKNOWN,
                    weight=Weight.UNJUDGED,
                    subject=("part", part),
                    words=f"{name}: not known whether it is needed ({job.label})",
                    act="look, and say what is needed",
                )
            )
        for part, name in job.late_parts:
            found.append(
                Reason(
                    code=Code.PART_NOT_ORDERED,
                    weight=Weight.OPEN,
                    subject=("part", part),
                    words=f"{name}: not ordered ({job.label})",
                    clears=(uid,),
                    act="order it today",
                )
            )
        if job.consent == "wanted":
            found.append(
                Reason(
                    code=Code.CONSENT,
                    weight=Weight.OPEN,
                    subject=("job", uid),
                    words=f"{job.label}: the curator's consent is outstanding",
                    clears=(uid,),
                    act="ask the curator",
                )
            )
    return found


OWNER_CONSENT = "owner consent"


def papers(case: Case) -> list[Reason]:
    """Documents that the role asks for, valid through the slot; a lent or visiting vehicle's owner consents to every role."""
    found = []
    on_file = dict(case.vehicle.papers)
    asked = [(kind, demand) for kind, demand, _ in case.museum.rules.asked(case.role, "paper")]
    if case.vehicle.lent and OWNER_CONSENT not in dict(asked):
        asked.append((OWNER_CONSENT, "!"))
    for kind, demand in asked:
        subject = ("paper", f"{case.vehicle.uid}:{kind}")
        if kind not in on_file:
            weight = Weight.NOTE if demand == "n" else Weight.UNJUDGED
            found.append(
                Reason(
                    code=Code.PAPER_UNKNOWN,
                    weight=weight,
                    subject=subject,
                    words=f"{kind}: not on file",
                    act="enter it",
                )
            )
            continue
        ends = on_file[kind]
        if ends is not None and case.slot.ends.date() > ends:
            weight = Weight.NOTE if demand == "n" else Weight.OPEN
            found.append(
                Reason(
                    code=Code.PAPER_ENDED,
                    weight=weight,
                    subject=subject,
                    words=f"{kind}: valid through {day_words(ends)}",
                    act="renew it",
                )
            )
    return found


def checks(case: Case) -> list[Reason]:
    """Checks of use: asked for from some days before the event; first parade on the day; after-use overdue at once."""
    found = []
    today = case.museum.now.date()
    event, slot, vehicle = case.event, case.slot, case.vehicle
    if vehicle.overdue_after_use is not None and slot.ends > case.museum.now:
        found.append(
            Reason(
                code=Code.AFTER_USE,
                weight=Weight.OPEN,
                subject=("vehicle", vehicle.uid),
                words=f"after-use check of {day_words(vehicle.overdue_after_use)} not done",
                act="do the after-use check",
                sure=True,
            )
        )
    if today < event.first_day - dt.timedelta(days=case.museum.rules.event_check_days):
        return found
    for kind, demand, _ in case.museum.rules.asked(case.role, "check"):
        day = slot.day if kind == "first parade" else event.first_day
        asked = today >= slot.day if kind == "first parade" else True
        if asked and (kind, day) not in vehicle.checks_done:
            weight = Weight.NOTE if demand == "n" else Weight.OPEN
            found.append(
                Reason(
                    code=Code.CHECK_OPEN,
                    weight=weight,
                    subject=("check", f"{vehicle.uid}:{kind}:{day.isoformat()}"),
                    words=f"{CHECK_WORDS.get(kind, kind)} not done",
                    act=f"do the {CHECK_WORDS.get(kind, kind)}",
                    sure=True,
                )
            )
    return found


def standby(entry: Entry, judged: Sequence[Slot]) -> list[Reason]:
    """A standby is gated like what it covers, and says how soon it is ready to move."""
    subject = ("entry", entry.uid)
    if not judged:
        return [
            Reason(
                code=Code.STANDBY_EMPTY,
                weight=Weight.UNJUDGED,
                subject=subject,
                words="covers no slot",
                act="say which vehicle it stands in for",
            )
        ]
    if entry.ready_minutes is None:
        return [
            Reason(
                code=Code.STANDBY_SLOW,
                weight=Weight.NOTE,
                subject=subject,
                words="ready to move in: not said",
            )
        ]
    return []
