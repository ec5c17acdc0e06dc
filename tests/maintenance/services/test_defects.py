import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from fleet.errors import Conflict
from fleet.models import Act
from maintenance.enums import CardState, DefectSource, DefectState
from maintenance.models import Defect
from maintenance.queries.defects import (
    defect_detail,
    likely_duplicates,
    open_defects,
    same_fault_again,
    unassessed,
)
from maintenance.risk import Level, level
from maintenance.rules import check_assessment
from maintenance.services.defects import (
    defect_assess,
    defect_merge,
    defect_note,
    defect_reopen,
    defect_report,
    defect_set_aside,
)
from maintenance.signals import work_changed
from tests.factories import CardFactory, DefectFactory, DeferralFactory, VehicleFactory

pytestmark = pytest.mark.django_db


def brakes(vehicle):
    return vehicle.subsystems.get(code="BRK")


def test_a_report_from_one_of_us(driver, vehicle):
    row = defect_report(
        vehicle=vehicle,
        by=driver,
        subsystem=brakes(vehicle),
        words="Long pedal on the first stop.",
        answers={"what": "long pedal"},
    )
    year = timezone.localdate().year % 100
    assert row.serial == f"{year:02d}/001"
    assert (row.title, row.state, row.reporter_name) == (
        "Brakes: long pedal",
        DefectState.REPORTED,
        "Rufus Penn",
    )
    assert Act.objects.get(act="defect.report").by == driver


def test_a_slip_from_a_visitor(vehicle):
    row = defect_report(
        vehicle=vehicle,
        by=None,
        reporter_name="Man in a hat",
        words="smell of petrol near the step",
        source=DefectSource.SLIP,
    )
    assert (row.title, row.reported_by, row.subsystem) == ("smell of petrol near the step", None, None)
    assert Act.objects.get(act="defect.report").by_name == "Man in a hat"


def test_a_report_says_something_and_of_the_right_vehicle(driver, vehicle):
    with pytest.raises(ValidationError) as nothing:
        defect_report(vehicle=vehicle, by=driver)
    assert "words" in nothing.value.message_dict
    with pytest.raises(ValidationError) as wrong:
        defect_report(vehicle=vehicle, by=driver, words="x y", subsystem=brakes(VehicleFactory()))
    assert "subsystem" in wrong.value.message_dict
    assert not Defect.objects.exists()


def test_who_has_left_reports_nothing_in_their_name(driver, vehicle):
    driver.is_active = False
    with pytest.raises(PermissionDenied):
        defect_report(vehicle=vehicle, by=driver, words="x y")


def test_a_clock_that_is_ahead_counts_as_now(driver, vehicle):
    row = defect_report(vehicle=vehicle, by=driver, words="x y", at=timezone.now() + dt.timedelta(days=1))
    assert row.reported_at <= timezone.now()


def test_likely_duplicates_are_of_the_same_system_in_thirty_days(vehicle):
    now = timezone.now()
    system, part = brakes(vehicle), vehicle.subsystems.get(code="BRK.parking")
    wheel = vehicle.subsystems.get(code="WHL")
    same = DefectFactory(vehicle=vehicle, subsystem=part, reported_at=now - dt.timedelta(days=30))
    unsure = DefectFactory(vehicle=vehicle, subsystem=None, reported_at=now - dt.timedelta(days=1))
    DefectFactory(vehicle=vehicle, subsystem=wheel, reported_at=now)
    DefectFactory(vehicle=vehicle, subsystem=part, reported_at=now - dt.timedelta(days=31))
    DefectFactory(vehicle=vehicle, subsystem=part, reported_at=now, state=DefectState.CLEARED)
    DefectFactory(subsystem=None, reported_at=now)
    assert list(likely_duplicates(vehicle, system, at=now)) == [unsure, same]
    assert likely_duplicates(vehicle, None, at=now).count() == 3
    assert list(likely_duplicates(vehicle, system, at=now, leave_out=same.pk)) == [unsure]


def test_the_lead_assesses(lead, vehicle):
    defect = DefectFactory(vehicle=vehicle)
    row = defect_assess(
        defect=defect,
        by=lead,
        severity=2,
        probability="C",
        effects={"STOP": "reduced", "LOOK": "watch"},
        title="Pulls left",
    )
    assert (row.rating, row.state, row.title, row.assessed_by, row.version) == (
        "2C",
        "assessed",
        "Pulls left",
        lead,
        2,
    )
    assert [(e.function, e.effect) for e in row.effects.all()] == [("LOOK", "watch"), ("STOP", "reduced")]
    again = defect_assess(defect=row, by=lead, severity=3, probability="D", effects={"STOP": "watch"})
    assert [(e.function, e.effect) for e in again.effects.all()] == [("STOP", "watch")]
    assert Act.objects.filter(act="defect.assess").first().detail["rating"] == ["2C", "3D"]


