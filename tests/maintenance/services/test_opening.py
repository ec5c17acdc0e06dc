import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.utils import timezone

from fleet.errors import Conflict
from fleet.models import Act
from maintenance.defaults import card_defaults, card_voids, repaired_functions, voided_kinds
from maintenance.enums import CardState, DefectState, HeldFor
from maintenance.models import LeaveSafe
from maintenance.queries import cards as queries
from maintenance.rules import may_close_card, may_open_card, may_take_card, may_work_card
from maintenance.services import cards
from tests.factories import CardFactory, DefectFactory, PartNeedFactory, VehicleFactory

pytestmark = pytest.mark.django_db
ROLES = ("driver", "mechanic", "lead", "coordinator", "manager", "curator", "administrator")


@pytest.mark.parametrize(
    ("system", "kind", "lifts", "functional", "road", "second"),
    [
        ("BRK", "defect", False, True, True, "brakes"),
        ("BRK.parking", "defect", False, True, True, "brakes"),
        ("STE", "periodic", False, True, True, "steering"),
        ("WHL.nuts", "defect", False, True, True, ""),
        ("TRK", "defect", False, True, True, ""),
        ("SUS", "defect", False, True, True, ""),
        ("HYD", "defect", True, True, False, "lifting"),
        ("HYD", "defect", False, True, False, ""),
        ("ENG", "defect", True, True, False, ""),
        ("", "defect", False, True, False, ""),
        ("BRK", "fabric", False, False, False, ""),
    ],
)
def test_what_a_system_asks(system, kind, lifts, functional, road, second):
    asked = card_defaults(system=system, kind=kind, lifts=lifts)
    assert (asked.needs_functional_test, asked.needs_road_test, asked.second_area) == (
        functional,
        road,
        second,
    )


@pytest.mark.parametrize(
    ("functions", "system", "lifts", "kinds"),
    [
        ({"STOP"}, "BRK", False, {"brake reading"}),
        ({"HOLD"}, "BRK", False, {"brake reading"}),
        ({"STEER"}, "STE", False, {"running gear"}),
        ({"ROLL", "STOP"}, "WHL", False, {"running gear", "brake reading"}),
        ({"PULL"}, "EQP", False, {"lifting"}),
        ({"WORK"}, "HYD", True, {"lifting"}),
        ({"WORK"}, "HYD.hose", True, {"lifting"}),
        ({"WORK"}, "HYD", False, set()),
        ({"START", "LOOK"}, "ENG", True, set()),
        (set(), "HYD", True, set()),
    ],
)
def test_what_a_repair_makes_void(functions, system, lifts, kinds):
    assert voided_kinds(functions, system=system, lifts=lifts) == kinds


def test_what_a_job_repairs(vehicle):
    brakes = vehicle.subsystems.get(code="BRK")
    touched = DefectFactory(vehicle=vehicle, effects={"START": "watch"})
    with_fault = CardFactory(vehicle=vehicle, subsystem=brakes, defects=[touched])
    assert repaired_functions(with_fault) == {"START"}
    assert repaired_functions(CardFactory(vehicle=vehicle, subsystem=brakes)) == {"STOP", "HOLD"}
    assert repaired_functions(CardFactory(vehicle=vehicle)) == set()
    assert repaired_functions(CardFactory(vehicle=vehicle, subsystem=brakes, kind="periodic")) == set()
    assert repaired_functions(CardFactory(vehicle=vehicle, subsystem=brakes, voids_readings=False)) == set()
    unassessed = CardFactory(vehicle=vehicle, subsystem=brakes, defects=[DefectFactory(vehicle=vehicle)])
    assert card_voids(unassessed) == {"brake reading"}


