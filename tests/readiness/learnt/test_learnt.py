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
from readiness.engine.learning import Spent
from readiness.models import DayRecord, Entry, Event, LearntKind, Overrule
from readiness.queries.track_record import track_record
from readiness.services.learnt import overrule_drop, overrule_set
from readiness.services.working_out import NO_HISTORY, judge_all, work_out
from readiness.snapshot import fetch, museum_state, workload
from readiness.snapshot.learnt import Learnt, learnt, spread_of

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
    assert found.rests_on == "1 closed job"


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


def many(who: str, codes: list[str], times: float) -> None:
    for code in codes:
        card = JobCard.objects.get(code=code)
        middle = Pert(
            float(card.hours_best or 0), float(card.hours_usual or 0), float(card.hours_bad or 0)
        ).ppf(0.5)
        closed(code, who, str(round(times * middle * card.persons, 2)))


def test_a_person_without_a_record_has_the_workshops_hours(demo: Event) -> None:
    """Two closed jobs at three times their middle: the whole workshop's figure moves, and so does everybody's work."""
    before = played()["J30"].estimate  # type: ignore[attr-defined]
    many("bashir", ["J21", "J13"], 3.0)
    found = learnt(fetch())
    whole = found.figures[LearntKind.HOURS, "workshop"]
    # mean of two r = ln 3 drawn to 0: 2 ln 3 / (2 + (.4^2 + .25^2) / .4^2)
    assert math.log(whole.used) == pytest.approx(2 * math.log(3) / (2 + (0.16 + 0.0625) / 0.16), abs=0.01)
    assert found.hours("P04", "FUL", "defect") == whole.used
    after = played()["J30"].estimate  # type: ignore[attr-defined]
    assert after.mode == pytest.approx(before.mode * whole.used)
    overrule_set(
        by=person("wilmot"), kind="hours", key="workshop", value=Decimal("1.1"), reason="that was an odd week"
    )
    assert played()["J30"].estimate.mode == pytest.approx(before.mode * 1.1)  # type: ignore[attr-defined]


def test_hours_can_be_set_where_nothing_is_on_record(demo: Event, client: Client) -> None:
    before = played()["J30"].estimate  # type: ignore[attr-defined]
    client.force_login(person("odette"))
    typed = {
        "kind": "hours",
        "person": "P04",
        "system": "FUL",
        "work": "defect",
        "value": "1.4",
        "reason": "new to it",
    }
    assert client.post("/record/learnt/", {**typed, "system": "XYZ"}).status_code == 422
    assert client.post("/record/learnt/", {**typed, "value": "0"}).status_code == 422
    assert client.post("/record/learnt/", typed).status_code == 302
    assert played()["J30"].estimate.mode == pytest.approx(before.mode * 1.4)  # type: ignore[attr-defined]
    page = client.get("/record/learnt/").content.decode()
    assert "Set hours for other work" in page
    assert "new to it" in page
    assert "no job on record yet" in page


def test_the_spread_is_taken_from_a_long_record_only() -> None:
    short = {("P1", "BRK", "defect"): [Spent(estimate=1.0, actual=2.0)] * 3, ("P2", "BRK", "defect"): [Spent(estimate=1.0, actual=1.0)] * 3}  # fmt: skip
    assert spread_of(short) == (0.4, 0.25)
    wide = [Spent(estimate=1.0, actual=a) for a in (0.5, 1.0, 2.0, 1.0, 0.5)]
    long = {(f"P{n}", "BRK", "defect"): [replace(j, actual=j.actual * 2**n) for j in wide] for n in range(4)}
    within, between = spread_of(long)
    assert within == pytest.approx(math.sqrt(_squares(wide) / 4))
    assert between > 0.7  # habits a factor of two apart
    alike = {key: [Spent(estimate=1.0, actual=1.0)] * 5 for key in long}
    assert spread_of(alike) == (0.05, 0.05)  # never nought


def _squares(jobs: list[Spent]) -> float:
    mean = sum(j.log_ratio for j in jobs) / len(jobs)
    return sum((j.log_ratio - mean) ** 2 for j in jobs)


