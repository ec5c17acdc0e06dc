"""What the museum's own record teaches the forecast: closed forms, shrinking, no history, overruling."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from fleet.models import Person, SignIn
from maintenance.models import JobCard, PartNeed, Supplier, WorkLog
from readiness.engine.estimates import Pert
from readiness.models import DayRecord, Entry, Event, LearntKind, Overrule
from readiness.queries.track_record import track_record
from readiness.services.learnt import overrule_drop, overrule_set
from readiness.services.working_out import judge_all
from readiness.snapshot import fetch, museum_state, workload
from readiness.snapshot.learnt import Learnt, learnt

pytestmark = pytest.mark.django_db
TODAY = dt.date.today()


def person(name: str) -> Person:
    return Person.objects.get(username=name)


def played() -> dict[str, object]:
    rows = fetch()
    museum = museum_state(rows)
    load = workload(rows, museum, judge_all(museum)).workshop
    return (
        {h.uid: h for h in load.hands} | {w.uid: w for w in load.works} | {d.uid: d for d in load.deliveries}
    )


def test_without_history_every_figure_is_its_default(demo: Event) -> None:
    found = learnt(fetch())
    assert found.has_history is False
    assert all(f.used == f.default for f in found.figures.values())
    jarek = played()["P04"]
    assert jarek.turn_up == 0.8  # type: ignore[attr-defined]  # the demo museum's own default


def test_turn_up_is_the_mean_of_the_beta_belief(demo: Event) -> None:
    """Default .8 worth 8 days, 2 of 6 came: (6.4 + 2) / (8 + 6) = 0.6."""
    jarek = person("jarek")
    for n in range(6):
        SignIn.objects.create(person=jarek, day=TODAY - dt.timedelta(days=7 * (n + 1)), came=n < 2)
    assert learnt(fetch()).turn_up("P04", 0.8) == pytest.approx(0.6)
    assert played()["P04"].turn_up == pytest.approx(0.6)  # type: ignore[attr-defined]


def test_a_turn_up_set_on_the_person_goes_before_the_record(demo: Event) -> None:
    jarek = person("jarek")
    SignIn.objects.create(person=jarek, day=TODAY - dt.timedelta(days=7), came=False)
    Person.objects.filter(pk=jarek.pk).update(turn_up=Decimal("0.95"))
    assert played()["P04"].turn_up == pytest.approx(0.95)  # type: ignore[attr-defined]


def closed(code: str, who: str, hours: str, *, state: str = "passed") -> None:
    card = JobCard.objects.get(code=code)
    worker = person(who)
    JobCard.objects.filter(pk=card.pk).update(
        state=state, ended_at=timezone.now() if state == "passed" else None, taken_by=worker
    )
    WorkLog.objects.filter(card=card).delete()
    WorkLog.objects.create(card=card, person=worker, day=TODAY, hours=Decimal(hours))


def test_hours_are_shrunk_towards_the_estimate(demo: Event) -> None:
    """One closed job at twice its mean moves the factor up, but by less than two."""
    card = JobCard.objects.get(code="J21")
    mean = Pert(float(card.hours_best or 0), float(card.hours_usual or 0), float(card.hours_bad or 0)).mean
    closed("J21", "jarek", str(round(2 * mean, 2)))
    found = learnt(fetch()).figures[LearntKind.HOURS, "P04:EQP:defect"]
    assert 1.0 < found.used < 2.0
    assert found.rests_on == "1 closed jobs"


def test_an_open_job_that_has_hardly_begun_moves_nothing_and_an_overrun_does(demo: Event) -> None:
    closed("J21", "jarek", "0.10", state="in hand")
    assert learnt(fetch()).figures[LearntKind.HOURS, "P04:EQP:defect"].used == pytest.approx(1.0, abs=0.01)
    closed("J21", "jarek", "20", state="in hand")
    assert learnt(fetch()).figures[LearntKind.HOURS, "P04:EQP:defect"].used > 1.1


def test_the_factor_reaches_the_workshop(demo: Event) -> None:
    before = played()["J30"].estimate  # type: ignore[attr-defined]
    closed("J13", "jarek", "3", state="in hand")
    overrule_set(
        by=person("wilmot"), kind="hours", key="P04:FUL:defect", value=Decimal("1.5"), reason="always longer"
    )
    after = played()["J30"].estimate  # type: ignore[attr-defined]
    assert (after.low, after.mode, after.high) == pytest.approx(
        (before.low * 1.5, before.mode * 1.5, before.high * 1.5)
    )


def test_suppliers_who_deliver_late_are_believed_less(demo: Event) -> None:
    supplier = Supplier.objects.create(name="Slow and Sons")
    for n in range(6):
        ordered = TODAY - dt.timedelta(days=100 + n)
        PartNeed.objects.create(
            name=f"part {n}", supplier=supplier, state="fitted", ordered_on=ordered, promised_on=ordered + dt.timedelta(days=10),
            received_on=ordered + dt.timedelta(days=30),
        )  # fmt: skip
    ratios = dict(learnt(fetch()).lead(supplier.pk))
    assert ratios[3.0] == pytest.approx(0.5)  # six seen against six believed
    PartNeed.objects.filter(code="PT06").update(supplier=supplier)
    assert dict(played()["PT06"].ratios)[3.0] == pytest.approx(0.5)  # type: ignore[attr-defined]
    assert dict(played()["PT07"].ratios).get(3.0) is None  # type: ignore[attr-defined]


def test_finds_on_opening(demo: Event) -> None:
    """Three ended openings, one of which showed more, on a default worth 8: (8d + 1) / 11."""
    cards = list(JobCard.objects.filter(access__isnull=False, opened_at=None)[:3])
    access = cards[0].access
    assert access is not None
    keys = [c.pk for c in cards]
    JobCard.objects.filter(pk__in=keys).update(
        opened_at=timezone.now(), ended_at=timezone.now(), access=access, state="passed"
    )
    JobCard.objects.exclude(pk__in=keys).filter(opened_at__isnull=False).update(opened_at=None)
    JobCard.objects.exclude(pk__in=keys).filter(pk=JobCard.objects.get(code="J30").pk).update(
        found_on=cards[0]
    )
    default = float(access.discovery)
    assert learnt(fetch()).discovery(access.name, default) == pytest.approx((8 * default + 1) / 11)


def test_overruling_needs_the_lead_or_the_coordinator_and_a_reason(demo: Event) -> None:
    with pytest.raises(PermissionDenied):
        overrule_set(by=person("jarek"), kind="turn-up", key="P04", value=Decimal("0.5"), reason="no")
    with pytest.raises(ValidationError):
        overrule_set(by=person("wilmot"), kind="turn-up", key="P04", value=Decimal("1.5"), reason="twice")
    with pytest.raises(ValidationError):
        overrule_set(by=person("wilmot"), kind="turn-up", key="P04", value=Decimal("0.5"), reason="")
    overrule_set(
        by=person("odette"), kind="turn-up", key="P04", value=Decimal("0.5"), reason="exams until June"
    )
    assert learnt(fetch()).turn_up("P04", 0.8) == 0.5
    overrule_drop(by=person("odette"), kind="turn-up", key="P04")
    assert Overrule.objects.count() == 0
    assert learnt(fetch()).turn_up("P04", 0.8) == 0.8


def test_the_cost_is_fixed(demo: Event) -> None:
    rows = fetch()
    with CaptureQueriesContext(connection) as few:
        learnt(rows)
    jarek = person("jarek")
    for n in range(30):
        SignIn.objects.create(person=jarek, day=TODAY - dt.timedelta(days=n), came=True)
    closed("J21", "jarek", "3")
    JobCard.objects.filter(code__in=["J21", "J30"]).update(opened_at=timezone.now(), ended_at=timezone.now())
    JobCard.objects.filter(access__isnull=False).update(opened_at=timezone.now(), ended_at=timezone.now())
    with CaptureQueriesContext(connection) as many:
        learnt(rows)
    assert len(many) == len(few)


def test_on_the_page(demo: Event, client: Client) -> None:
    client.force_login(person("odette"))
    page = client.get("/record/learnt/")
    assert "There is no history yet" in page.content.decode()
    wrong = client.post("/record/learnt/", {"kind": "turn-up", "key": "P04", "value": "often", "reason": "x"})
    assert wrong.status_code == 422
    assert 'value="often"' in wrong.content.decode()  # what was typed is kept
    client.post("/record/learnt/", {"kind": "turn-up", "key": "P04", "value": "0,6", "reason": "exams"})
    assert Overrule.objects.get().value == Decimal("0.60")
    client.force_login(person("jarek"))
    assert "Overrule" not in client.get("/record/learnt/").content.decode()
    assert (
        client.post(
            "/record/learnt/", {"kind": "turn-up", "key": "P04", "value": "0.6", "reason": "x"}
        ).status_code
        == 403
    )


def test_an_empty_record_uses_what_it_is_given() -> None:
    nothing = Learnt()
    assert (
        nothing.turn_up("X", 0.7),
        nothing.hours("X", "BRK", "defect"),
        nothing.discovery("pit", 0.3),
    ) == (0.7, 1.0, 0.3)
    assert math.isclose(sum(share for _, share in nothing.lead(None)), 1.0)
    assert replace(nothing).has_history is False


def test_how_often_it_came_true(demo: Event, client: Client) -> None:
    """Four at 80 of which three came true, one at 10 that did not: Brier (3 x .04 + .64 + .01) / 5 = 0.154."""
    entries = list(Entry.objects.filter(slot__event=demo)[:5])
    for entry, (percent, true) in zip(
        entries, [(80, True), (80, True), (80, True), (80, False), (10, False)], strict=True
    ):
        DayRecord.objects.create(
            event=demo, entry=entry, vehicle_code=entry.vehicle.code, slot_code=entry.slot.code, day=TODAY, standing="likely",
            percent=percent, came_true=true,
        )  # fmt: skip
    found = track_record()
    assert (found.cases, found.brier) == (5, "0.154")
    assert [(line.said, line.cases, line.came_true, line.few) for line in found.lines] == [
        ("10 to 20", 1, 0, True),
        ("80 to 90", 4, 75, True),
    ]
    assert found.plain.startswith("Too few to tell")
    client.force_login(person("isla"))
    assert "0.154" in client.get("/record/came-true/").content.decode()


def test_before_any_freeze_there_is_nothing_to_compare(db: None) -> None:
    assert track_record().cases == 0