def test_a_job_takes_system_tests_and_number_from_where_it_stands(mechanic, vehicle):
    brakes = vehicle.subsystems.get(code="BRK.rods")
    defect = DefectFactory(vehicle=vehicle, subsystem=brakes)
    card = cards.card_open(
        by=mechanic, vehicle=vehicle, title="Clevis pins", defects=[defect], skills=["brakes"], tools=["rod gauge"],
        hours_best="3", hours_usual="5", hours_bad="9", steps=["Chock", ("Pins out", "manual p. 14")],
    )  # fmt: skip
    assert card.subsystem == brakes
    assert (card.needs_road_test, card.second_area, card.state) == (True, "brakes", CardState.ASSESSED)
    assert [(s.order, s.text, s.source) for s in card.steps.all()] == [
        (1, "Chock", ""),
        (2, "Pins out", "manual p. 14"),
    ]
    assert [str(skill) for skill in card.skills.all()] == ["brakes"]
    assert card.serial.endswith("/001")
    assert cards.card_open(by=mechanic, vehicle=vehicle, title="x").serial.endswith("/002")


def test_a_job_is_refused_with_the_field_that_is_wrong(mechanic, vehicle):
    other = VehicleFactory()
    cases = [
        ({"subsystem": other.subsystems.first()}, "subsystem"),
        ({"defects": [DefectFactory(vehicle=other)]}, "defects"),
        ({"defects": [DefectFactory(vehicle=vehicle, state=DefectState.CLEARED)]}, "defects"),
        ({"state": CardState.PASSED}, "state"),
        ({"hours_best": "5", "hours_usual": "3", "hours_bad": "9"}, "hours_usual"),
        ({"hours_best": "5"}, "hours_usual"),
        ({"title": " "}, "title"),
        ({"persons": 0}, "persons"),
    ]
    for changes, field in cases:
        with pytest.raises(ValidationError) as caught:
            cards.card_open(**{"by": mechanic, "vehicle": vehicle, "title": "x", **changes})
        assert field in caught.value.message_dict, changes
    with pytest.raises(ValidationError, match="no such thing to plan: taken_by"):
        cards.card_open(by=mechanic, vehicle=vehicle, title="x", taken_by=mechanic)


def test_who_opens_works_takes_and_hands_in(cast):
    plain, fabric = CardFactory(), CardFactory(kind="fabric")
    assert {r for r in ROLES if may_open_card(getattr(cast, r), "defect")} == {"mechanic", "lead"}
    assert {r for r in ROLES if may_open_card(getattr(cast, r), "fabric")} == {"mechanic", "lead", "curator"}
    for rule in (may_work_card, may_take_card, may_close_card):
        assert {r for r in ROLES if rule(getattr(cast, r), plain)} == {"mechanic", "lead"}
        assert {r for r in ROLES if rule(getattr(cast, r), fabric)} == {"mechanic", "lead", "curator"}
        assert not rule(None, plain)
    planned = CardFactory(suits=cast.curator)
    assert may_work_card(cast.curator, planned)
    assert may_close_card(cast.curator, planned)
    cast.mechanic.is_trainee = True
    assert may_work_card(cast.mechanic, plain)
    assert not may_take_card(cast.mechanic, plain)
    assert not may_close_card(cast.mechanic, plain)


def test_taking_and_handing_back(mechanic, lead, driver, vehicle):
    card = CardFactory(vehicle=vehicle)
    row = cards.card_take(card=card, by=mechanic)
    assert (row.state, row.taken_by, row.version) == (CardState.IN_HAND, mechanic, 2)
    assert cards.card_take(card=card, by=mechanic).version == 2
    with pytest.raises(Conflict, match="Asta Finch has"):
        cards.card_take(card=card, by=lead)
    with pytest.raises(PermissionDenied):
        cards.card_take(card=card, by=driver)
    with pytest.raises(PermissionDenied, match="Only Asta Finch or the workshop lead"):
        cards.card_hand_back(card=card, by=driver)
    row = cards.card_hand_back(card=card, by=lead)
    assert (row.state, row.taken_by) == (CardState.BOOKED_IN, None)
    with pytest.raises(ValidationError, match="Nobody has"):
        cards.card_hand_back(card=card, by=lead)


