"""The evening record: once a day, what moved it, and whether it came true."""

import datetime as dt

import pytest
from django.urls import reverse

from fleet.services import acts
from readiness.models import Assessment, DayRecord, Done
from readiness.services import assessing, evening
from readiness.services.entries import entry_add
from readiness.tasks import evening_forecast
from tests.factories import CardFactory, DefectFactory
from tests.readiness.programme.stage import FREEZE, slot_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def entry(event, coordinator, vehicle):
    return entry_add(by=coordinator, slot=slot_of(coordinator, event), vehicle=vehicle)


def next_evening(clock, days: int = 1) -> None:
    clock.shift(dt.timedelta(days=days))


def test_one_record_an_entry_and_day(entry, clock) -> None:
    assert evening_forecast() == 1
    assert evening_forecast() == 0
    record = DayRecord.objects.get()
    said = assessing.latest(entry.slot.event)
    assert said is not None
    assert said.is_evening
    mine = said.result["entries"][0]
    assert (record.standing, record.percent, record.why) == (mine["standing"], mine["percent"], "")
    next_evening(clock)
    assert evening_forecast() == 1
    assert DayRecord.objects.count() == 2
    assert Done.objects.filter(job=evening.JOB).count() == 2


def test_a_second_clock_finds_the_period_done(entry, event) -> None:
    assessing.assess_wanted(force=True)
    day = dt.date(2027, 5, 3)
    Done.objects.create(job=evening.JOB, period=f"{event.code} {day}")
    assert evening._keep(event, day, FREEZE) == 0
    assert not DayRecord.objects.exists()


def test_what_moved_it_is_named(entry, clock, vehicle, mechanic) -> None:
    evening_forecast()
    before = DayRecord.objects.get()
    next_evening(clock)
    defect = DefectFactory(vehicle=vehicle, state="assessed", severity=1, probability="C")
    defect.effects.create(function="STOP", effect="lost")
    acts.record(act="defect.report", by=mechanic, subject=defect, vehicle=vehicle)
    evening_forecast()
    after = DayRecord.objects.order_by("-day").first()
    assert (after.standing, after.percent) != (before.standing, before.percent)
    assert "Asta Finch" in after.why
    assert defect.title in after.why
    next_evening(clock)
    evening_forecast()
    assert DayRecord.objects.order_by("-day").first().why == ""


def test_what_moves_without_an_act_on_the_vehicle_says_so(entry, clock, vehicle) -> None:
    evening_forecast()
    next_evening(clock)
    defect = DefectFactory(vehicle=vehicle, state="assessed", severity=1, probability="C")
    defect.effects.create(function="STOP", effect="lost")
    evening_forecast()
    assert DayRecord.objects.order_by("-day").first().why.startswith("Nothing was done on it")


def test_after_the_freeze_it_is_known_whether_it_came_true(entry, clock, vehicle) -> None:
    defect = DefectFactory(vehicle=vehicle, state="assessed", severity=2, probability="C")
    defect.effects.create(function="STOP", effect="lost")
    CardFactory(vehicle=vehicle)
    evening_forecast()
    assert DayRecord.objects.get().came_true is None
    clock.move_to(FREEZE + dt.timedelta(hours=3))
    evening_forecast()
    first, last = DayRecord.objects.order_by("day")
    assert first.came_true is False
    assert last.came_true is None


def test_day_by_day_page(entry, event, clock, login, driver) -> None:
    browser, address = login(driver), reverse("readiness:track", args=[event.code])
    assert "No evening has been recorded yet" in browser.get(address).content.decode()
    evening_forecast()
    next_evening(clock)
    evening_forecast()
    page = browser.get(address).content.decode()
    assert page.count("<rect") >= 0
    assert "Mon 3 May" in page
    assert "Tue 4 May" in page
    assert " style=" not in page


def test_only_the_newest_twenty_are_kept_beside_the_evenings(entry, clock) -> None:
    evening_forecast()
    for _ in range(25):
        assessing.assess_wanted(force=True)
    assert Assessment.objects.filter(is_evening=True).count() == 1
    assert Assessment.objects.filter(is_evening=False).count() == 21


def test_an_event_with_the_longest_code_has_its_record(event, coordinator, vehicle) -> None:
    from readiness.models import Event
    from readiness.models.assessments import Done as Row

    entry_add(by=coordinator, slot=slot_of(coordinator, event), vehicle=vehicle)
    Event.objects.filter(pk=event.pk).update(code="L" * 30)
    assert evening_forecast() == 1
    row = Row.objects.get(job=evening.JOB)
    assert len(row.period) <= Row._meta.get_field("period").max_length
