import datetime as dt
import re

import pytest
from django.core import signing
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from fleet.enums import CompetenceKind
from fleet.models import Act, Competence, Person
from tests.factories import CompetenceFactory, PersonFactory

pytestmark = pytest.mark.django_db
PARTICULARS = {
    "name": "Hilde Rowe", "code": "P20", "username": "", "email": "", "telephone": "", "engagement": "volunteer",
    "is_mechanic": "on", "more_skills": "brakes, petrol", "day_start": "09:30", "day_end": "15:30",
    "bench_hours": "4.25", "turn_up_in_100": "80",
}  # fmt: skip


@pytest.fixture(autouse=True)
def empty_cache():
    cache.clear()


def test_adding_a_person(login, administrator):
    answer = login(administrator).post("/people/add/", PARTICULARS)
    person = Person.objects.get(code="P20")
    assert (answer.status_code, answer.url) == (302, f"/people/{person.pk}/")
    assert (person.username, person.roles, person.worked_quarters, str(person.turn_up)) == (
        "p20",
        ("mechanic",),
        17,
        "0.80",
    )
    assert [str(skill) for skill in person.skills.all()] == ["brakes", "petrol"]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"code": "P 20"}, "Letters, digits"),
        ({"day_end": "09:00"}, "must end after it starts"),
        ({"bench_hours": "20"}, "quarter-hours lie between"),
        ({"bench_hours": "4.1"}, "In quarters of an hour"),
        ({"code": "administrator"}, "already exists"),
        ({"name": ""}, "This field is required"),
    ],
)
def test_a_person_that_is_refused_keeps_what_was_typed(login, administrator, typed, said):
    page = login(administrator).post("/people/add/", {**PARTICULARS, **typed})
    assert page.status_code == 422
    assert said in page.content.decode()
    assert 'value="brakes, petrol"' in page.content.decode()
    assert Person.objects.count() == 1


def shown_form(browser, address: str) -> dict[str, str]:
    """What a browser would hand in if nothing was touched."""
    form = browser.get(address).context["form"]
    filled = {}
    for bound in form:
        value = bound.value()
        if value is True:
            filled[bound.html_name] = "on"
        elif value is not None and value is not False and value not in ([], ""):
            filled[bound.html_name] = value
    return filled


def test_a_page_handed_in_untouched_changes_nothing(login, administrator, mechanic):
    browser, address = login(administrator), f"/people/{mechanic.pk}/change/"
    before = Act.objects.count()
    assert browser.post(address, shown_form(browser, address)).status_code == 302
    assert Act.objects.count() == before


def test_the_second_of_two_editors_is_told_what_the_first_wrote(login, administrator, mechanic):
    one, two, address = login(administrator), login(administrator), f"/people/{mechanic.pk}/change/"
    first, second = shown_form(one, address), shown_form(two, address)
    assert one.post(address, {**first, "telephone": "0123"}).status_code == 302
    page = two.post(address, {**second, "email": "asta@example.org"})
    text = page.content.decode()
    assert page.status_code == 422
    assert "Telephone was “” and is now “0123”" in text
    assert "Fabian Reed" in text
    assert 'value="asta@example.org"' in text
    mechanic.refresh_from_db()
    assert (mechanic.telephone, mechanic.email) == ("0123", "")
    again = {**second, "email": "asta@example.org", "seen": page.context["form"]["seen"].value()}
    assert two.post(address, again).status_code == 302
    mechanic.refresh_from_db()
    assert mechanic.email == "asta@example.org"


def test_what_was_seen_cannot_be_made_up(login, administrator, mechanic):
    browser, address = login(administrator), f"/people/{mechanic.pk}/change/"
    form = shown_form(browser, address)
    Person.objects.filter(pk=mechanic.pk).update(telephone="0999")
    forged = signing.dumps({"telephone": "0999"}, salt="another", compress=True)
    assert browser.post(address, {**form, "seen": form["seen"], "telephone": "1"}).status_code == 422
    # an unreadable mark is no mark: the last word wins, as without one
    assert browser.post(address, {**form, "seen": forged, "telephone": "1"}).status_code == 302


def test_the_last_administrator_stays(login, administrator):
    browser, address = login(administrator), f"/people/{administrator.pk}/change/"
    form = shown_form(browser, address)
    del form["is_administrator"]
    page = browser.post(address, form)
    assert page.status_code == 422
    assert "Name another administrator first" in page.content.decode()


def test_extra_fields_are_not_taken(login, administrator, mechanic):
    browser, address = login(administrator), f"/people/{mechanic.pk}/change/"
    browser.post(
        address,
        {**shown_form(browser, address), "is_superuser": "on", "is_active": "", "pin": "9", "password": "x"},
    )
    fresh = Person.objects.get(pk=mechanic.pk)
    assert (fresh.is_superuser, fresh.is_active, fresh.pin, fresh.password) == (
        False,
        True,
        "",
        mechanic.password,
    )


