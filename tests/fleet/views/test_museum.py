"""The museum's settings, the first visit, and the admin site."""

import io
import re
from decimal import Decimal

import pytest
from django.contrib import admin
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.urls import reverse

from fleet.errors import Conflict
from fleet.http import forget_museum
from fleet.models import Act, Museum, Person, Skill
from fleet.services.first import first_administrator
from tests.fleet.views.test_people import shown_form

pytestmark = pytest.mark.django_db
FIRST = {
    "museum": "Tollmarsh Sheds", "time_zone": "Europe/Oslo", "distance_unit": "mile", "pressure_unit": "psi",
    "name": "Fabian Reed", "username": "fabian", "email": "", "new": "lamp oil and brass", "again": "lamp oil and brass",
}  # fmt: skip


@pytest.fixture(autouse=True)
def nothing_kept():
    forget_museum()
    yield
    forget_museum()


def test_the_first_visit_to_any_page_leads_to_the_set_up(client):
    answer = client.get("/vehicles/", follow=True)
    assert answer.redirect_chain[-1] == ("/first/", 302)
    assert "Set up this museum" in answer.content.decode()


def test_setting_up_signs_in_and_shuts_the_page(client):
    answer = client.post("/first/", FIRST)
    assert answer.status_code == 302
    row, person = Museum.objects.get(), Person.objects.get()
    assert (row.name, row.time_zone, row.distance_unit, row.pressure_unit) == (
        "Tollmarsh Sheds",
        "Europe/Oslo",
        "mile",
        "psi",
    )
    assert (person.username, person.roles, person.check_password(FIRST["new"])) == (
        "fabian",
        ("administrator",),
        True,
    )
    assert client.get("/settings/").status_code == 200
    assert client.get("/first/").status_code == 404
    assert client.post("/first/", {**FIRST, "username": "other"}).status_code == 404
    assert set(Act.objects.values_list("act", flat=True)) == {"person.add", "museum.change"}


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"new": "short", "again": "short"}, "at least 10"),
        ({"again": "another one here"}, "not alike"),
        ({"username": "two words"}, "no spaces"),
        ({"time_zone": "Europe/Nowhere"}, "Select a valid choice"),
        ({"museum": ""}, "required"),
    ],
)
def test_a_set_up_that_is_refused_leaves_nothing(client, typed, said):
    page = client.post("/first/", {**FIRST, **typed})
    assert (page.status_code, said in page.content.decode()) == (422, True)
    assert 'value="Fabian Reed"' in page.content.decode()
    assert (Museum.objects.count(), Person.objects.count()) == (0, 0)


def test_the_page_is_shut_once_there_is_anybody(client, driver):
    assert client.get("/first/").status_code == 404
    assert client.get("/sign-in/").status_code == 200


def test_the_second_of_two_first_visitors_is_refused(client, monkeypatch):
    first_administrator(
        museum="A", time_zone="Europe/London", name="X", username="x", password="lamp oil and brass"
    )
    monkeypatch.setattr("fleet.services.first.nobody_yet", lambda: True)  # both looked before either wrote
    with pytest.raises((Conflict, ValidationError)):
        first_administrator(
            museum="B", time_zone="Europe/London", name="Y", username="y", password="lamp oil and brass"
        )
    assert list(Person.objects.values_list("username", flat=True)) == ["x"]
    assert Museum.objects.get().name == "A"


def test_the_command_prints_a_code_that_opens_the_door(client):
    out = io.StringIO()
    call_command(
        "first_administrator", museum="Tollmarsh Sheds", name="Fabian Reed", username="fabian", stdout=out
    )
    code = re.search(r"One-time code: (\S+)", out.getvalue())[1]
    answer = client.post("/sign-in/", {"username": "fabian", "password": code})
    assert answer.url == "/sign-in/new-password/"
    with pytest.raises(CommandError, match="set this museum up already"):
        call_command("first_administrator", museum="B", name="Y", username="y", stdout=out)


