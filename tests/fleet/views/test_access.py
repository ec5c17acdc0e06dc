"""Every address of the fleet by every role, the stranger included: one table."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet import urls
from fleet.models import Fact
from fleet.services.photos import photo_add
from tests.factories import PersonFactory
from tests.fleet.views.pictures import jpeg

pytestmark = pytest.mark.django_db

ALL = {"driver", "mechanic", "lead", "coordinator", "manager", "curator", "administrator"}
PUBLIC = {"sign_in", "new_password", "forgot", "reset", "sign_out", "lamp", "first"}
LOOKERS = {"lead", "coordinator", "manager", "administrator"}
OPENS = {
    "me": ALL, "contact": ALL, "password": ALL, "pin": ALL, "days": ALL, "day": ALL, "day_print": ALL,
    "vehicles": ALL, "meters": ALL, "outings": ALL, "papers": ALL, "facts": ALL, "fact": ALL, "photos": ALL,
    "systems": ALL, "photo": ALL,
    "people": LOOKERS, "person": LOOKERS,
    "person_add": {"administrator"}, "person_change": {"administrator"}, "person_leave": {"administrator"},
    "person_code": {"administrator"}, "settings": {"administrator"},
    "competence": {"lead", "manager", "administrator"},
    "pattern": {"coordinator", "administrator"},
    "vehicle_add": {"lead", "coordinator", "curator", "administrator"},
    "vehicle_change": {"lead", "coordinator", "curator", "administrator"},
    "system": {"lead", "coordinator", "curator", "administrator"},
    "vehicle_status": {"lead", "manager"},
    "tag_key": {"lead", "coordinator", "administrator"},
    "fact_correct": {"mechanic", "lead", "curator"},
}  # fmt: skip
ACTS = {
    "papers": {"lead", "coordinator", "manager"},
    "systems": {"lead", "coordinator", "curator", "administrator"},
    "meters": {"driver", "mechanic", "lead", "coordinator"},
    "outings": {"driver", "mechanic", "lead", "coordinator"},
    "facts": {"driver", "mechanic", "lead", "coordinator", "curator"},
    "photos": ALL, "days": ALL, "contact": ALL, "pin": ALL, "password": ALL,
    "meter_add": OPENS["vehicle_change"], "came": {"lead", "coordinator"},
    **{name: who for name, who in OPENS.items() if name in {
        "person_add", "person_change", "settings", "competence", "vehicle_add", "vehicle_change", "system",
        "vehicle_status", "fact_correct",
    }},
}  # fmt: skip
HARMLESS = {"seen": "", "status": "no such thing"}  # never valid: only whether the door opens is asked


@pytest.fixture
def somebody(db):
    return PersonFactory(name="Una Marsh", is_driver=True)


@pytest.fixture
def address(vehicle, somebody):
    fact = Fact.objects.create(
        vehicle=vehicle, about="Plug gap", value="0.6 mm", recorded_on=dt.date(2026, 1, 4)
    )
    photo = photo_add(by=somebody, upload=jpeg(), vehicle=vehicle)
    brakes = vehicle.subsystems.get(code="BRK")
    known = {
        "system": [vehicle.code, brakes.pk], "fact": [vehicle.code, fact.pk], "fact_correct": [vehicle.code, fact.pk],
        "photo": [photo.pk, "small"], "day": ["2026-06-06"], "came": ["2026-06-06"], "day_print": ["2026-06-06"],
        "reset": ["MQ", "x-y"],
    }  # fmt: skip

    def find(name: str) -> str:
        pattern = next(p for p in urls.urlpatterns if p.name == name)
        if name in known:
            return reverse(f"fleet:{name}", args=known[name])
        if "code" in pattern.pattern.converters:
            return reverse(f"fleet:{name}", args=[vehicle.code])
        if "pk" in pattern.pattern.converters:
            return reverse(f"fleet:{name}", args=[somebody.pk])
        return reverse(f"fleet:{name}")

    return find


def status(browser, where: str) -> int:
    answer = browser.get(where)
    if answer.streaming:  # read to the end, which lets the file go; closing would end the database connection
        b"".join(answer.streaming_content)
    return answer.status_code


def test_every_address_has_a_row():
    named = {pattern.name for pattern in urls.urlpatterns}
    assert named == PUBLIC | set(OPENS) | {"meter_add", "came"}


@pytest.mark.parametrize("name", sorted({*OPENS, "meter_add", "came"}))
def test_a_stranger_is_asked_to_sign_in(stranger, administrator, address, name):
    where = address(name)
    for answer in (stranger.get(where), stranger.post(where, HARMLESS)):
        assert (answer.status_code, answer.url) == (302, f"/sign-in/?next={where}")


@pytest.mark.parametrize("name", sorted(OPENS))
def test_who_may_open_a_page(cast, login, address, name):
    where = address(name)
    found = {role: status(login(getattr(cast, role)), where) for role in ALL}
    assert found == {role: 200 if role in OPENS[name] else 403 for role in ALL}


@pytest.mark.parametrize("name", sorted(ACTS))
def test_who_may_hand_in(cast, login, address, somebody, name):
    where, what = address(name), dict(HARMLESS)
    if name == "came":
        what |= {"person": somebody.pk, "came": "yes"}
    if name == "pin":
        what |= {"pin": "1"}
    if name == "contact":
        what |= {"email": "no address"}
    found = {role: login(getattr(cast, role)).post(where, what).status_code for role in ALL}
    good = 302 if name == "came" else 422
    assert found == {role: good if role in ACTS[name] else 403 for role in ALL}


@pytest.mark.parametrize("name", ["person_leave", "person_code", "tag_key"])
def test_one_press_acts_are_shut_to_others(cast, login, address, name):
    where = address(name)
    found = {
        role for role in ALL if login(getattr(cast, role)).post(where, {"day": "nonsense"}).status_code == 403
    }
    assert found == ALL - OPENS[name]


@pytest.mark.parametrize("name", ["lamp", "sign_out", "came", "meter_add"])
def test_what_only_acts_has_no_page(administrator, login, address, name):
    assert login(administrator).get(address(name)).status_code == 405


@pytest.mark.parametrize("name", sorted(OPENS))
def test_looking_never_writes(administrator, lead, login, address, name):
    browser = login(administrator if "administrator" in OPENS[name] else lead)
    with CaptureQueriesContext(connection) as seen:
        status(browser, address(name))
    written = [q["sql"] for q in seen if q["sql"].split()[0] in {"INSERT", "UPDATE", "DELETE"}]
    assert written == []


def test_refusals_say_who_may(driver, login, address):
    page = login(driver).get(address("settings")).content.decode()
    assert "Only the administrator may change the museum&#x27;s settings" in page


STRANGE = [
    "\x00",
    "\u202e",
    "9" * 40,
    "-1",
    "' OR 1=1 --",
    "{{ 7*7 }}",
    "A" * 5000,
    "NaN",
    "<script>",
    "9999-12-31",
    "0001-01-01",
]


@pytest.mark.parametrize("name", sorted(set(ACTS) | {"person_leave"}))
def test_strange_words_in_every_field_are_refused_or_kept_never_an_error(
    administrator, lead, login, address, name
):
    """Each field by itself and all at once; the answer is the page again or a step on, never a fault of ours."""
    browser = login(lead if "lead" in ACTS.get(name, ()) else administrator)
    page = browser.get(address(name))
    form = page.context.get("form") if page.context else None
    fields = (
        list(form.fields)
        if form is not None
        else ["person", "came", "arrived", "left", "kind", "shown", "meter"]
    )
    for word in STRANGE:
        answer = browser.post(address(name), dict.fromkeys(fields, word))
        assert answer.status_code in {200, 302, 422}, (name, word)
        assert b"<script>" not in answer.content.replace(b"<script src", b"")


@pytest.mark.parametrize(
    "where",
    ["/people/" + "9" * 40 + "/", "/vehicles/?kind=%00&status=%00", "/people/?who=%00&role=%00", "/vehicles/V01/systems/?of=%00",
     "/workshop/days/9999-12-31/", "/workshop/days/0001-01-01/", "/vehicles/V01/facts/" + "9" * 30 + "/", "/photos/" + "9" * 18 + "/small.jpg",
     "/sign-in/?next=%00", "/vehicles/V%00/meters/"],
)  # fmt: skip
def test_strange_addresses_are_answered(administrator, login, vehicle, where):
    assert login(administrator).get(where).status_code in {200, 302, 404}