@pytest.mark.parametrize("role", ["driver", "mechanic", "coordinator", "manager", "curator", "administrator"])
def test_nobody_else_assesses(role, cast, vehicle):
    defect = DefectFactory(vehicle=vehicle)
    with pytest.raises(PermissionDenied, match="Only the workshop lead"):
        defect_assess(defect=defect, by=getattr(cast, role), severity=2, probability="C", effects={})


def test_high_with_only_watch_is_refused(lead, vehicle):
    defect = DefectFactory(vehicle=vehicle)
    with pytest.raises(ValidationError) as caught:
        defect_assess(defect=defect, by=lead, severity=1, probability="C", effects={"STOP": "watch"})
    assert "severity" in caught.value.message_dict
    defect.refresh_from_db()
    assert (defect.state, defect.effects.count()) == (DefectState.REPORTED, 0)
    defect_assess(
        defect=defect, by=lead, severity=1, probability="C", effects={"STOP": "watch", "HOLD": "lost"}
    )


@given(st.integers(1, 4), st.sampled_from("ABCDEF"), st.lists(st.sampled_from(["watch", "reduced", "lost"])))
def test_only_high_asks_for_a_function(severity, probability, effects):
    wrong = check_assessment(severity=severity, probability=probability, effects=effects)
    taken = {"reduced", "lost"} & set(effects)
    assert bool(wrong) == (level(severity, probability) is Level.HIGH and not taken)


@pytest.mark.parametrize(("severity", "probability"), [(0, "A"), (5, "A"), (2, "G"), (2, "")])
def test_a_rating_off_the_table(severity, probability, lead, vehicle):
    with pytest.raises(ValidationError) as caught:
        defect_assess(
            defect=DefectFactory(vehicle=vehicle),
            by=lead,
            severity=severity,
            probability=probability,
            effects={"STOP": "lost"},
        )
    assert "severity" in caught.value.message_dict


def test_an_unknown_function_or_effect(lead, vehicle):
    for effects in ({"FLY": "lost"}, {"STOP": "gone"}):
        with pytest.raises(ValidationError):
            defect_assess(
                defect=DefectFactory(vehicle=vehicle), by=lead, severity=3, probability="C", effects=effects
            )


def test_a_worse_finding_ends_what_was_signed_for_less(lead, vehicle):
    defect = DefectFactory(vehicle=vehicle, effects={"STEER": "reduced"})
    deferral = DeferralFactory(defect=defect)
    defect_assess(defect=defect, by=lead, severity=3, probability="D", effects={"STEER": "reduced"})
    deferral.refresh_from_db()
    assert deferral.withdrawn_at is None
    defect_assess(defect=defect, by=lead, severity=2, probability="C", effects={"STEER": "reduced"})
    deferral.refresh_from_db()
    assert deferral.withdrawn_at is not None
    assert "2C" in deferral.withdrawn_reason


def test_two_at_once_and_the_second_is_told_what_the_first_did(lead, vehicle):
    defect = DefectFactory(vehicle=vehicle)
    seen = defect.version
    defect_assess(
        defect=defect, by=lead, severity=3, probability="C", effects={"STOP": "watch"}, expected_version=seen
    )
    with pytest.raises(Conflict) as caught:
        defect_assess(
            defect=defect,
            by=lead,
            severity=2,
            probability="C",
            effects={"STOP": "lost"},
            expected_version=seen,
        )
    (line,) = caught.value.changed
    assert line.startswith("Berit Holm assessed it,")
    defect.refresh_from_db()
    assert defect.rating == "3C"


def test_set_aside_by_the_lead_with_a_reason_and_opened_again(lead, mechanic, vehicle):
    defect = DefectFactory(vehicle=vehicle)
    with pytest.raises(PermissionDenied):
        defect_set_aside(defect=defect, by=mechanic, reason="mischief")
    with pytest.raises(ValidationError):
        defect_set_aside(defect=defect, by=lead, reason=" ")
    row = defect_set_aside(defect=defect, by=lead, reason="mischief")
    assert (row.state, row.end_reason) == (DefectState.SET_ASIDE, "mischief")
    with pytest.raises(ValidationError, match="Open it again first"):
        defect_assess(defect=row, by=lead, severity=3, probability="C", effects={})
    row = defect_reopen(defect=row, by=mechanic, reason="seen again")
    assert (row.state, row.end_reason, row.ended_at) == (DefectState.REPORTED, "", None)
    assert [note.text for note in row.notes.all()] == ["Opened again: seen again"]
    with pytest.raises(ValidationError, match="open already"):
        defect_reopen(defect=row, by=mechanic, reason="x")


