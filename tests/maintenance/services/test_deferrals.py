import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from fleet.errors import Conflict
from fleet.services.permit import importing
from maintenance.enums import CardState, LimitKind
from maintenance.models import Deferral
from maintenance.queries.deferrals import in_force, is_signed, standing
from maintenance.risk import Level, level
from maintenance.rules import LimitRow, check_deferral, check_limit
from maintenance.services.deferrals import (
    deferral_countersign,
    deferral_renew,
    deferral_sign,
    deferral_withdraw,
)
from maintenance.signals import event_end_asked
from tests.factories import CardFactory, DefectFactory, DeferralFactory, InspectionFactory

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 5, 1)
STATIC = (LimitRow(kind="static only"),)
SLOW = (LimitRow(kind="max speed", value=Decimal(20)),)


def check(**changes) -> list[str]:
    return check_deferral(
        **{
            "severity_without": 3, "probability_without": "C", "severity_with": 3, "probability_with": "D",
            "limits": SLOW, "reason": "band is on order", "signers": [("P02", "lead")], "signed_on": DAY,
            "ends_on": DAY + dt.timedelta(days=20), **changes,
        }
    )  # fmt: skip


def test_a_plain_one_is_right():
    assert check() == []


BOTH = [("P02", "lead"), ("P12", "manager")]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"severity_without": 1, "severity_with": 1, "signers": BOTH}, "A High risk may not be put off"),
        ({"severity_with": 4}, "severity is the same with the limit and without"),
        ({"severity_with": 2}, "severity is the same with the limit and without"),
        ({"probability_with": "C"}, None),
        ({"probability_with": "B"}, "cannot make the risk worse"),
        ({"probability_with": "A"}, "cannot make the risk worse"),
        ({"limits": ()}, "at least one limit"),
        ({"reason": "parts"}, "in a few words"),
        ({"reason": ""}, "in a few words"),
        ({"signers": []}, "The lead must sign first"),
        ({"signers": [("P04", "mechanic")]}, "The lead must sign first"),
        ({"signers": [("P12", "manager")]}, "The lead must sign first"),
        ({"severity_without": 2, "severity_with": 2}, "The manager must sign first"),
        ({"severity_without": 2, "severity_with": 2, "signers": BOTH}, None),
        (
            {"severity_without": 2, "severity_with": 2, "signers": [("P02", "lead"), ("P02", "manager")]},
            "manager must sign",
        ),
        ({"severity_without": 4, "severity_with": 4, "signers": [("P04", "mechanic")]}, None),
        ({"severity_without": 4, "severity_with": 4, "signers": [("P02", "lead")]}, None),
        ({"ends_on": DAY - dt.timedelta(days=1)}, "ends before it is signed"),
        ({"ends_on": DAY}, None),
        ({"ends_on": DAY + dt.timedelta(days=90)}, None),
        ({"ends_on": DAY + dt.timedelta(days=91)}, "The longest allowed is to 30 July 2026"),
        ({"ends_on": DAY + dt.timedelta(days=180), "limits": STATIC}, None),
        ({"ends_on": DAY + dt.timedelta(days=181), "limits": STATIC}, "to 28 October 2026"),
        ({"ends_on": DAY + dt.timedelta(days=400), "allow_long": True}, None),
        ({"today": DAY}, None),
        ({"today": DAY + dt.timedelta(days=1)}, "It is signed today"),
        ({"probability_with": "Q"}, "letters A to F"),
    ],
)
def test_each_rule(changes, said):
    wrong = check(**changes)
    assert (wrong == []) if said is None else any(said in sentence for sentence in wrong), wrong


SERIOUS_STILL = {"severity_without": 2, "severity_with": 2, "probability_with": "C", "signers": BOTH}


@pytest.mark.parametrize(
    ("event_end", "ends_after", "right"),
    [(30, 30, True), (30, 31, False), (None, 90, True), (None, 91, False)],
)
def test_a_serious_one_runs_to_the_end_of_the_next_event(event_end, ends_after, right):
    ends = DAY + dt.timedelta(days=ends_after)
    event = None if event_end is None else DAY + dt.timedelta(days=event_end)
    assert (check(**SERIOUS_STILL, ends_on=ends, next_event_end=event) == []) is right


def test_a_low_one_runs_to_the_next_inspection_else_ninety_days():
    low = {"severity_without": 4, "severity_with": 4}
    assert (
        check(**low, ends_on=DAY + dt.timedelta(days=200), next_inspection=DAY + dt.timedelta(days=200)) == []
    )
    assert check(**low, ends_on=DAY + dt.timedelta(days=90)) == []
    assert check(**low, ends_on=DAY + dt.timedelta(days=91)) != []


