"""From a job card to the work that the forecast plays: what the card does not say itself."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from fleet.hazards import HAZARDS
from fleet.models import Person, Subsystem
from maintenance.models import JobCard, WorkLog
from readiness.engine.workshop import Work
from readiness.models import Event
from readiness.services.learnt import overrule_set
from readiness.services.working_out import judge_all
from readiness.snapshot import fetch, museum_state, workload

pytestmark = pytest.mark.django_db


def work_of(code: str) -> Work:
    rows = fetch()
    museum = museum_state(rows)
    return next(w for w in workload(rows, museum, judge_all(museum)).workshop.works if w.uid == code)


def hazards_of(code: str, hazards: list[str]) -> None:
    card = JobCard.objects.get(code=code)
    assert card.subsystem is not None
    Subsystem.objects.filter(pk=card.subsystem.pk).update(hazards=hazards)


def test_cautions_that_ask_for_a_second_person_take_one(demo: Event) -> None:
    assert {code for code, h in HAZARDS.items() if h.second_person} == {"H3", "H6", "H8", "H13"}
    hazards_of("J30", ["H24"])
    assert (work_of("J30").two_person, work_of("J30").crew) == (False, 1)
    hazards_of("J30", ["H24", "H8"])
    assert (work_of("J30").two_person, work_of("J30").crew) == (True, 2)


def test_no_estimate_takes_the_middle_of_the_same_system(demo: Event) -> None:
    """Three other jobs on fuel at 1, 2 and 9 hours: 2, whatever the rest of the shop takes."""
    system = Subsystem.objects.get(vehicle__code="V10", code="FUL")
    others = list(JobCard.objects.filter(state="booked in").exclude(subsystem__code__startswith="FUL")[:3])
    JobCard.objects.filter(subsystem__code__startswith="FUL").exclude(code="J30").update(subsystem=None)
    for card, hours in zip(others, (1, 2, 9), strict=True):
        JobCard.objects.filter(pk=card.pk).update(
            subsystem=system, hours_usual=hours, hours_best=None, hours_bad=None
        )
    JobCard.objects.filter(code="J30").update(hours_best=None, hours_usual=None, hours_bad=None)
    estimate = work_of("J30").estimate
    assert estimate is not None
    assert (estimate.kind, estimate.value) == ("guess", 2.0)
    JobCard.objects.filter(pk=others[0].pk).update(subsystem=None)  # two are too few: the middle of all
    fallback = work_of("J30").estimate
    assert fallback is not None
    assert fallback.value != 5.5


def test_the_jobs_of_the_last_weeks_say_how_the_season_goes(demo: Event) -> None:
    def season() -> list[tuple[float, float, bool]]:
        rows = fetch()
        museum = museum_state(rows)
        found = workload(rows, museum, judge_all(museum)).workshop.evidence
        return [(e.estimate.usual, e.hours, e.open) for e in found]

    assert season() == []
    jarek, now = Person.objects.get(username="jarek"), timezone.now()
    for code, state, days in (("J21", "passed", 59), ("J13", "in hand", None), ("J14", "passed", 61)):
        card = JobCard.objects.get(code=code)
        JobCard.objects.filter(pk=card.pk).update(
            state=state, taken_by=jarek, persons=2, hours_best=None, hours_usual=4, hours_bad=None,
            ended_at=None if days is None else now - dt.timedelta(days=days),
            subsystem=Subsystem.objects.filter(vehicle=card.vehicle).first(),
        )  # fmt: skip
        WorkLog.objects.create(card=card, person=jarek, day=now.date(), hours=Decimal(6))
    overrule_set(
        by=Person.objects.get(username="wilmot"),
        kind="hours",
        key="workshop",
        value=Decimal(1),
        reason="as said",
    )
    learnt = [(round(usual, 6), hours, is_open) for usual, hours, is_open in season()]
    assert [(hours, is_open) for _, hours, is_open in learnt] == [
        (3.0, True),
        (3.0, False),
    ]  # of each of two people
    assert all(usual < 4.0 for usual, *_ in learnt)  # against the estimate as Jarek's record scales it today
