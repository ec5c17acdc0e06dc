import datetime as dt

import pytest
from django.core.cache import cache
from django.core.exceptions import PermissionDenied, ValidationError
from django.utils import timezone

from fleet.enums import CompetenceKind, InspectArea
from fleet.models import Act, Competence, Person, SignIn, WorkPattern
from fleet.services.days import day_away, day_in, pattern_end, pattern_set, sign_in_record
from fleet.services.museum import museum_change
from fleet.services.people import (
    code_is_stale,
    competence_set,
    one_time_code,
    password_set,
    person_add,
    person_change,
    person_leave,
    pin_set,
)
from fleet.services.proof import proof_check
from maintenance.enums import CardState, HeldFor
from tests.factories import CardFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def empty_cache():
    cache.clear()


def test_a_new_person_cannot_sign_in_before_a_code(administrator):
    person = person_add(
        by=administrator, name="Hilde Rowe", code="P20", is_mechanic=True, skills=["brakes", "petrol"]
    )
    assert (person.username, person.roles, person.has_usable_password()) == ("p20", ("mechanic",), False)
    assert [str(skill) for skill in person.skills.all()] == ["brakes", "petrol"]
    assert Act.objects.get(act="person.add").by == administrator


def test_only_the_administrator_adds_people(cast):
    for role in ("driver", "mechanic", "lead", "coordinator", "manager", "curator"):
        with pytest.raises(PermissionDenied, match="Only the administrator may add a person"):
            person_add(by=getattr(cast, role), name="X Y", code="P21")
    assert not Person.objects.filter(code="P21").exists()


def test_fields_that_are_not_for_setting_are_refused(administrator):
    with pytest.raises(ValidationError, match="is_superuser"):
        person_add(by=administrator, name="X Y", code="P22", is_superuser=True)
    with pytest.raises(ValidationError, match="pin"):
        person_change(by=administrator, person=administrator, pin="1")


def test_a_code_is_used_once_and_a_password_follows(administrator, mechanic):
    code = one_time_code(by=administrator, person=mechanic)
    mechanic.refresh_from_db()
    assert mechanic.check_password(code)
    assert mechanic.must_change_password
    assert not code_is_stale(mechanic, timezone.now() + dt.timedelta(days=13))
    assert code_is_stale(mechanic, timezone.now() + dt.timedelta(days=15))
    with pytest.raises(ValidationError, match="Choose another"):
        password_set(person=mechanic, new=code)
    with pytest.raises(ValidationError) as short:
        password_set(person=mechanic, new="short")
    assert "new" in short.value.message_dict
    person = password_set(person=mechanic, new="three wet herons")
    assert (person.must_change_password, person.code_until) == (False, None)
    assert person.check_password("three wet herons")
    assert not code_is_stale(person, timezone.now() + dt.timedelta(days=99))
    assert code not in str(list(Act.objects.values_list("detail", flat=True)))


def test_leaving_ends_days_and_lets_go_of_jobs(administrator, mechanic, lead):
    held = CardFactory(taken_by=mechanic, state=CardState.IN_HAND)
    ended = CardFactory(taken_by=mechanic, state=CardState.PASSED)
    others = CardFactory(taken_by=lead, state=CardState.IN_HAND)
    planned = CardFactory(suits=mechanic)
    WorkPattern.objects.create(person=mechanic, weekday=5)
    day_in(by=mechanic, person=mechanic, day=dt.date(2027, 3, 1))
    person = person_leave(by=administrator, person=mechanic, day=dt.date(2026, 5, 4))
    assert (person.is_active, person.left_on, person.has_usable_password()) == (
        False,
        dt.date(2026, 5, 4),
        False,
    )
    assert not person.patterns.exists()
    assert not person.day_exceptions.exists()
    held.refresh_from_db()
    assert (held.state, held.held_for, held.taken_by) == (CardState.HELD, HeldFor.OWNER_GONE, None)
    assert held.held_note == "Asta Finch had it and left on 4 May 2026."
    for card, holder in ((ended, mechanic), (others, lead)):
        card.refresh_from_db()
        assert card.taken_by == holder
    planned.refresh_from_db()
    assert planned.suits is None
    with pytest.raises(ValidationError, match="left on 4 May 2026 already"):
        person_leave(by=administrator, person=mechanic)


def test_somebody_must_remain_who_looks_after_people(administrator):
    with pytest.raises(ValidationError, match="Nobody would be left"):
        person_leave(by=administrator, person=administrator)
    with pytest.raises(ValidationError, match="Nobody would be left"):
        person_change(by=administrator, person=administrator, is_administrator=False)
    administrator.refresh_from_db()
    assert administrator.is_active
    assert administrator.is_administrator


def test_what_moved_is_written_down(administrator, mechanic):
    person_change(by=administrator, person=mechanic, telephone="12 34", skills=["tracks"])
    assert Act.objects.get(act="person.change").detail == {
        "telephone": ["", "12 34"],
        "skills": ["", "tracks"],
    }
    person_change(by=administrator, person=mechanic, telephone="12 34")
    assert Act.objects.filter(act="person.change").count() == 1


def test_a_competence_set_again_moves_its_end(lead, driver, vehicle):
    for last in (dt.date(2026, 6, 1), dt.date(2027, 6, 1)):
        competence_set(by=lead, person=driver, kind=CompetenceKind.DRIVE, vehicle=vehicle, valid_through=last)
    assert list(Competence.objects.values_list("valid_through", "checked_by")) == [
        (dt.date(2027, 6, 1), "Berit Holm")
    ]