# What the workshop of the demonstration museum has signed: rating without and with, limits, days, signers.
@pytest.mark.parametrize(
    ("without", "with_limit", "kinds", "days", "signers"),
    [
        ("3B", "3D", ["daylight only", "free text"], 71, BOTH),
        ("2C", "2D", ["arena only", "no passengers", "free text"], 55, BOTH),
        ("3C", "3D", ["free text"], 65, [("P02", "lead")]),
        ("2C", "2E", ["equipment locked", "no arena"], 120, BOTH),
        ("1D", "1E", ["equipment locked"], 130, BOTH),
        ("3C", "3D", ["free text"], 52, [("P02", "lead")]),
        ("2C", "2E", ["static only"], 156, BOTH),
        ("2D", "2E", ["free text"], 60, [("P02", "lead")]),
    ],
)
def test_sound_examples_are_sound(without, with_limit, kinds, days, signers):
    assert (
        check(
            severity_without=int(without[0]), probability_without=without[1], severity_with=int(with_limit[0]),
            probability_with=with_limit[1], limits=[LimitRow(kind=kind, text="top up") for kind in kinds],
            ends_on=DAY + dt.timedelta(days=days), signers=signers,
        )
        == []
    )  # fmt: skip


@given(st.integers(1, 4), st.sampled_from("ABCDEF"), st.sampled_from("ABCDEF"))
def test_high_on_either_side_is_never_signed_away(severity, without, with_limit):
    everybody = [("1", "lead"), ("2", "manager"), ("3", "mechanic")]
    wrong = check(
        severity_without=severity, probability_without=without, severity_with=severity, probability_with=with_limit,
        signers=everybody, ends_on=DAY,
    )  # fmt: skip
    levels = {level(severity, without), level(severity, with_limit)}
    if Level.HIGH in levels:
        assert wrong
    else:
        assert (wrong == []) == (level(severity, with_limit).rank <= level(severity, without).rank)


@pytest.mark.parametrize(
    ("limit", "right"),
    [
        (LimitRow(kind="max speed"), False),
        (LimitRow(kind="max speed", value=Decimal(0)), False),
        (LimitRow(kind="max speed", value=Decimal("0.5")), True),
        (LimitRow(kind="free text", text=" "), False),
        (LimitRow(kind="named driver"), False),
        (LimitRow(kind="named driver", has_driver=True), True),
        (LimitRow(kind="gently"), False),
        *[(LimitRow(kind=k.value, value=Decimal(1), text="x", has_driver=True), True) for k in LimitKind],
    ],
)
def test_a_limit_says_what_it_needs(limit, right):
    assert (check_limit(limit) == []) is right


@pytest.fixture
def serious(vehicle):
    return DefectFactory(vehicle=vehicle, severity=2, effects={"STOP": "reduced"})


def sign(defect, by, signers, **changes):
    today = timezone.localdate()
    return deferral_sign(
        **{
            "defect": defect, "by": by, "signers": signers, "severity_with": defect.severity, "probability_with": "D",
            "limits": [{"kind": "max speed", "value": "20"}], "reason": "band is on order",
            "ends_on": today + dt.timedelta(days=30), **changes,
        }
    )  # fmt: skip


def test_both_sign_and_the_second_proves_it(serious, lead, manager, password):
    with pytest.raises(ValidationError) as unproven:
        sign(serious, lead, [(lead, "lead"), (manager, "manager")])
    assert "proofs" in unproven.value.message_dict
    assert not Deferral.objects.exists()
    made = sign(serious, lead, [(lead, "lead"), (manager, "manager")], proofs={manager.pk: password})
    assert (made.rating_without, made.rating_with) == ("2C", "2D")
    assert [(s.person, s.role) for s in made.signatures.all()] == [(lead, "lead"), (manager, "manager")]
    assert [limit.words for limit in made.limits.all()] == ["not above 20 km/h"]
    assert is_signed(made)


def test_a_role_that_one_has_not_signs_nothing(serious, lead, driver, password):
    with pytest.raises(PermissionDenied, match="may not sign a Serious risk as manager"):
        sign(serious, lead, [(lead, "lead"), (driver, "manager")], proofs={driver.pk: password})
    with pytest.raises(PermissionDenied):
        sign(DefectFactory(effects={"STOP": "watch"}, severity=4), driver, [(driver, "mechanic")])


def test_a_trainee_signs_nothing(mechanic):
    mechanic.is_trainee = True
    mechanic.save()
    low = DefectFactory(effects={"LOOK": "watch"}, severity=4)
    with pytest.raises(PermissionDenied):
        sign(low, mechanic, [(mechanic, "mechanic")])
    mechanic.is_trainee = False
    assert is_signed(sign(low, mechanic, [(mechanic, "mechanic")]))


def test_the_second_signature_may_follow_and_until_then_it_is_not_in_force(serious, lead, manager, vehicle):
    made = sign(serious, lead, [(lead, "lead")], signature_follows=True)
    today = timezone.localdate()
    assert not is_signed(made)
    assert in_force(vehicle, today) == []
    with pytest.raises(ValidationError, match="signed already"):
        deferral_countersign(deferral=made, by=lead, role="lead")
    deferral_countersign(deferral=made, by=manager, role="manager")
    assert in_force(vehicle, today) == [made]
    assert in_force(vehicle, made.ends_on) == [made]
    assert in_force(vehicle, made.ends_on + dt.timedelta(days=1)) == []


