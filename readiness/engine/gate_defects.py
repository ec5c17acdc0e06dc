"""Open defects against a slot: functions lost or reduced, risk, deferrals and their limits."""

from __future__ import annotations

from readiness.engine.case import Case
from readiness.engine.put_off import InForce, in_force
from readiness.engine.reasons import Code, Reason, Weight, day_words
from readiness.engine.risk import Level, level
from readiness.engine.slot_limits import compare
from readiness.engine.state import Defect

WHY_NOT = {
    "ended": (Code.DEFERRAL_ENDED, "renew the deferral, or finish the card"),
    "unsigned": (Code.DEFERRAL_UNSIGNED, "get the missing signature, or finish the card"),
    "high": (Code.DEFERRAL_REFUSED, "finish the card: High may not be carried forward"),
    "none": (Code.NO_WORK, "open a card before the freeze, or put it off with a limit"),
}


def judge(case: Case) -> list[Reason]:
    """All reasons that the vehicle's open defects give in this slot."""
    found: list[Reason] = []
    for defect in sorted(case.vehicle.defects, key=lambda d: d.uid):
        found += _assessed(case, defect) if defect.assessed else _unassessed(case, defect)
    return found


def _unassessed(case: Case, defect: Defect) -> list[Reason]:
    asked = {code for code, _, _ in case.museum.rules.asked(case.role, "function")} | case.slot.also_asks
    touched = asked if defect.unsure or not defect.touches else defect.touches
    gating = tuple(sorted(f for f in touched if case.gates_on(f)))
    subject = ("defect", defect.uid)
    if gating:
        words = f"{defect.label}: not assessed, touches {', '.join(gating)}"
        return [
            Reason(
                code=Code.UNASSESSED,
                weight=Weight.UNJUDGED,
                subject=subject,
                words=words,
                act="assess it",
                functions=gating,
            )
        ]
    return [
        Reason(
            code=Code.OTHER_DEFECT,
            weight=Weight.NOTE,
            subject=subject,
            words=f"{defect.label}: not assessed; this role does not ask for what it touches",
        )
    ]


def _assessed(case: Case, defect: Defect) -> list[Reason]:
    force = in_force(defect, case.vehicle, case.slot.ends.date(), case.museum.event_ends)
    work = tuple(sorted(j.uid for j in case.vehicle.jobs if j.uid in defect.jobs and j.lifts))
    found = _functions(case, defect, force, work)
    found += _risk(case, defect, work)
    if force.state == "yes":
        found += _limits(case, defect, force, work)
    elif not found and any(effect in {"lost", "reduced"} for _, effect in defect.effects):
        lapsed = f"; put off until {day_words(force.ends)} only" if force.ends else ""
        found.append(
            Reason(
                code=Code.OTHER_DEFECT,
                weight=Weight.NOTE,
                subject=("defect", defect.uid),
                words=f"{defect.label}: open, not asked in this role{lapsed}",
            )
        )
    return found


def _functions(case: Case, defect: Defect, force: InForce, work: tuple[str, ...]) -> list[Reason]:
    failing: dict[str, list[str]] = {"lost": [], "reduced": []}
    watched: list[str] = []
    for function, effect in defect.effects:
        if effect == "watch":
            watched.append(function)
            continue
        demand = case.asks(function)
        if demand not in {"!", "R"} or (effect == "reduced" and demand == "R" and force.state == "yes"):
            continue
        failing[effect].append(function)
    found = [
        _failing(defect, effect, tuple(sorted(functions)), force, work)
        for effect, functions in failing.items()
        if functions
    ]
    if watched and not found:
        found.append(
            Reason(
                code=Code.WATCH,
                weight=Weight.NOTE,
                subject=("defect", defect.uid),
                functions=tuple(sorted(watched)),
                words=f"{defect.label}: watch {', '.join(sorted(watched))}",
            )
        )
    return found


