"""The fault slip: open to whoever stands at the vehicle, good for reporting and nothing else."""

from __future__ import annotations

import random
import re
import string

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import Act, Photo
from fleet.services.museum import museum_change
from fleet.services.vehicles import tag_key_renew
from maintenance.models import Defect, SlipPost, Tag
from maintenance.services.defects import defect_report
from maintenance.signals import work_changed
from maintenance.tags_link import receipt_token, token_of, vehicle_of
from tests.factories import VehicleFactory
from tests.maintenance.phone.conftest import picture

pytestmark = pytest.mark.django_db
KEY = "55555555-aaaa-bbbb-cccc-000000000001"
SAID = {
    "key": KEY,
    "does": "leak",
    "words": "Ladder creeps down, oil on the turntable.",
    "move": "no",
    "stopped": "yes",
    "name": "Asta",
}


@pytest.fixture
def tag(museum, vehicle) -> str:
    return reverse("maintenance:slip", args=[token_of(vehicle)])


def test_a_fresh_browser_gets_the_four_questions_and_the_cookie(tag, client, vehicle, administrator):
    museum_change(by=administrator, slip_note="Yard telephone 204.")
    answer = client.get(tag)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "csrftoken" in answer.cookies
    assert (
        page.index("Stop, get clear and shout") < page.index("What does it do?") < page.index("in your words")
    )
    assert page.index("in your words") < page.index("safe to move?") < page.index("Your name")
    assert "Yard telephone 204." in page
    assert "Thistle" in page


def test_it_shows_number_and_name_and_nothing_else(tag, client, vehicle, lead):
    defect_report(vehicle=vehicle, by=lead, words="Gearbox whines in second")
    vehicle.notes, vehicle.make, vehicle.place = "secret note", "Brand of maker", "Shed 3"
    vehicle.save()
    page = client.get(tag).content.decode()
    for hidden in ("whines", "secret note", "Brand of maker", "Shed 3", "Berit", vehicle.tag_key + '"'):
        assert hidden not in page


def test_handed_in_it_lands_with_the_lead(tag, vehicle, django_capture_on_commit_callbacks):
    browser = Client(enforce_csrf_checks=True)
    page = browser.get(tag).content.decode()
    csrf = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page).group(1)
    told = []
    work_changed.connect(
        lambda **words: told.append((words["act"], words["vehicle_id"])), weak=False, dispatch_uid="t"
    )
    with django_capture_on_commit_callbacks(execute=True):
        answer = browser.post(tag, {**SAID, "csrfmiddlewaretoken": csrf, "photo": picture()})
    work_changed.disconnect(dispatch_uid="t")
    row = Defect.objects.get()
    assert answer.status_code == 302
    assert (row.vehicle, row.source, row.state, row.reported_by, row.reporter_name) == (
        vehicle,
        "slip",
        "reported",
        None,
        "Asta",
    )
    assert row.title == "Not safe to move. Leak: Ladder creeps down, oil on the turntable."
    assert row.answers == {"What it does": "Leak", "Stopped at once": "Yes, I stopped", "Safe to move": "No"}
    assert row.photos.count() == 1
    assert told == [("defect.report", vehicle.pk)]
    assert not Tag.objects.exists()  # nothing is hung by itself
    receipt = browser.get(answer.url).content.decode()
    assert row.serial in receipt
    assert "Thank you, Asta." in receipt
    assert "Leave it where it stands" in receipt


def test_without_the_cookie_nothing_is_taken(tag):
    assert Client(enforce_csrf_checks=True).post(tag, SAID).status_code == 403
    assert not Defect.objects.exists()


def test_one_key_is_one_slip(tag, client):
    first, second = client.post(tag, SAID), client.post(tag, SAID)
    assert (first.status_code, second.status_code) == (302, 302)
    assert Defect.objects.count() == 1
    assert SlipPost.objects.count() == 1
    changed = client.post(tag, {**SAID, "words": "Something else"})
    assert changed.status_code == 409
    assert "Something else" in changed.content.decode()
    assert Defect.objects.count() == 1