def test_joining_keeps_both(lead, mechanic, vehicle):
    kept = DefectFactory(vehicle=vehicle, effects={"SHOW": "reduced"})
    other = DefectFactory(vehicle=vehicle, words="no main beam")
    card = CardFactory(vehicle=vehicle, defects=[other])
    done = CardFactory(vehicle=vehicle, defects=[other], state=CardState.PASSED)
    with pytest.raises(PermissionDenied):
        defect_merge(defect=other, into=kept, by=mechanic)
    defect_merge(defect=other, into=kept, by=lead)
    other.refresh_from_db()
    assert (other.state, other.joined_to, other.words) == (DefectState.MERGED, kept, "no main beam")
    assert set(card.defects.all()) == {other, kept}
    assert set(done.defects.all()) == {other}
    assert kept.notes.get().text == f"{other.serial} joined to this one. It said: no main beam"
    reopened = defect_reopen(defect=other, by=mechanic, reason="it is another lamp")
    assert reopened.joined_to is None


def test_the_worse_one_is_never_joined_to_the_lesser(lead, vehicle):
    lesser = DefectFactory(vehicle=vehicle, effects={"SHOW": "watch"})
    worse = DefectFactory(vehicle=vehicle, severity=2, effects={"STOP": "lost"})
    fresh = DefectFactory(vehicle=vehicle)
    for into in (lesser, fresh):
        with pytest.raises(ValidationError, match="rated worse"):
            defect_merge(defect=worse, into=into, by=lead)
    with pytest.raises(ValidationError, match="to itself"):
        defect_merge(defect=worse, into=worse, by=lead)
    with pytest.raises(ValidationError, match="another vehicle"):
        defect_merge(defect=worse, into=DefectFactory(effects={"STOP": "lost"}, severity=2), by=lead)
    assert defect_merge(defect=lesser, into=worse, by=lead) == worse


def test_notes_are_added(driver, vehicle):
    defect = DefectFactory(vehicle=vehicle)
    defect_note(defect=defect, by=driver, text=" only when hot ")
    assert [(note.by, note.text) for note in defect.notes.all()] == [(driver, "only when hot")]
    with pytest.raises(ValidationError):
        defect_note(defect=defect, by=driver, text=" ")


def test_the_app_above_hears_after_the_commit(driver, vehicle, django_capture_on_commit_callbacks):
    heard = []

    def listen(sender, vehicle_id, act, **kwargs):
        heard.append((vehicle_id, act))

    work_changed.connect(listen)
    try:
        with django_capture_on_commit_callbacks() as callbacks:
            defect_report(vehicle=vehicle, by=driver, words="x y")
        assert heard == []
        for callback in callbacks:
            callback()
        assert heard == [(vehicle.pk, "defect.report")]
    finally:
        work_changed.disconnect(listen)


@pytest.mark.parametrize("count", [1, 3])
def test_lists_cost_the_same_however_long(count, vehicle, django_assert_num_queries):
    for _ in range(count):
        defect = DefectFactory(
            vehicle=vehicle, subsystem=brakes(vehicle), effects={"STOP": "reduced", "HOLD": "watch"}
        )
        CardFactory(vehicle=vehicle, defects=[defect])
        DeferralFactory(defect=defect)
    DefectFactory(vehicle=vehicle, state=DefectState.CLEARED)
    with django_assert_num_queries(6):
        rows = list(open_defects(vehicle))
        assert len(rows) == count
        for row in rows:
            assert len(row.effects.all()) == 2
            assert [card.taken_by for card in row.open_cards] == [None]
            assert [len(d.limits.all()) + len(d.signatures.all()) for d in row.deferrals.all()] == [0]


def test_waiting_for_the_lead_oldest_first(vehicle):
    now = timezone.now()
    late = DefectFactory(reported_at=now)
    early = DefectFactory(reported_at=now - dt.timedelta(days=3))
    DefectFactory(effects={"STOP": "watch"})
    assert list(unassessed()) == [early, late]


def test_what_was_tried_before(vehicle):
    system = brakes(vehicle)
    past = CardFactory(
        vehicle=vehicle, subsystem=vehicle.subsystems.get(code="BRK.rods"), state=CardState.PASSED
    )
    CardFactory(vehicle=vehicle, subsystem=system)
    CardFactory(vehicle=vehicle, subsystem=vehicle.subsystems.get(code="WHL"), state=CardState.PASSED)
    assert list(same_fault_again(vehicle, system, timezone.now() - dt.timedelta(days=730))) == [past]


def test_one_fault_whole(lead, vehicle):
    defect = DefectFactory(vehicle=vehicle, effects={"STOP": "watch"})
    defect_note(defect=defect, by=lead, text="heard it too")
    assert [note.by.name for note in defect_detail(defect.pk).notes.all()] == ["Berit Holm"]