def _failing(
    defect: Defect, effect: str, functions: tuple[str, ...], force: InForce, work: tuple[str, ...]
) -> Reason:
    subject = ("defect", defect.uid)
    said = f"{defect.label}: {', '.join(functions)} {effect}"
    short = {"label": defect.label}
    if work:
        code = Code.FUNCTION_LOST if effect == "lost" else Code.FUNCTION_REDUCED
        return Reason(
            code=code,
            weight=Weight.OPEN,
            subject=subject,
            words=said,
            clears=work,
            functions=functions,
            data=short,
        )
    if force.state == "yes":
        words = f"{said}, carried forward; this role accepts no limit there, and no work lifts it before the freeze"
        return Reason(
            code=Code.CARRIED_ON_NEED,
            weight=Weight.BARRED,
            subject=subject,
            words=words,
            functions=functions,
            act="finish the card before the freeze, or another vehicle takes the slot",
            data=short,
        )
    code, act = WHY_NOT[force.state]
    tail = {
        "ended": f", put off until {day_words(force.ends)}" if force.ends else "",
        "unsigned": f", {force.words}",
    }.get(force.state, "")
    return Reason(
        code=code,
        weight=Weight.OPEN,
        subject=subject,
        words=f"{said}{tail}; no open work clears it",
        act=act,
        functions=functions,
        data=short,
    )


def _risk(case: Case, defect: Defect, work: tuple[str, ...]) -> list[Reason]:
    if not defect.severity or level(defect.severity, defect.probability) is not Level.HIGH:
        return []
    subject = ("defect", defect.uid)
    words = f"{defect.label}: rated {defect.severity}{defect.probability}, High; not carried until the work is finished"
    if case.role == "static":
        return [Reason(code=Code.RISK_HIGH, weight=Weight.NOTE, subject=subject, words=words)]
    act = "" if work else "open a card before the freeze"
    return [
        Reason(code=Code.RISK_HIGH, weight=Weight.OPEN, subject=subject, words=words, clears=work, act=act)
    ]


def _limits(case: Case, defect: Defect, force: InForce, work: tuple[str, ...]) -> list[Reason]:
    deferral = force.deferral
    assert deferral is not None
    told = "; ".join(limit.words for limit in deferral.limits) or "no limit written"
    until = day_words(force.ends) if force.ends else ""
    found = [
        Reason(
            code=Code.LIMIT_IN_FORCE,
            weight=Weight.LIMIT,
            subject=("deferral", deferral.uid),
            words=f"{told}, until {until}",
            data={
                "limits": [limit.words for limit in deferral.limits],
                "defect": defect.uid,
                "until": force.ends,
            },
        )
    ]
    for limit in deferral.limits:
        result = compare(limit, case.entry, case.slot, same_day=case.same_day)
        subject = ("limit", limit.uid)
        if result.state == "forbids" and work:
            found.append(
                Reason(
                    code=Code.LIMIT_FORBIDS,
                    weight=Weight.OPEN,
                    subject=subject,
                    words=f"{limit.words}: {result.words}",
                    clears=work,
                )
            )
        elif result.state == "forbids":
            found.append(
                Reason(
                    code=Code.LIMIT_FORBIDS,
                    weight=Weight.BARRED,
                    subject=subject,
                    words=f"{limit.words}: {result.words}",
                    act="another vehicle takes the slot, or the work is done before the freeze",
                )
            )
        elif result.state == "untold":
            found.append(
                Reason(
                    code=Code.LIMIT_LIGHT_UNKNOWN,
                    weight=Weight.UNJUDGED,
                    subject=subject,
                    words=f"{limit.words}: {result.words}",
                    act="write it on the programme",
                )
            )
        elif result.state == "untick":
            found.append(
                Reason(
                    code=Code.LIMIT_TICK,
                    weight=Weight.OPEN,
                    subject=subject,
                    words=f"{limit.words}: nobody has said that the slot obeys it",
                    clears=work,
                    act="read it and tick it for this entry",
                )
            )
    return found