def test_a_job_in_pieces_is_not_handed_back_without_its_note(mechanic):
    card = CardFactory(
        taken_by=mechanic, state=CardState.IN_HAND, opened_at=timezone.now() - dt.timedelta(hours=2)
    )
    LeaveSafe.objects.create(
        card=card,
        by=mechanic,
        at=timezone.now() - dt.timedelta(days=9),
        state_of_strip="x",
        parts_where="x",
        next_step="x",
    )
    with pytest.raises(ValidationError) as caught:
        cards.card_hand_back(card=card, by=mechanic)
    assert "left_safe" in caught.value.message_dict
    cards.left_safe(
        card=card,
        by=mechanic,
        state_of_strip="carburettor off",
        parts_where="tray B7",
        next_step="float needle",
    )
    assert cards.card_hand_back(card=card, by=mechanic).taken_by is None


def test_a_trainee_takes_nothing(mechanic):
    mechanic.is_trainee = True
    mechanic.save()
    with pytest.raises(PermissionDenied, match="works beside somebody"):
        cards.card_take(card=CardFactory(), by=mechanic)


def test_what_a_stale_page_is_told(mechanic, lead):
    card = CardFactory()
    cards.card_take(card=card, by=mechanic)
    cards.hours_add(card=card, by=mechanic, hours="1.5")
    with pytest.raises(Conflict) as caught:
        cards.card_plan(card=card, by=lead, expected_version=1, persons=2)
    assert [line.split(",")[0] for line in caught.value.changed] == [
        "Asta Finch took the job",
        "Asta Finch wrote hours",
    ]
    assert cards.card_plan(card=card, by=lead, expected_version=3, persons=2).persons == 2


def test_holding_and_going_on(mechanic, coordinator, driver):
    card = CardFactory()
    with pytest.raises(ValidationError):
        cards.card_hold(card=card, by=mechanic, reason="rain")
    with pytest.raises(PermissionDenied):
        cards.card_hold(card=card, by=driver, reason="part")
    row = cards.card_hold(
        card=card, by=coordinator, reason="decision", until=dt.date(2026, 6, 1), note="twin or single"
    )
    assert (row.state, row.held_for, row.held_note) == (CardState.HELD, HeldFor.DECISION, "twin or single")
    assert cards.card_take(card=card, by=mechanic).state == CardState.HELD
    row = cards.card_release(card=card, by=mechanic)
    assert (row.state, row.held_for, row.held_until) == (CardState.IN_HAND, "", None)
    with pytest.raises(ValidationError, match="not held"):
        cards.card_release(card=card, by=mechanic)


def test_the_job_of_somebody_who_left_is_taken_up(mechanic):
    card = CardFactory(state=CardState.HELD, held_for=HeldFor.OWNER_GONE, held_note="x")
    row = cards.card_take(card=card, by=mechanic)
    assert (row.state, row.held_for, row.held_note) == (CardState.IN_HAND, "", "")


def test_booking_in_with_a_plan(coordinator):
    first, card = CardFactory(), CardFactory()
    row = cards.card_book_in(card=card, by=coordinator, persons=2, after=[first])
    assert (row.state, row.persons, list(row.after.all())) == (CardState.BOOKED_IN, 2, [first])
    CardFactory(state=CardState.IN_HAND)
    taken = CardFactory(state=CardState.IN_HAND)
    with pytest.raises(ValidationError, match="in hand already"):
        cards.card_book_in(card=taken, by=coordinator)


def test_jobs_do_not_wait_for_each_other_in_a_circle(lead):
    a, b, c = CardFactory(), CardFactory(), CardFactory()
    cards.card_plan(card=b, by=lead, after=[a])
    cards.card_plan(card=c, by=lead, after=[b])
    with pytest.raises(ValidationError, match="before itself"):
        cards.card_plan(card=a, by=lead, after=[c])
    with pytest.raises(ValidationError, match="before itself"):
        cards.card_plan(card=a, by=lead, after=[a])
    assert not a.after.exists()


def test_a_second_signature_is_taken_off_by_the_lead_alone(mechanic, lead):
    card = CardFactory(second_area="brakes")
    with pytest.raises(PermissionDenied, match="Only the workshop lead"):
        cards.card_plan(card=card, by=mechanic, second_area="")
    assert cards.card_plan(card=card, by=lead, second_area="").second_area == ""