def test_the_name_never_reaches_the_act_book(tag, client):
    client.post(tag, {**SAID, "name": "Osric Vane"})
    assert Defect.objects.get().reporter_name == "Osric Vane"
    assert "Osric" not in str(list(Act.objects.values()))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"move": ""}, "Say whether it is safe to move"),
        ({"does": "", "words": " "}, "One of the two is enough"),
        ({"does": "explodes"}, "Choose one of the answers."),
        ({"move": "perhaps"}, "Select a valid choice"),
        ({"words": "x" * 2001}, "at most 2000"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_written_stays(tag, client, change, said):
    answer = client.post(tag, {**SAID, **change})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert 'value="Asta"' in page
    assert f'value="{KEY}"' in page
    assert (Defect.objects.count(), SlipPost.objects.count()) == (0, 0)


def test_one_question_is_enough(tag, client):
    client.post(tag, {"key": KEY, "does": "noise", "move": "unsure"})
    assert Defect.objects.get().title == "Noise"


@pytest.mark.parametrize(
    "data",
    [b"<svg onload=x>", b"GIF89a" + b"0" * 60, b"MZ" + b"\0" * 99, picture().read()[:50], b"PK\x03\x04"],
)
def test_hostile_photographs_are_refused(tag, client, data):
    answer = client.post(tag, {**SAID, "photo": SimpleUploadedFile("x.jpg", data, "image/jpeg")})
    assert answer.status_code == 422
    assert "Ladder creeps down" in answer.content.decode()
    assert (Defect.objects.count(), Photo.objects.count()) == (0, 0)


def test_the_same_photograph_twice_is_kept_once(tag, client):
    client.post(tag, {**SAID, "photo": picture()})
    client.post(tag, {**SAID, "key": KEY.replace("0001", "0002"), "photo": picture()})
    assert (Defect.objects.count(), Photo.objects.count()) == (2, 1)


def test_a_lost_tag_cannot_flood_the_workshop(tag, client, settings, vehicle, time_machine):
    settings.SLIP_POSTS_PER_HOUR = 3
    other = VehicleFactory(number="Q 1")
    time_machine.move_to(timezone.now(), tick=False)
    for place in range(5):
        answer = client.post(tag, {**SAID, "key": f"{KEY[:-1]}{place}"})
        assert answer.status_code == (302 if place < 3 else 429)
    page = answer.content.decode()
    assert "Many slips came from this tag within the hour" in page
    assert "Ladder creeps down" in page
    assert Defect.objects.count() == 3
    assert client.post(tag, {**SAID, "key": f"{KEY[:-1]}0"}).status_code == 302  # a repeat is no new slip
    elsewhere = reverse("maintenance:slip", args=[token_of(other)])
    assert client.post(elsewhere, {**SAID, "key": f"{KEY[:-1]}8"}).status_code == 302
    time_machine.shift(3601)
    assert client.post(tag, {**SAID, "key": f"{KEY[:-1]}9"}).status_code == 302


def test_too_many_are_refused_before_a_photograph_is_opened(tag, client, settings):
    settings.SLIP_POSTS_PER_HOUR = 0
    assert client.post(tag, {**SAID, "photo": picture()}).status_code == 429
    assert not Photo.objects.exists()


def test_a_renewed_code_ends_every_tag_printed_before(tag, client, vehicle, lead):
    tag_key_renew(by=lead, vehicle=vehicle)
    for answer in (client.get(tag), client.post(tag, SAID)):
        assert answer.status_code == 404
        assert "This tag is no longer in use" in answer.content.decode()
        assert "Thistle" not in answer.content.decode()
    assert not Defect.objects.exists()
    vehicle.refresh_from_db()
    assert client.get(reverse("maintenance:slip", args=[token_of(vehicle)])).status_code == 200


def test_ten_thousand_mutations_open_nothing(museum, vehicle):
    VehicleFactory(number="Q 1")
    good = token_of(vehicle)
    dice = random.Random(7)
    letters = string.ascii_letters + string.digits + "-_.:é\0 "
    for _ in range(10_000):
        text = list(good)
        for _ in range(dice.randint(1, 3)):
            at = dice.randrange(len(text))
            turn = dice.randrange(3)
            text[at : at + (turn != 1)] = [dice.choice(letters)] if turn else []
        bad = "".join(text)
        assert bad == good or vehicle_of(bad) is None
    assert vehicle_of(good) == vehicle
    assert vehicle_of(f"{vehicle.tag_key}.{good.split('.')[1][::-1]}") is None
    assert vehicle_of(good * 3) is None


def test_a_token_of_one_vehicle_is_not_one_of_another(museum, vehicle):
    other = VehicleFactory(number="Q 1")
    mixed = f"{other.tag_key}.{token_of(vehicle).rsplit('.', 1)[1]}"
    assert vehicle_of(mixed) is None
    assert vehicle_of(receipt_token(1)) is None


def test_a_receipt_is_for_its_vehicle_and_a_day(tag, client, vehicle, lead, time_machine):
    mine = defect_report(vehicle=vehicle, by=None, words="Oil under it")
    other = defect_report(vehicle=VehicleFactory(number="Q 1"), by=lead, words="Somebody else's words")
    assert "Oil under it" in client.get(tag, {"slip": receipt_token(mine.pk)}).content.decode()
    shown = client.get(tag, {"slip": receipt_token(other.pk)}).content.decode()
    assert "Somebody else" not in shown
    assert "Oil under it" not in client.get(tag, {"slip": str(mine.pk)}).content.decode()
    time_machine.move_to(timezone.now(), tick=False)
    old = receipt_token(mine.pk)
    time_machine.shift(25 * 3600)
    assert "Oil under it" not in client.get(tag, {"slip": old}).content.decode()


def test_it_opens_nothing_else(tag, client, vehicle):
    client.post(tag, SAID)
    for name, args in [
        ("card", [1]),
        ("my_jobs", []),
        ("report", [vehicle.code]),
        ("scan", []),
        ("labels", [vehicle.code]),
    ]:
        assert client.get(reverse(f"maintenance:{name}", args=args)).status_code in {302, 404}
    row = Defect.objects.get()
    assert (
        client.post(
            tag, {**SAID, "key": KEY[:-1] + "5", "severity": "1", "state": "cleared", "vehicle": "2"}
        ).status_code
        == 302
    )
    second = Defect.objects.exclude(pk=row.pk).get()
    assert (second.state, second.severity, second.vehicle) == ("reported", None, vehicle)


def test_looking_never_writes(tag, client):
    client.get(tag)
    client.head(tag)
    assert (
        SlipPost.objects.count(),
        Defect.objects.count(),
        Act.objects.filter(act="defect.report").count(),
    ) == (0, 0, 0)


def test_likely_the_same_is_noted_for_the_lead(tag, client, vehicle, lead):
    there = defect_report(vehicle=vehicle, by=lead, words="Oil drips from the ram")
    client.post(tag, SAID)
    row = Defect.objects.exclude(pk=there.pk).get()
    assert [note.text for note in row.notes.all()] == [
        f"Perhaps known already: {there.serial} Oil drips from the ram."
    ]


def test_signed_in_it_carries_the_name(login, museum, vehicle, driver):
    url = reverse("maintenance:report", args=[vehicle.code])
    browser = login(driver)
    page = browser.get(url).content.decode()
    assert "Rufus Penn" in page
    assert "Your name" not in page
    answer = browser.post(url, {**SAID, "name": "Somebody Else"})
    row = Defect.objects.get()
    assert (row.reported_by, row.reporter_name, row.source) == (driver, "Rufus Penn", "person")
    assert row.serial in browser.get(answer.url).content.decode()
    assert SlipPost.objects.count() == 0


def test_signed_in_what_is_known_is_shown_first(login, museum, vehicle, driver, lead):
    defect_report(vehicle=vehicle, by=lead, words="Oil drips from the ram")
    page = login(driver).get(reverse("maintenance:report", args=[vehicle.code])).content.decode()
    assert "Oil drips from the ram" in page


def test_a_receipt_is_not_for_another_who_is_signed_in(login, museum, vehicle, driver, mechanic):
    row = defect_report(vehicle=vehicle, by=driver, words="Only the driver wrote this")
    url = reverse("maintenance:report", args=[vehicle.code])
    page = login(mechanic).get(url, {"slip": receipt_token(row.pk)}).content.decode()
    assert "Handed in" not in page
