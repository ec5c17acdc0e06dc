"""The record book and the reminders in it: everybody reads the acts; a reminder is for one person."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.services import acts
from readiness.models import Digest
from readiness.queries.record_book import PER_PAGE, detail_words
from readiness.services.digests import Letter, Line, digest_make
from tests.factories import VehicleFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def book() -> str:
    return reverse("readiness:record_book")


def write(by, vehicle, act: str = "vehicle.change", **detail):
    return acts.record(act=act, by=by, subject=vehicle, vehicle=vehicle, detail=detail)


@pytest.mark.parametrize(
    "role", ["driver", "mechanic", "lead", "coordinator", "manager", "curator", "administrator"]
)
def test_everybody_here_reads_it(museum, request, login, vehicle, book: str, role: str) -> None:
    person = request.getfixturevalue(role)
    write(person, vehicle)
    page = login(person).get(book)
    assert page.status_code == 200
    assert vehicle.name in page.content.decode()


def test_a_stranger_does_not(stranger, book: str) -> None:
    assert stranger.get(book).status_code == 302


def test_it_is_filtered_by_vehicle_person_and_day(
    museum, clock, login, driver, lead, vehicle, book: str
) -> None:
    other = VehicleFactory(name="Duchess")
    write(driver, vehicle, note="first")
    clock.shift(dt.timedelta(days=1))
    write(lead, other, note="second")
    browser = login(driver)

    def shown(**asked: str) -> list[str]:
        page = browser.get(book, asked).content.decode()
        return [n for n in ("first", "second") if f"note: {n}" in page]

    assert shown() == ["first", "second"]
    assert shown(vehicle=vehicle.code) == ["first"]
    assert shown(person=lead.code) == ["second"]
    assert shown(day="2027-05-03") == ["first"]
    assert shown(day="2027-05-05") == []
    assert shown(day="not a day", vehicle="", person="") == ["first", "second"]


def test_fifty_a_page_newest_first(museum, clock, login, driver, vehicle, book: str) -> None:
    for n in range(PER_PAGE + 3):
        write(driver, vehicle, note=f"n{n:03d}")
    browser = login(driver)
    first, second = (
        browser.get(book, {"page": p, "vehicle": vehicle.code}).content.decode() for p in ("1", "2")
    )
    assert "note: n052" in first
    assert "note: n002" not in first
    assert "note: n002" in second
    assert f"?vehicle={vehicle.code}&amp;page=2" in first
    assert browser.get(book, {"page": "999"}).status_code == 200
    assert browser.get(book, {"page": "x"}).status_code == 200


def test_it_asks_no_more_for_more_lines(museum, login, driver, vehicle, book: str) -> None:
    browser = login(driver)

    def count() -> int:
        browser.get(book)
        with CaptureQueriesContext(connection) as seen:
            browser.get(book)
        return len(seen)

    write(driver, vehicle)
    one = count()
    for _ in range(3):
        write(driver, VehicleFactory())
    assert count() == one


def test_words_of_a_detail() -> None:
    detail = {
        "name": ["Old", "New"],
        "place": ["", "Shed"],
        "version": 3,
        "crew": "Driver: A",
        "days": ["Mon", "Tue", "Wed"],
        "came": True,
        "none": None,
    }
    assert (
        detail_words(detail)
        == "name: Old to New; place: empty to Shed; crew: Driver: A; days: Mon, Tue, Wed; came: yes"
    )
    assert detail_words({"why": "word " * 100}).endswith(" ...")


@pytest.fixture
def reminder(museum, driver) -> Digest:
    line = Line(words="You drive 7 Bramble.", path="/")
    row = digest_make(Letter(person=driver, kind="driver", period="TRD 2027-05-22", lines=(line,)))
    assert row is not None
    return row


def test_a_reminder_waits_in_the_book_of_its_person(
    reminder, login, driver, mechanic, coordinator, book: str
) -> None:
    assert "You drive 7 Bramble." in login(driver).get(book).content.decode()
    assert "You drive 7 Bramble." not in login(mechanic).get(book).content.decode()
    waits = login(coordinator).get(book).content.decode()
    assert "You drive 7 Bramble." in waits
    assert "no address: read it here" in waits


def test_a_reminder_is_read_by_its_person_and_who_looks_after_it(reminder, login, cast) -> None:
    address = reverse("readiness:reminder", args=[reminder.pk])
    answers = {role: login(getattr(cast, role)).get(address).status_code for role in vars(cast)}
    assert answers == {
        "driver": 200, "mechanic": 403, "lead": 403, "coordinator": 200, "manager": 403, "curator": 403, "administrator": 200,
    }  # fmt: skip


def test_seen_is_pressed_not_opened(reminder, login, driver, coordinator) -> None:
    read, seen = (reverse(f"readiness:{n}", args=[reminder.pk]) for n in ("reminder", "reminder_seen"))
    browser = login(driver)
    browser.get(read)
    assert browser.get(seen).status_code == 405
    login(coordinator).post(seen)
    reminder.refresh_from_db()
    assert reminder.seen_at is None
    assert browser.post(seen).status_code == 302
    reminder.refresh_from_db()
    assert reminder.seen_at is not None


def test_words_in_a_reminder_are_words(museum, login, driver) -> None:
    line = Line(words="Order <script>alert(1)</script>", path="/")
    row = digest_make(Letter(person=driver, kind="driver", period="x", lines=(line,)))
    assert row is not None
    page = login(driver).get(reverse("readiness:reminder", args=[row.pk])).content.decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;" in page