def test_consent(mechanic, curator, lead, vehicle):
    card = cards.card_open(by=mechanic, vehicle=vehicle, title="Stitch the roof", kind="fabric")
    assert card.needs_consent
    with pytest.raises(ValidationError, match="curator's consent"):
        cards.card_take(card=card, by=mechanic)
    with pytest.raises(ValidationError, match="not said yes"):
        cards.strip_add(card=card, by=mechanic, what="canvas")
    cards.card_hold(card=card, by=mechanic, reason="curator")
    with pytest.raises(PermissionDenied, match="Only the curator"):
        cards.consent_answer(card=card, by=lead, answer="yes", words="fine")
    with pytest.raises(ValidationError):
        cards.consent_answer(card=card, by=curator, answer="perhaps", words="hm")
    row = cards.consent_answer(card=card, by=curator, answer="no", words="show me the stitch first")
    assert (row.state, row.consent_answer) == (CardState.HELD, "no")
    row = cards.consent_answer(card=card, by=curator, answer="yes", words="linen thread, reversible")
    assert (row.state, row.consent_by) == (CardState.BOOKED_IN, curator)
    assert [s.kind for s in row.signatures.all()] == ["curator", "curator"]
    assert cards.card_take(card=card, by=mechanic).taken_by == mechanic


def test_an_ended_job_is_not_written_on(mechanic):
    card = CardFactory(state=CardState.PASSED)
    for act in (
        lambda: cards.card_take(card=card, by=mechanic),
        lambda: cards.strip_add(card=card, by=mechanic, what="x"),
        lambda: cards.card_hold(card=card, by=mechanic, reason="part"),
        lambda: cards.card_close(card=card, by=mechanic, outcome="done", words="x"),
    ):
        with pytest.raises(Conflict, match="has ended"):
            act()


def test_lists_of_jobs(mechanic, lead, vehicle):
    mine = CardFactory(taken_by=mechanic, state=CardState.IN_HAND)
    planned = CardFactory(suits=mechanic, vehicle=vehicle)
    CardFactory(suits=mechanic, taken_by=lead, state=CardState.IN_HAND)
    CardFactory(taken_by=mechanic, state=CardState.PASSED)
    put_off = CardFactory(suits=mechanic, state=CardState.CARRIED_FORWARD, vehicle=vehicle)
    assert list(queries.my_cards(mechanic)) == [mine, planned]
    assert set(queries.open_cards(vehicle)) == {planned, put_off}
    old = CardFactory(
        state=CardState.IN_HAND, opened_at=timezone.now(), touched_at=timezone.now() - dt.timedelta(days=22)
    )
    CardFactory(
        state=CardState.IN_HAND, opened_at=timezone.now(), touched_at=timezone.now() - dt.timedelta(days=20)
    )
    assert list(queries.untouched(timezone.now() - dt.timedelta(days=21))) == [old]


@pytest.mark.parametrize("count", [1, 3])
def test_lists_cost_the_same_however_long(count, mechanic, vehicle, django_assert_num_queries):
    for _ in range(count):
        card = CardFactory(vehicle=vehicle, taken_by=mechanic, defects=[DefectFactory(vehicle=vehicle)])
        PartNeedFactory(card=card)
    for rows in (queries.my_cards(mechanic), queries.open_cards(vehicle)):
        with django_assert_num_queries(4):
            seen = [
                (
                    c.vehicle.name,
                    c.taken_by.name,
                    c.subsystem,
                    [p.name for p in c.parts.all()],
                    len(c.defects.all()),
                )
                for c in rows
            ]
            assert seen == [(vehicle.name, mechanic.name, None, ["Fan belt"], 1)] * count


def test_every_act_says_its_version(mechanic):
    card = cards.card_take(card=CardFactory(), by=mechanic)
    cards.hours_add(card=card, by=mechanic, hours="1")
    lines = Act.objects.filter(subject_kind="maintenance.jobcard").order_by("pk")
    assert [line.detail["version"] for line in lines] == [2, 3]
