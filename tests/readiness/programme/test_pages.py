"""Programme pages: who sees what, what typing wrongly costs, and that pages do not ask more for more rows."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.models import Act
from readiness.models import Crew, Entry, Event, LimitTick, Slot
from readiness.services import entries, events
from readiness.services.entries import CrewLine
from tests.factories import VehicleFactory
from tests.readiness.programme.stage import SATURDAY, SUNDAY, at, event_of, slot_of
from tests.readiness.programme.test_services import limit_in_words

pytestmark = pytest.mark.django_db


def url(name: str, *args: object) -> str:
    return reverse(f"readiness:{name}", args=args)


def form_of(html: str, action: str = "") -> dict[str, str]:
    """Name and value of the hidden and text inputs of a page, as a browser would send them back."""
    return dict(re.findall(r'<input[^>]*?name="([^"]+)"[^>]*?value="([^"]*)"', html))


def slot_data(**more: str) -> dict[str, str]:
    return {
        "code": "S1", "name": "Arena run", "role": "arena", "day": SATURDAY.isoformat(), "starts": "11:00", "ends": "11:30",
        **more,
    }  # fmt: skip


def test_a_season_without_an_event_says_what_that_means(museum, login, coordinator, driver) -> None:
    page = login(coordinator).get(url("programme")).content.decode()
    assert "No event is planned" in page
    assert url("event_new") in page
    other = login(driver).get(url("programme")).content.decode()
    assert "The coordinator or the manager plans one" in other
    assert url("event_new") not in other


@pytest.mark.parametrize(
    ("role", "status"),
    [
        ("driver", 403),
        ("mechanic", 403),
        ("curator", 403),
        ("lead", 403),
        ("coordinator", 200),
        ("manager", 200),
    ],
)
def test_who_may_change_the_programme(event: Event, cast_of, login, role: str, status: int) -> None:
    browser = login(cast_of(role))
    slot = slot_of(cast_of("coordinator"), event)
    for name, args in [
        ("event_new", ()), ("event_change", (event.code,)), ("event_freeze", (event.code,)),
        ("event_light", (event.code,)), ("event_call_off", (event.code,)), ("rehearsals", (event.code,)),
        ("slot_new", (event.code,)), ("slot", (event.code, slot.pk)), ("slot_crew", (event.code, slot.pk)),
        ("entry_new", (event.code, slot.pk)),
    ]:  # fmt: skip
        answer = browser.get(url(name, *args))
        assert answer.status_code == status, name
    assert browser.get(url("event", event.code)).status_code == 200
    assert browser.get(url("programme")).status_code == 200


@pytest.fixture
def cast_of(db, request, coordinator):
    return lambda role: request.getfixturevalue(role)


def test_an_event_is_planned_from_its_page(museum, clock, login, coordinator) -> None:
    data = {
        "code": "TRD", "name": "Tollmarsh Running Days", "place": "Lower field", "first_day": "2027-06-05",
        "last_day": "2027-06-06", "freeze_at": "2027-06-03T18:00", "weight": "1", "site_radios": "channel 3",
    }  # fmt: skip
    answer = login(coordinator).post(url("event_new"), data)
    assert answer.status_code == 302
    made = Event.objects.get()
    assert (made.name, made.site_notes) == ("Tollmarsh Running Days", {"Radios": "channel 3"})
    assert made.freeze_at == at(made.first_day, 18) - (
        at(made.first_day, 18) - at(made.first_day.replace(day=3), 18)
    )


def test_what_is_wrong_keeps_what_was_typed(museum, clock, login, coordinator) -> None:
    data = {
        "code": "TRD",
        "name": "Typed with care",
        "first_day": "2027-06-05",
        "last_day": "2027-06-01",
        "weight": "1",
    }
    answer = login(coordinator).post(url("event_new"), data)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Typed with care" in page
    assert "The last day lies before the first" in page
    assert not Event.objects.exists()


def test_the_second_editor_keeps_his_words_and_may_hand_in_again(
    event: Event, login, coordinator, manager
) -> None:
    browser = login(coordinator)
    page = browser.get(url("event_change", event.code)).content.decode()
    data = {**form_of(page), "name": "Corin's name", "place": "Upper field"}
    data.pop("csrfmiddlewaretoken", None)
    events.event_change(by=manager, event=event, name="Dagny's name")
    answer = browser.post(url("event_change", event.code), data)
    assert answer.status_code == 422
    said = answer.content.decode()
    assert "Dagny Moss changed the event" in said
    assert "Upper field" in said
    event.refresh_from_db()
    assert event.name == "Dagny's name"
    again = {**form_of(said), "name": "Corin&#x27;s name".replace("&#x27;", "'"), "place": "Upper field"}
    assert browser.post(url("event_change", event.code), again).status_code == 302
    event.refresh_from_db()
    assert (event.name, event.place) == ("Corin's name", "Upper field")


def test_a_slot_over_midnight_and_on_each_day(event: Event, login, coordinator) -> None:
    browser = login(coordinator)
    answer = browser.post(url("slot_new", event.code), slot_data(starts="22:00", ends="00:30", each_day="on"))
    assert answer.status_code == 302
    first, second = Slot.objects.order_by("starts_at")
    assert first.ends_at == at(SUNDAY, 0, 30)
    assert second.starts_at == at(SUNDAY, 22)


def test_a_wrong_slot_is_refused_at_its_field(event: Event, login, coordinator) -> None:
    answer = login(coordinator).post(url("slot_new", event.code), slot_data(code="S 1", name="Kept words"))
    assert answer.status_code == 422
    assert "Kept words" in answer.content.decode()
    assert not Slot.objects.exists()


def test_the_same_slot_twice_is_told_not_crashed(event: Event, login, coordinator) -> None:
    browser = login(coordinator)
    browser.post(url("slot_new", event.code), slot_data())
    answer = browser.post(url("slot_new", event.code), slot_data())
    assert answer.status_code == 422
    assert Slot.objects.count() == 1


def entry_data(vehicle, **more: object) -> dict[str, object]:
    return {
        "vehicle": vehicle.code,
        "crewed_inside": "on",
        "line-0-duty": "driver",
        "line-0-person": "",
        "line-0-borrowed": "",
        **more,
    }


def test_a_vehicle_is_entered_with_its_people_and_the_limits_read(
    event, login, coordinator, driver, vehicle
) -> None:
    slot, limit = slot_of(coordinator, event), limit_in_words(vehicle)
    browser = login(coordinator)
    data = entry_data(vehicle, ticks=[limit.pk]) | {
        "line-0-person": "driver",
        "line-1-duty": "crew",
        "line-1-person": "",
        "line-1-borrowed": "A. Guest",
    }
    answer = browser.post(url("entry_new", event.code, slot.pk), data)
    assert answer.status_code == 302
    entry = Entry.objects.get()
    assert (entry.vehicle, entry.entered_by) == (vehicle, coordinator)
    assert [(c.duty, c.person, c.borrowed) for c in entry.crew.order_by("pk")] == [
        ("driver", driver, ""),
        ("crew", None, "A. Guest"),
    ]
    assert LimitTick.objects.get().by == coordinator


def test_looking_first_writes_nothing(event: Event, login, coordinator, vehicle) -> None:
    slot = slot_of(coordinator, event)
    acts = Act.objects.count()
    answer = login(coordinator).post(url("entry_new", event.code, slot.pk), entry_data(vehicle, look="1"))
    assert answer.status_code == 200
    assert "What the board would say" in answer.content.decode()
    assert (Entry.objects.count(), Act.objects.count()) == (0, acts)


def test_the_half_filled_form_is_answered(event: Event, login, coordinator, vehicle) -> None:
    slot, browser = slot_of(coordinator, event), login(coordinator)
    limit_in_words(vehicle)
    address = url("entry_preview", event.code, slot.pk)
    assert "Choose a vehicle" in browser.get(address, {"vehicle": ""}).content.decode()
    said = browser.get(address, {**entry_data(vehicle), "hours": "not a number"}).content.decode()
    assert "drip tray under it" in said
    assert "No driver entered" in said
    assert "<html" not in said
    assert Entry.objects.count() == 0


def test_one_person_and_one_borrowed_in_a_line_are_refused(
    event: Event, login, coordinator, driver, vehicle
) -> None:
    slot = slot_of(coordinator, event)
    data = entry_data(vehicle) | {"line-0-person": "driver", "line-0-borrowed": "A. Guest"}
    answer = login(coordinator).post(url("entry_new", event.code, slot.pk), data)
    assert answer.status_code == 422
    assert "not both" in answer.content.decode()
    assert not Entry.objects.exists()


def test_the_second_editor_of_an_entry_is_shown_what_changed(
    event, login, coordinator, manager, vehicle
) -> None:
    entry = entries.entry_add(by=coordinator, slot=slot_of(coordinator, event), vehicle=vehicle)
    browser = login(coordinator)
    page = browser.get(url("entry", event.code, entry.pk)).content.decode()
    read = form_of(page)["version"]
    entries.entry_change(by=manager, entry=entry, note="Dagny was here")
    data = entry_data(vehicle, version=read, note="Corin was here")
    answer = browser.post(url("entry", event.code, entry.pk), data)
    assert answer.status_code == 422
    said = answer.content.decode()
    assert "Dagny Moss changed an entry" in said
    assert "Corin was here" in said
    entry.refresh_from_db()
    assert entry.note == "Dagny was here"
    assert (
        browser.post(
            url("entry", event.code, entry.pk), {**data, "version": form_of(said)["version"]}
        ).status_code
        == 302
    )


def test_the_lead_reads_limits_and_changes_nothing_else(
    event, login, coordinator, lead, driver, vehicle
) -> None:
    entry = entries.entry_add(by=coordinator, slot=slot_of(coordinator, event), vehicle=vehicle)
    limit = limit_in_words(vehicle)
    other = VehicleFactory()
    browser = login(lead)
    assert browser.get(url("entry", event.code, entry.pk)).status_code == 200
    answer = browser.post(url("entry", event.code, entry.pk), entry_data(other, ticks=[limit.pk]))
    assert answer.status_code == 302
    entry.refresh_from_db()
    assert entry.vehicle == vehicle
    assert LimitTick.objects.get().by == lead
    assert login(driver).get(url("entry", event.code, entry.pk)).status_code == 403


def test_people_of_a_slot(event: Event, login, coordinator, driver) -> None:
    slot = slot_of(coordinator, event)
    data = {
        "version": slot.version,
        "line-0-duty": "marshal",
        "line-0-person": "driver",
        "line-1-duty": "marshal",
        "line-1-borrowed": "from the rally club",
    }
    assert login(coordinator).post(url("slot_crew", event.code, slot.pk), data).status_code == 302
    assert [(c.person, c.borrowed) for c in Crew.objects.order_by("pk")] == [
        (driver, ""),
        (None, "from the rally club"),
    ]


def test_dropping_asks_for_the_version_that_was_read(event: Event, login, coordinator, manager) -> None:
    slot = slot_of(coordinator, event)
    events.slot_change(by=manager, slot=slot, name="Renamed")
    browser = login(coordinator)
    browser.post(url("slot_drop", event.code, slot.pk), {"version": slot.version})
    assert Slot.objects.filter(pk=slot.pk).exists()
    browser.post(url("slot_drop", event.code, slot.pk), {"version": slot.version + 1})
    assert not Slot.objects.filter(pk=slot.pk).exists()


@pytest.mark.parametrize("name", ["event_over", "event_plan_again"])
def test_acts_on_an_event_are_posted(event: Event, login, coordinator, name: str) -> None:
    assert login(coordinator).get(url(name, event.code)).status_code == 405
    assert login(coordinator).post(url(name, event.code)).status_code == 302


def test_an_event_that_is_over_is_left_as_it_was(event: Event, login, coordinator) -> None:
    slot = slot_of(coordinator, event)
    events.event_over(by=coordinator, event=event)
    browser = login(coordinator)
    assert browser.post(url("slot_new", event.code), slot_data(code="S2")).status_code == 403
    assert browser.get(url("slot", event.code, slot.pk)).status_code == 403
    page = browser.get(url("event", event.code)).content.decode()
    assert "Plan it again" in page
    assert url("slot_new", event.code) not in page


def test_a_slot_is_only_found_under_its_own_event(event: Event, login, coordinator) -> None:
    slot = slot_of(coordinator, event)
    other = event_of(coordinator, code="OTH")
    assert login(coordinator).get(url("slot", other.code, slot.pk)).status_code == 404
    assert login(coordinator).get(url("event", "NONE")).status_code == 404


def count(browser, address: str) -> int:
    browser.get(address)
    with CaptureQueriesContext(connection) as seen:
        assert browser.get(address).status_code == 200
    return len(seen)


def test_pages_ask_no_more_for_more_rows(event: Event, login, coordinator, driver) -> None:
    def grow(n: int) -> None:
        slot = slot_of(coordinator, event, code=f"S{n}", hour=9 + n)
        for _ in range(n):
            row = VehicleFactory()
            entries.entry_add(
                by=coordinator, slot=slot, vehicle=row, crew=[CrewLine(duty="driver", person=driver)]
            )
            events.rehearsal_add(by=coordinator, event=event, vehicle=row, day=SATURDAY, km=5)

    browser = login(coordinator)
    grow(1)
    pages = [
        url("programme"),
        url("event", event.code),
        url("track", event.code),
        url("slot_new", event.code),
    ]
    one = [count(browser, p) for p in pages]
    grow(3)
    event_of(coordinator, code="OTH")
    assert [count(browser, p) for p in pages] == one
    assert max(one) <= 20


def test_a_day_that_was_not_worked_out_says_so(event, coordinator, vehicle) -> None:
    from readiness.prints.event_sheet import pages
    from readiness.queries.programme import event_rows

    entries.entry_add(by=coordinator, slot=slot_of(coordinator, event), vehicle=vehicle)
    saturday, sunday = pages(event_rows(event.code), None)
    assert [(x.number, x.word) for x in saturday.lines] == [("B 02", "Not worked out")]
    assert sunday.lines == ()
