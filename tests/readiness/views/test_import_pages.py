import io
import os
import time

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from fleet.models import Person, Vehicle
from readiness import import_shelf

pytestmark = [pytest.mark.django_db, pytest.mark.urls("tests.readiness.views.urls_with_tables")]
VEHICLES = b"code,number,name,kind\nV21,T 21,Heron,lorry\nV22,T 22,Egret,bus\n"


@pytest.fixture(autouse=True)
def own_shelf(settings, tmp_path):
    settings.DATA_DIR = tmp_path


def hand_in(browser, *files: tuple[str, bytes]):
    return browser.post("/import/", {"tables": [SimpleUploadedFile(name, data) for name, data in files]})


def mark_of(page) -> str:
    return page.context["mark"]


def test_who_may_open_it(cast, login, stranger):
    for where in ("/import/", "/import/templates/vehicles.csv"):
        assert stranger.get(where).status_code == 302
        found = {role for role, person in vars(cast).items() if login(person).get(where).status_code == 200}
        assert found == {"coordinator", "administrator"}
    found = {
        role
        for role, person in vars(cast).items()
        if login(person).get("/export/museum.xlsx").status_code == 200
    }
    assert found == {"lead", "coordinator", "manager", "administrator"}
    for role, person in vars(cast).items():
        allowed = role in {"coordinator", "administrator"}
        assert hand_in(login(person), ("vehicles.pdf", b"code\n")).status_code == (422 if allowed else 403)
        assert login(person).post("/import/write/").status_code == (302 if allowed else 403)


def test_first_what_it_would_do_then_doing_it(login, coordinator, museum):
    browser = login(coordinator)
    page = hand_in(browser, ("vehicles.csv", VEHICLES))
    assert page.status_code == 200
    assert (page.context["report"].counts["vehicles"].new, page.context["report"].written) == (2, False)
    assert not Vehicle.objects.exists()
    answer = browser.post("/import/write/", {"mark": mark_of(page)})
    assert (answer.status_code, answer.url) == (302, "/import/")
    assert sorted(Vehicle.objects.values_list("number", flat=True)) == ["T 21", "T 22"]
    assert "Brought in. " in browser.get("/import/").content.decode()
    assert list(import_shelf.shelf().iterdir()) == []


def test_the_second_time_changes_nothing(login, coordinator, museum):
    browser = login(coordinator)
    browser.post("/import/write/", {"mark": mark_of(hand_in(browser, ("vehicles.csv", VEHICLES)))})
    page = hand_in(browser, ("vehicles.csv", VEHICLES))
    again = page.context["report"].total
    assert (again.new, again.changed, again.alike, mark_of(page)) == (0, 0, 2, "")
    assert "on file already" in page.content.decode()


def test_everything_wrong_is_told_with_its_place(login, coordinator, museum):
    page = hand_in(
        login(coordinator),
        ("vehicles.csv", b"code,number,name,kind\nV21,T 21,Heron,rocket\n,T 22,Egret,bus\n"),
    )
    assert page.status_code == 422
    assert mark_of(page) == ""
    places = {(e.table, e.row, e.column) for e in page.context["errors"]}
    assert {("vehicles", 2, "kind"), ("vehicles", 3, "code")} <= places
    assert "Nothing was written" in page.content.decode()
    assert list(import_shelf.shelf().iterdir()) == []


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("nothing.csv", b"a,b\n1,2\n", "no table has this name"),
        ("vehicles.pdf", b"%PDF-1.7", "Only .csv and .xlsx"),
        ("vehicles.xlsx", b"PK\x03\x04 not a workbook", ""),
        ("vehicles.csv", b"\xff\xfe\x00bad", ""),
        ("../../etc/vehicles.csv", b"code,number\nV1\n", ""),
    ],
)
def test_files_that_are_no_tables(login, coordinator, museum, name, data, said):
    page = hand_in(login(coordinator), (name, data))
    assert page.status_code == 422
    assert said in page.content.decode()
    assert not Vehicle.objects.exists()


def test_nothing_chosen_and_an_empty_file(login, coordinator):
    browser = login(coordinator)
    assert browser.post("/import/").status_code == 422
    assert hand_in(browser, ("vehicles.csv", b"")).status_code == 422


def test_too_much_at_once(login, coordinator, monkeypatch):
    monkeypatch.setattr("readiness.views.import_pages.MOST_BYTES", 10)
    page = hand_in(login(coordinator), ("vehicles.csv", VEHICLES))
    assert (page.status_code, "one after the other" in page.content.decode()) == (422, True)


def test_anothers_tables_and_made_up_marks_are_not_fetched(login, coordinator, administrator, museum):
    mark = mark_of(hand_in(login(coordinator), ("vehicles.csv", VEHICLES)))
    for browser, what in (
        (login(administrator), mark),
        (login(coordinator), "../x"),
        (login(coordinator), "0" * 32),
        (login(coordinator), ""),
    ):
        page = browser.post("/import/write/", {"mark": what}, follow=True)
        assert "not here any more" in page.content.decode()
    assert not Vehicle.objects.exists()


def test_the_museum_may_have_moved_on_since(login, coordinator, museum):
    browser = login(coordinator)
    mark = mark_of(hand_in(browser, ("vehicles.csv", VEHICLES)))
    Vehicle.objects.create(code="V99", number="T 21", name="Other")
    page = browser.post("/import/write/", {"mark": mark})
    assert page.status_code == 422
    assert Vehicle.objects.count() == 1


def test_old_tables_are_cleared_away(login, coordinator, museum):
    browser = login(coordinator)
    first = mark_of(hand_in(browser, ("vehicles.csv", VEHICLES)))
    folder = next(import_shelf.shelf().iterdir())
    old = time.time() - 2 * import_shelf.KEPT_SECONDS
    os.utime(folder, (old, old))
    hand_in(browser, ("vehicles.csv", VEHICLES))
    assert import_shelf.fetch(first, coordinator) is None
    assert len(list(import_shelf.shelf().iterdir())) == 1


def test_nobody_makes_themselves_administrator_by_a_table(login, coordinator, administrator, museum):
    people = b"code,name,username,roles\ncoordinator,Corin Vale,coordinator,coordinator; administrator\n"
    page = hand_in(login(coordinator), ("people.csv", people))
    assert page.status_code == 422
    assert "Only the administrator may change a person" in page.content.decode()
    assert mark_of(page) == ""
    coordinator.refresh_from_db()
    assert not coordinator.is_administrator
    browser = login(administrator)
    browser.post("/import/write/", {"mark": mark_of(hand_in(browser, ("people.csv", people)))})
    assert Person.objects.get(pk=coordinator.pk).is_administrator


def test_a_table_to_fill_comes_back_in_as_it_is(login, coordinator, museum):
    browser = login(coordinator)
    answer = browser.get("/import/templates/vehicles.csv")
    assert (answer["Content-Type"], answer["Content-Disposition"]) == (
        "text/csv; charset=utf-8",
        'attachment; filename="vehicles.csv"',
    )
    page = hand_in(browser, ("vehicles.csv", answer.content))
    assert (page.status_code, page.context["report"].total.new) == (200, 0)
    assert browser.get("/import/templates/secrets.csv").status_code == 404


def test_what_is_taken_out_is_a_workbook(login, coordinator, vehicle, museum):
    import zipfile

    answer = login(coordinator).get("/export/museum.xlsx")
    assert zipfile.ZipFile(io.BytesIO(answer.content)).testzip() is None
    again = hand_in(login(coordinator), ("museum.xlsx", answer.content)).context["report"]
    assert (again.ok, again.total.new, again.total.changed) == (True, 0, 0)
