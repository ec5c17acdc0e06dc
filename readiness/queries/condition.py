"""The condition of each system of a vehicle: by its newest reading with a limit, else by what was found or done."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Prefetch
from django.utils import timezone

from fleet.models import Subsystem, Vehicle
from maintenance.enums import CardState, DefectState
from maintenance.models import Defect, JobCard, Measure, Reading
from readiness.engine.reasons import day_words

VERDICT_WORDS = {
    "past": ("Past limit", "cpast"),
    "near": ("Near limit", "cnear"),
    "within": ("Sound", "csound"),
    "not sure": ("Not sure", "cnot"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    name: str
    word: str
    css: str
    dial: float | None
    when: str
    who: str


def condition_of(vehicle: Vehicle, defects: Iterable[Defect]) -> tuple[Condition, ...]:
    systems = list(Subsystem.objects.filter(vehicle=vehicle, parent=None))
    newest = Reading.objects.filter(replaced_by=None).select_related("by").order_by("-at", "-pk")
    measures = list(Measure.objects.filter(vehicle=vehicle).prefetch_related(Prefetch("readings", newest)))
    ended = list(
        JobCard.objects.filter(
            vehicle=vehicle, state__in=[CardState.PASSED, CardState.NO_FAULT_FOUND], subsystem__isnull=False
        )
        .select_related("subsystem", "taken_by")
        .order_by("-ended_at")
    )
    by_group: dict[str, list[Defect]] = {}
    for defect in defects:
        if defect.subsystem is not None:
            by_group.setdefault(defect.subsystem.group, []).append(defect)
    return tuple(
        _one_condition(
            s,
            measures,
            by_group.get(s.group, []),
            [c for c in ended if c.subsystem and c.subsystem.group == s.group],
        )
        for s in systems
    )


def _one_condition(
    system: Subsystem, measures: list[Measure], defects: list[Defect], ended: list[JobCard]
) -> Condition:
    readings = [
        (m, r)
        for m in measures
        if m.system.split(".", 1)[0] == system.group and (r := next(iter(m.readings.all()), None)) is not None
    ]
    if readings:
        order = ["past", "near", "not sure", "within"]
        _, reading = min(readings, key=lambda p: order.index(p[1].verdict) if p[1].verdict in order else 2)
        word, css = VERDICT_WORDS.get(reading.verdict, ("Not sure", "cnot"))
        dial = {"past": 0.9, "near": 0.7, "within": 0.25}.get(reading.verdict)
        return Condition(
            name=system.name,
            word=word,
            css=css,
            dial=dial,
            when=day_words(timezone.localdate(reading.at)),
            who=reading.by.name if reading.by else "",
        )
    if defects:
        newest = max(defects, key=lambda d: d.assessed_at or d.reported_at)
        judged = all(d.state == DefectState.ASSESSED for d in defects)
        return Condition(
            name=system.name,
            word="Worn" if judged else "Not assessed",
            css="cworn" if judged else "cnot",
            dial=None,
            when=day_words(timezone.localdate(newest.assessed_at or newest.reported_at)),
            who=newest.serial,
        )
    if ended:
        last = ended[0]
        return Condition(
            name=system.name,
            word="Sound",
            css="csound",
            dial=None,
            when=day_words(timezone.localdate(last.ended_at)) if last.ended_at else "",
            who=last.taken_by.name if last.taken_by else last.serial,
        )
    return Condition(name=system.name, word="Not looked at", css="cnot", dial=None, when="", who="")
