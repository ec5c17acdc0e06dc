"""The second person, what keeps its hands off, a vehicle held as found, paper, and figures in the gauge's own unit."""

from __future__ import annotations

import io

import pytest
from django.urls import reverse

from maintenance.models import JobCard, JobPhoto, Reading, UseCheck
from maintenance.phone.manifest import pages_of
from maintenance.services import cards, fabric, incidents, readings
from maintenance.services.which_part import which_result
from tests.factories import DefectFactory
from tests.maintenance.phone.conftest import picture
from tests.maintenance.which.conftest import brakes

__all__ = ["brakes"]

pytestmark = pytest.mark.django_db


def for_two(job: JobCard) -> JobCard:
    JobCard.objects.filter(pk=job.pk).update(persons=2)
    return JobCard.objects.get(pk=job.pk)


def test_a_person_says_i_am_the_second_and_no_more(phone, job, mechanic, lead):
    card = for_two(job)
    cards.card_take(card=card, by=mechanic)
    first, other = phone(mechanic, card), phone(lead, card)
    assert "nobody yet" in first.look()
    assert "I am the second" not in first.look()  # who has the job is not its second
    assert "I am the second" in other.look()
    assert other.press("second").status_code == 302
    assert JobCard.objects.get(pk=card.pk).second == lead
    assert f"<b>Second person:</b> {lead.name}" in first.look()
    assert "I am not the second any more" in other.look()
    assert first.press("not_second").status_code == 409
    assert other.press("not_second").status_code == 302
    assert JobCard.objects.get(pk=card.pk).second is None


def test_a_job_for_one_asks_for_no_second(phone, job, mechanic):
    assert "Second person" not in phone(mechanic, job).look()


def test_who_has_the_job_is_refused_as_its_second(phone, job, mechanic):
    card = for_two(job)
    cards.card_take(card=card, by=mechanic)
    assert phone(mechanic, card).press("second").status_code == 422
    assert JobCard.objects.get(pk=card.pk).second is None


def test_hands_off_is_a_caution_on_its_system_and_on_no_other(phone, job, mechanic, cast, vehicle):
    systems = {code: vehicle.subsystems.get(code=code) for code in ("BRK", "ENG")}
    for code, name in (("BRK", "Cast drum, first paint"), ("ENG", "Brass cover")):
        fabric.fabric_part_set(
            by=cast.curator, vehicle=vehicle, name=name, subsystem=systems[code], standing="original",
            hands_off=True, note="Ask first.",
        )  # fmt: skip
    page = phone(mechanic, job).look()
    assert "<b>CAUTION</b> Hands off: Cast drum, first paint, original. Do not polish" in page
    assert "Brass cover" not in page


def test_held_as_found_shows_nothing_to_do_but_a_photograph(phone, job, mechanic, lead, vehicle):
    cards.card_take(card=job, by=mechanic)
    incidents.incident_report(
        by=mechanic, kind="near miss", vehicle=vehicle, place="Yard", what="Rolled back a metre"
    )
    hand = phone(mechanic, job)
    page = hand.look()
    assert "Held as found: touch nothing" in page
    assert [act for act in ("step", "off", "reading", "close", "refit", "hand_back", "test", "part", "found")
            if f'name="act" value="{act}"' in page] == []  # fmt: skip
    assert 'name="act" value="photo"' in page
    assert (
        hand.press("reading", target=str(job.measures.get().pk), value_0="3.4", moment="as found").status_code
        == 422
    )
    assert hand.press("close", outcome="not run", words="x").status_code == 422
    assert Reading.objects.count() == 0
    assert hand.press("photo", photo=picture(), moment="as found").status_code == 302
    assert JobPhoto.objects.count() == 1


def test_the_card_leads_to_a_photograph_of_the_paper(phone, job, mechanic, driver):
    link = f'href="{reverse("maintenance:paper_new", args=[job.vehicle.code])}?card={job.pk}"'
    assert link in phone(mechanic, job).look()


def test_what_was_reported_on_this_system_lately_is_said_before_it_is_reported_again(
    phone, job, mechanic, vehicle
):
    DefectFactory(vehicle=vehicle, subsystem=vehicle.subsystems.get(code="BRK"), title="Pedal sinks")
    DefectFactory(vehicle=vehicle, subsystem=None, title="A smell of something")
    DefectFactory(vehicle=vehicle, subsystem=vehicle.subsystems.get(code="ENG"), title="Knocks when cold")
    page = phone(mechanic, job).look()
    assert "Pedal sinks" in page
    assert "A smell of something" in page
    assert "Knocks when cold" not in page


@pytest.fixture
def pressure(lead, vehicle, job):
    row = readings.measure_add(
        by=lead, vehicle=vehicle, system="BRK", name="Line pressure", judgement="min", low="2", unit="bar", source="House rule",
    )  # fmt: skip
    cards.card_plan(card=job, by=lead, measures=[*job.measures.all(), row])
    return row


@pytest.mark.parametrize(
    ("typed", "head"),
    [
        ("30 psi", "Within, near the limit"),
        ("28 psi", "Past the limit"),
        ("2,5", "Within the limit"),
        ("30 V", "Not sure"),
    ],
)
def test_the_verdict_takes_the_unit_of_the_gauge(login, mechanic, job, pressure, typed, head):
    url = reverse("maintenance:verdict", args=[job.pk, pressure.pk])
    assert head in login(mechanic).get(url, {"value_0": typed}).content.decode()


def test_a_reading_from_the_phone_in_psi_is_kept_in_bar(phone, job, mechanic, pressure):
    answer = phone(mechanic, job).press(
        "reading", target=str(pressure.pk), value_0="30 psi", moment="as found"
    )
    assert answer.status_code == 302
    row = Reading.objects.get()
    assert row.values == ["2.068427"]
    assert "30 psi" in row.note


def test_a_use_check_takes_three_photographs_and_refuses_what_is_none(login, mechanic, vehicle, museum):
    url, day = reverse("maintenance:use_check", args=[vehicle.code]), "2027-06-12"
    sent = {"kind": "after use", "for_day": day, "nil_defect": "on", "key": "k" * 20}
    shots = {f"photo_{place}": picture((place * 60, 20, 90)) for place in (1, 2, 3)}
    assert login(mechanic).post(url, {**sent, **shots}).status_code == 302
    assert UseCheck.objects.get().photos.count() == 3
    bad = io.BytesIO(b"<svg/>")
    bad.name = "p.jpg"
    answer = login(mechanic).post(url, {**sent, "key": "l" * 20, "for_day": "2027-06-13", "photo_2": bad})
    assert answer.status_code == 422
    assert UseCheck.objects.filter(for_day="2027-06-13").exists() is False


def test_a_phone_keeps_the_open_sheets_of_which_part(brakes, cast):
    address = reverse("maintenance:which_part", args=[brakes.sheet.pk])
    before = pages_of(cast.mechanic)["pages"][address]
    which_result(by=cast.mechanic, sheet=brakes.sheet, test="T1", result="alike")
    assert pages_of(cast.mechanic)["pages"][address] != before
    assert address not in pages_of(cast.driver)["pages"]