def test_the_code_is_shown_once_on_a_page_to_print(login, administrator, mechanic):
    browser, address = login(administrator), f"/people/{mechanic.pk}/code/"
    assert browser.get(address).status_code == 200
    mechanic.refresh_from_db()
    assert not mechanic.must_change_password
    page = browser.post(address)
    code = re.search(r"[A-Z2-9]{4}-[A-Z2-9]{4}-[A-Z2-9]{4}", page.content.decode())[0]
    mechanic.refresh_from_db()
    assert mechanic.check_password(code)
    assert "no-store" in page["Cache-Control"]
    assert code not in browser.get(address).content.decode()


def test_no_code_for_those_who_left(login, administrator, mechanic):
    Person.objects.filter(pk=mechanic.pk).update(is_active=False, left_on=dt.date(2026, 1, 1))
    page = login(administrator).post(f"/people/{mechanic.pk}/code/")
    assert page.status_code == 422
    assert "has left" in page.content.decode()


def test_leaving_shuts_the_sign_in(login, administrator, mechanic):
    browser = login(mechanic)
    assert (
        login(administrator).post(f"/people/{mechanic.pk}/leave/", {"day": "2026-05-31"}).status_code == 302
    )
    mechanic.refresh_from_db()
    assert (mechanic.left_on, mechanic.is_active) == (dt.date(2026, 5, 31), False)
    assert browser.get("/me/").status_code == 302
    page = login(administrator).post(f"/people/{mechanic.pk}/leave/", {"day": ""})
    assert page.status_code == 422
    assert "already" in page.content.decode()


def test_the_list_shows_those_here_and_those_who_left(login, coordinator, mechanic):
    PersonFactory(name="Old Hand", left_on=dt.date(2026, 1, 1), is_active=False)
    browser = login(coordinator)
    here, gone = browser.get("/people/").content.decode(), browser.get("/people/?who=left").content.decode()
    assert ("Asta Finch" in here, "Old Hand" in here) == (True, False)
    assert ("Asta Finch" in gone, "Old Hand" in gone, "left on 1 January 2026" in gone) == (False, True, True)
    only = browser.get("/people/?who=all&role=mechanic").content.decode()
    assert ("Asta Finch" in only, "Old Hand" in only) == (True, False)
    assert browser.get("/people/?who=%00&role=__class__").status_code == 200


@pytest.mark.parametrize("address", ["/people/?who=all", "/workshop/days/"])
def test_as_many_queries_for_three_people_as_for_one(login, coordinator, museum, address):
    browser = login(coordinator)
    counts = []
    for more in (1, 2):
        for _ in range(more):
            PersonFactory().patterns.create(weekday=timezone.localdate().weekday())
        browser.get(address)
        counts.append(_count(browser, address))
    assert counts[0] == counts[1] <= 8


def _count(browser, address) -> int:
    with CaptureQueriesContext(connection) as seen:
        assert browser.get(address).status_code == 200
    return len(seen)


def test_a_check_is_written_down_and_moved(login, lead, driver, vehicle):
    browser, address = login(lead), f"/people/{driver.pk}/checked/"
    typed = {"kind": "drive", "vehicle": vehicle.pk, "area": "", "valid_through": "2027-04-30"}
    assert browser.post(address, typed).status_code == 302
    browser.post(address, {**typed, "valid_through": "2028-04-30"})
    row = Competence.objects.get()
    assert (row.kind, row.vehicle, row.valid_through, row.checked_by) == (
        "drive",
        vehicle,
        dt.date(2028, 4, 30),
        "Berit Holm",
    )
    again = browser.get(f"{address}?kind=drive&vehicle={vehicle.pk}")
    assert again.context["form"]["vehicle"].value() == str(vehicle.pk)


@pytest.mark.parametrize(
    ("typed", "said"), [({"kind": "drive"}, "Say which vehicle"), ({"kind": "inspect"}, "for which area")]
)
def test_a_check_must_say_on_what(login, lead, driver, typed, said):
    page = login(lead).post(f"/people/{driver.pk}/checked/", typed)
    assert (page.status_code, said in page.content.decode()) == (422, True)


def test_nobody_authorises_themselves(login, lead):
    page = login(lead).post(f"/people/{lead.pk}/checked/", {"kind": "inspect", "area": "brakes"})
    assert page.status_code == 403
    assert "Nobody authorises themselves" in page.content.decode()


def test_a_check_that_is_over_says_so(login, lead, driver, vehicle, time_machine):
    time_machine.move_to(dt.datetime(2026, 6, 3, 10, tzinfo=dt.UTC), tick=False)
    row = CompetenceFactory(
        person=driver, kind=CompetenceKind.DRIVE, area="", vehicle=vehicle, valid_through=dt.date(2026, 6, 3)
    )
    browser = login(lead)
    assert "over</span>" not in browser.get(f"/people/{driver.pk}/").content.decode()
    row.valid_through = dt.date(2026, 6, 2)
    row.save()
    assert "over</span>" in browser.get(f"/people/{driver.pk}/").content.decode()


def test_names_are_never_markup(login, administrator):
    person = PersonFactory(name="<script>alert(1)</script>", telephone='"><img src=x>')
    for address in ("/people/", f"/people/{person.pk}/", f"/people/{person.pk}/change/"):
        page = login(administrator).get(address).content.decode()
        assert "<script>alert" not in page
        assert "<img src=x" not in page