def test_a_suppliers_promises_can_be_overruled(demo: Event) -> None:
    """Set by hand is the mean; the shape stays: 1.29 becomes 2.58, so every ratio doubles."""
    supplier = Supplier.objects.create(name="Slow and Sons")
    overrule_set(
        by=person("odette"),
        kind="promises",
        key=str(supplier.pk),
        value=Decimal("2.58"),
        reason="moving house",
    )
    assert dict(learnt(fetch()).lead(supplier.pk)) == pytest.approx({2.0: 0.5, 2.6: 0.3, 4.0: 0.2})
    PartNeed.objects.filter(code="PT06").update(supplier=supplier)
    assert dict(played()["PT06"].ratios)[4.0] == pytest.approx(0.2)  # type: ignore[attr-defined]
    with pytest.raises(ValidationError):
        overrule_set(
            by=person("odette"), kind="promises", key=str(supplier.pk), value=Decimal(0), reason="never"
        )
    overrule_drop(by=person("odette"), kind="promises", key=str(supplier.pk))
    assert dict(learnt(fetch()).lead(supplier.pk)) == pytest.approx({1.0: 0.5, 1.3: 0.3, 2.0: 0.2})


def test_a_delivery_that_is_overdue_already_counts(demo: Event) -> None:
    supplier = Supplier.objects.create(name="Slow and Sons")
    PartNeed.objects.create(
        name="spring", supplier=supplier, state="on order", ordered_on=TODAY - dt.timedelta(days=15), promised_on=TODAY - dt.timedelta(days=5),
    )  # fmt: skip
    found = learnt(fetch())
    assert found.figures[LearntKind.PROMISES, str(supplier.pk)].rests_on == "0 deliveries, 1 overdue"
    # 1.5 of the promise has passed: its weight of one in seven goes to the ratio beyond, 2.0.
    assert dict(found.lead(supplier.pk))[2.0] == pytest.approx((6 * 0.2 + 1) / 7)


def test_begun_work_stays_with_who_has_it(demo: Event) -> None:
    jarek, bashir = person("jarek"), person("bashir")
    closed("J21", "jarek", "1", state="in hand")
    card = JobCard.objects.get(code="J21")
    JobCard.objects.filter(pk=card.pk).update(persons=2)
    WorkLog.objects.create(card=card, person=bashir, day=TODAY, hours=Decimal("0.5"))
    seen = played()["J21"]
    assert (seen.kept_by, seen.doers) == ((jarek.code, bashir.code), tuple(sorted((jarek.code, bashir.code))))  # type: ignore[attr-defined]
    Person.objects.filter(pk=jarek.pk).update(is_trainee=True)  # a trainee leads nothing
    assert played()["J21"].kept_by == (bashir.code, jarek.code)  # type: ignore[attr-defined]
    bashir.patterns.all().delete()
    bashir.day_exceptions.all().delete()  # and who does not come again leaves it to others
    assert played()["J21"].kept_by == ()  # type: ignore[attr-defined]
    JobCard.objects.filter(pk=card.pk).update(state="booked in")
    Person.objects.filter(pk=jarek.pk).update(is_trainee=False)
    assert played()["J21"].kept_by == ()  # type: ignore[attr-defined]  # taken, not begun


def test_a_museum_without_history_is_told_so(demo: Event) -> None:
    def guesses() -> tuple[str, ...]:
        return work_out(fetch(), samples=50, seed=1).guesses

    assert NO_HISTORY in guesses()
    SignIn.objects.create(person=person("jarek"), day=TODAY - dt.timedelta(days=7), came=True)
    assert NO_HISTORY not in guesses()


@pytest.mark.parametrize("typed", ["NaN", "Infinity", "-0.1", "often"])
def test_what_is_no_share_is_refused(demo: Event, client: Client, typed: str) -> None:
    client.force_login(person("odette"))
    answer = client.post("/record/learnt/", {"kind": "turn-up", "key": "P04", "value": typed, "reason": "x"})
    assert answer.status_code == 422
    assert Overrule.objects.count() == 0