def test_the_command_refuses_a_made_up_time_zone():
    with pytest.raises(CommandError, match="not a time zone"):
        call_command(
            "first_administrator",
            museum="B",
            name="Y",
            username="y",
            time_zone="Mars/Base",
            stdout=io.StringIO(),
        )
    assert not Person.objects.exists()


# ---- settings ----


@pytest.mark.usefixtures("museum")
def test_settings_handed_in_untouched_change_nothing(login, administrator):
    browser = login(administrator)
    before = Act.objects.count()
    assert browser.post("/settings/", shown_form(browser, "/settings/")).status_code == 302
    assert Act.objects.count() == before


def test_settings_are_written_and_seen_at_once(
    login, administrator, museum, django_capture_on_commit_callbacks
):
    from fleet.http import museum as cached

    browser = login(administrator)
    assert cached().decision_days == 7
    with django_capture_on_commit_callbacks(execute=True):
        typed = {
            **shown_form(browser, "/settings/"),
            "decision_days": "3",
            "turn_up_volunteer": "60",
            "near_share": "15",
        }
        assert browser.post("/settings/", typed).status_code == 302
    row = cached()
    assert (row.decision_days, row.turn_up_volunteer, row.near_share) == (3, Decimal("0.60"), Decimal("0.15"))


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"doubtful_from": "80"}, "Doubtful must begin below Likely"),
        ({"turn_up_staff": "130"}, "less than or equal to 100"),
        ({"time_zone": "Moon/Base"}, "Select a valid choice"),
        ({"thin_at": "x"}, "Enter a whole number"),
    ],
)
@pytest.mark.usefixtures("museum")
def test_settings_that_are_refused(login, administrator, typed, said):
    browser = login(administrator)
    page = browser.post(
        "/settings/", {**shown_form(browser, "/settings/"), "slip_note": "Yard: 0123", **typed}
    )
    assert (page.status_code, said in page.content.decode()) == (422, True)
    assert 'value="Yard: 0123"' in page.content.decode()
    assert Museum.objects.get().slip_note == ""


def test_every_setting_of_the_museum_is_on_the_page(login, administrator, museum):
    form = login(administrator).get("/settings/").context["form"]
    assert set(form.fields) - {"seen"} == {field.name for field in Museum._meta.fields} - {"id"}


# ---- behind the pages ----


def test_every_model_is_there_and_nothing_is_rubbed_out(rf, administrator):
    request = rf.get("/admin/")
    request.user = administrator
    from django.apps import apps

    ours = set(apps.get_app_config("fleet").get_models())
    shown = {model for model in admin.site._registry if model._meta.app_label == "fleet"}
    assert shown == ours
    for model in shown:
        assert not admin.site._registry[model].has_delete_permission(request)
    fixed = {m.__name__ for m in shown if not admin.site._registry[m].has_change_permission(request)}
    assert fixed == {
        "Act",
        "MeterReading",
        "Meter",
        "Outing",
        "Fact",
        "Photo",
        "Competence",
        "SignIn",
        "Serial",
        "Person",
    }


@pytest.mark.parametrize(
    "model", ["person", "vehicle", "act", "meterreading", "museum", "subsystem", "fact", "competence"]
)
def test_the_lists_behind_open(login, administrator, vehicle, museum, model):
    browser = login(administrator)
    assert browser.get(reverse(f"admin:fleet_{model}_changelist")).status_code == 200


def test_no_secret_is_shown_behind(login, administrator):
    page = (
        login(administrator)
        .get(reverse("admin:fleet_person_change", args=[administrator.pk]))
        .content.decode()
    )
    assert administrator.password not in page
    assert "md5$" not in page


def test_a_change_behind_is_in_the_book(login, administrator):
    login(administrator).post(reverse("admin:fleet_skill_add"), {"name": "magnetos"})
    assert Skill.objects.get().name == "magnetos"
    assert Act.objects.get(act="admin.add").by == administrator