def test_a_competence_needs_its_vehicle_or_area(lead, driver):
    with pytest.raises(ValidationError) as no_vehicle:
        competence_set(by=lead, person=driver, kind=CompetenceKind.DRIVE)
    assert "vehicle" in no_vehicle.value.message_dict
    with pytest.raises(ValidationError) as no_area:
        competence_set(by=lead, person=driver, kind=CompetenceKind.INSPECT)
    assert "area" in no_area.value.message_dict


def test_nobody_authorises_themselves_to_pass_work(lead, manager):
    with pytest.raises(PermissionDenied, match="Nobody authorises themselves"):
        competence_set(by=lead, person=lead, kind=CompetenceKind.INSPECT, area=InspectArea.BRAKES)
    competence_set(by=manager, person=lead, kind=CompetenceKind.INSPECT, area=InspectArea.BRAKES)
    assert lead.competences.count() == 1


@pytest.mark.parametrize(
    ("pin", "said"),
    [
        ("12345", "6 to 12 digits"),
        ("12a456", "6 to 12 digits"),
        ("1234567890123", "6 to 12 digits"),
        ("111111", "too easy"),
        ("123456", "too easy"),
        ("987654", "too easy"),
        ("890123", "too easy"),
    ],
)
def test_poor_pins_are_refused(lead, pin, said):
    with pytest.raises(ValidationError, match=said):
        pin_set(by=lead, pin=pin)


def test_proof_by_password_or_pin(lead, password):
    assert proof_check(person=lead, proof=password) == "password"
    person = pin_set(by=lead, pin="271828")
    assert "271828" not in person.pin
    assert proof_check(person=person, proof="271828") == "PIN"
    person = pin_set(by=lead, pin="")
    with pytest.raises(ValidationError, match="not the password or PIN of Berit Holm"):
        proof_check(person=person, proof="271828")
    with pytest.raises(ValidationError):
        proof_check(person=person, proof="")


def test_five_wrong_proofs_then_a_wait_even_for_the_right_one(lead, mechanic, password):
    for _ in range(5):
        with pytest.raises(ValidationError, match="not the password"):
            proof_check(person=lead, proof="guess")
    with pytest.raises(ValidationError, match="Too many wrong tries"):
        proof_check(person=lead, proof=password)
    assert proof_check(person=mechanic, proof=password) == "password"


def test_a_code_on_paper_proves_nothing(administrator, lead):
    code = one_time_code(by=administrator, person=lead)
    lead.refresh_from_db()
    with pytest.raises(ValidationError):
        proof_check(person=lead, proof=code)


def test_days(cast):
    row = pattern_set(
        by=cast.mechanic, person=cast.mechanic, weekday=5, every_weeks=2, counted_from=dt.date(2026, 5, 2)
    )
    assert row.holds_on(dt.date(2026, 5, 16))
    assert not row.holds_on(dt.date(2026, 5, 9))
    pattern_set(by=cast.coordinator, person=cast.mechanic, weekday=5)
    assert cast.mechanic.patterns.get().every_weeks == 1
    day_away(by=cast.mechanic, person=cast.mechanic, day=dt.date(2026, 5, 9), reason="wedding")
    day_in(by=cast.coordinator, person=cast.mechanic, day=dt.date(2026, 5, 9))
    assert [(e.is_in, e.reason) for e in cast.mechanic.day_exceptions.all()] == [(True, "")]
    with pytest.raises(PermissionDenied, match="Only Asta Finch or the coordinator"):
        day_away(by=cast.driver, person=cast.mechanic, day=dt.date(2026, 5, 10))
    pattern_end(by=cast.mechanic, person=cast.mechanic, weekday=5)
    with pytest.raises(ValidationError, match="no pattern on that day"):
        pattern_end(by=cast.mechanic, person=cast.mechanic, weekday=5)


def test_every_second_week_needs_its_first_day(mechanic):
    with pytest.raises(ValidationError) as caught:
        pattern_set(by=mechanic, person=mechanic, weekday=5, every_weeks=2)
    assert "counted_from" in caught.value.message_dict


def test_who_came(cast):
    day = dt.date(2026, 5, 2)
    sign_in_record(by=cast.lead, person=cast.mechanic, day=day, came=False)
    sign_in_record(by=cast.mechanic, person=cast.mechanic, day=day, arrived=dt.time(10), left=dt.time(15))
    assert list(SignIn.objects.values_list("came", "arrived")) == [(True, dt.time(10))]
    with pytest.raises(ValidationError, match="Left before arriving"):
        sign_in_record(by=cast.lead, person=cast.mechanic, day=day, arrived=dt.time(15), left=dt.time(10))
    with pytest.raises(ValidationError, match="has no times"):
        sign_in_record(by=cast.lead, person=cast.mechanic, day=day, came=False, arrived=dt.time(15))
    with pytest.raises(PermissionDenied):
        sign_in_record(by=cast.driver, person=cast.mechanic, day=day)


def test_the_museum_is_one_row(administrator, lead):
    museum_change(by=administrator, name="Tollmarsh Sheds")
    row = museum_change(by=administrator, thin_at=6)
    assert (row.name, row.thin_at) == ("Tollmarsh Sheds", 6)
    with pytest.raises(ValidationError) as caught:
        museum_change(by=administrator, doubtful_from=80)
    assert "doubtful_from" in caught.value.message_dict
    with pytest.raises(ValidationError) as zone:
        museum_change(by=administrator, time_zone="Moon/Sea")
    assert "time_zone" in zone.value.message_dict
    with pytest.raises(PermissionDenied):
        museum_change(by=lead, thin_at=1)


def test_who_has_left_is_given_no_code(administrator, mechanic):
    person_leave(by=administrator, person=mechanic)
    with pytest.raises(ValidationError, match="has left"):
        one_time_code(by=administrator, person=mechanic)