def test_another_day_or_paper_only_inside_a_table(serious, lead, manager, coordinator):
    long_ago = timezone.localdate() - dt.timedelta(days=40)
    both = [(lead, "lead"), (manager, "manager")]
    with pytest.raises(ValidationError, match="It is signed today"):
        sign(serious, lead, [(lead, "lead")], signed_on=long_ago, signature_follows=True)
    with pytest.raises(ValidationError, match="Only a table"):
        sign(serious, lead, both, signed_on=long_ago, allow_past=True)
    with importing(coordinator):
        made = sign(
            serious, coordinator, both, signed_on=long_ago, allow_past=True, severity_without=2, probability_without="D",
            ends_on=timezone.localdate() + dt.timedelta(days=400),
        )  # fmt: skip
    assert (made.signed_on, made.rating_without, is_signed(made)) == (long_ago, "2D", True)


def test_a_table_is_brought_in_only_by_one_who_may(serious, lead, mechanic):
    with pytest.raises(PermissionDenied, match="may bring in tables"), importing(mechanic):
        sign(serious, lead, [(lead, "lead")])


def test_it_must_be_assessed_and_open(lead, vehicle):
    reported = DefectFactory(vehicle=vehicle, severity=3, probability="C")
    with pytest.raises(ValidationError, match="must be assessed first"):
        sign(reported, lead, [(lead, "lead")])


def test_the_day_of_the_event_is_asked_of_the_app_above(serious, lead, manager, password):
    end = timezone.localdate() + dt.timedelta(days=12)

    def answer(sender, vehicle_id, day, **kwargs):
        return end

    event_end_asked.connect(answer)
    both, proofs = [(lead, "lead"), (manager, "manager")], {manager.pk: password}
    try:
        with pytest.raises(ValidationError, match="The longest allowed"):
            sign(serious, lead, both, proofs=proofs, probability_with="C", ends_on=end + dt.timedelta(days=1))
        sign(serious, lead, both, proofs=proofs, probability_with="C", ends_on=end)
    finally:
        event_end_asked.disconnect(answer)


def test_a_low_one_ends_with_the_next_inspection_on_file(lead, vehicle):
    today = timezone.localdate()
    InspectionFactory(vehicle=vehicle, due_on=today - dt.timedelta(days=3))
    InspectionFactory(vehicle=vehicle, due_on=today + dt.timedelta(days=10))
    low = DefectFactory(vehicle=vehicle, severity=4, effects={"LOOK": "watch"})
    with pytest.raises(ValidationError, match="longest allowed"):
        sign(low, lead, [(lead, "lead")], ends_on=today + dt.timedelta(days=11))
    sign(low, lead, [(lead, "lead")], ends_on=today + dt.timedelta(days=10))


def test_jobs_go_with_it_unless_in_pieces_and_come_back(lead, vehicle):
    defect = DefectFactory(vehicle=vehicle, effects={"START": "reduced"})
    card = CardFactory(vehicle=vehicle, defects=[defect], state=CardState.BOOKED_IN)
    open_one = CardFactory(vehicle=vehicle, state=CardState.IN_HAND, opened_at=timezone.now())
    with pytest.raises(ValidationError, match="not put together"):
        sign(defect, lead, [(lead, "lead")], cards=[open_one])
    made = sign(defect, lead, [(lead, "lead")], cards=[card])
    card.refresh_from_db()
    assert card.state == CardState.CARRIED_FORWARD
    with pytest.raises(ValidationError) as why:
        deferral_withdraw(deferral=made, by=lead, reason="")
    assert "reason" in why.value.message_dict
    deferral_withdraw(deferral=made, by=lead, reason="the band came")
    card.refresh_from_db()
    assert card.state == CardState.ASSESSED
    assert list(standing(vehicle)) == []


def test_signing_anew_takes_the_place_of_the_old(lead, vehicle):
    defect = DefectFactory(vehicle=vehicle, effects={"START": "reduced"})
    first = sign(defect, lead, [(lead, "lead")])
    second = sign(defect, lead, [(lead, "lead")])
    assert list(standing(vehicle)) == [second]
    third = deferral_renew(
        deferral=second, by=lead, signers=[(lead, "lead")], ends_on=timezone.localdate() + dt.timedelta(days=60),
        reason="band still on order",
    )  # fmt: skip
    first.refresh_from_db()
    assert first.withdrawn_at is not None
    assert third.renews == second
    assert [limit.words for limit in third.limits.all()] == ["not above 20 km/h"]
    assert set(standing(vehicle)) == {second, third}


def test_the_fault_has_moved_on(lead, vehicle):
    defect = DefectFactory(vehicle=vehicle, effects={"START": "reduced"}, version=4)
    with pytest.raises(Conflict):
        sign(defect, lead, [(lead, "lead")], expected_version=3)


@pytest.mark.parametrize("count", [1, 3])
def test_the_list_costs_the_same_however_long(count, vehicle, django_assert_num_queries):
    for _ in range(count):
        DeferralFactory(defect=DefectFactory(vehicle=vehicle, effects={"START": "reduced"}))
    with django_assert_num_queries(3):
        assert [is_signed(one) for one in standing()] == [False] * count
