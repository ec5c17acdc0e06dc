"""What the clock does for the workshop: old names go, due inspections become jobs. Twice is as once."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from fleet.enums import VehicleStatus
from fleet.models import Act, Skill
from fleet.services.meters import meter_add, meter_read
from fleet.services.museum import museum_change
from maintenance import tasks
from maintenance.models import Defect, JobCard, SlipPost
from tests.factories import DefectFactory, InspectionFactory, VehicleFactory

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


def test_a_visitor_s_name_goes_after_the_time_the_museum_keeps_it(museum, vehicle, driver, administrator):
    museum_change(by=administrator, keep_names_days=30)
    now = timezone.now()
    old = DefectFactory(vehicle=vehicle, reporter_name="Old Visitor", reported_at=now - 31 * DAY)
    young = DefectFactory(vehicle=vehicle, reporter_name="Young Visitor", reported_at=now - 29 * DAY)
    ours = DefectFactory(
        vehicle=vehicle, reporter_name=driver.name, reported_by=driver, reported_at=now - 900 * DAY
    )
    assert tasks.clear_old_names() == 1
    assert tasks.clear_old_names() == 0
    assert {row.pk: row.reporter_name for row in Defect.objects.all()} == {
        old.pk: "",
        young.pk: "Young Visitor",
        ours.pk: driver.name,
    }


def test_old_counts_of_posts_go(museum, time_machine):
    time_machine.move_to(timezone.now(), tick=False)
    SlipPost.objects.create(tag_key="a")
    time_machine.shift(49 * 3600)
    SlipPost.objects.create(tag_key="b")
    tasks.clear_old_names()
    assert [post.tag_key for post in SlipPost.objects.all()] == ["b"]


def test_what_falls_due_within_four_weeks_becomes_a_job(museum, vehicle, lead):
    today = timezone.localdate()
    due = InspectionFactory(
        vehicle=vehicle, name="Brake reading", due_on=today + 28 * DAY, hours=Decimal("1.5"), persons=2
    )
    due.skills.add(Skill.objects.create(name="brakes"))
    InspectionFactory(vehicle=vehicle, name="Later", due_on=today + 29 * DAY)
    InspectionFactory(vehicle=vehicle, name="By an examiner", due_on=today, outside=True)
    InspectionFactory(
        vehicle=VehicleFactory(number="Q 2", status=VehicleStatus.LAID_UP), name="Laid up", due_on=today
    )
    InspectionFactory(vehicle=None, name="Of the site", due_on=today)
    assert tasks.make_due_cards() == 1
    card = JobCard.objects.get()
    assert (card.title, card.vehicle, card.inspection, card.kind, card.hours_usual, card.persons) == (
        "Brake reading", vehicle, due, "periodic", Decimal("1.5"), 2,
    )  # fmt: skip
    assert [skill.name for skill in card.skills.all()] == ["brakes"]
    assert Act.objects.get(act="card.open").by_name == "The clock"
    assert tasks.make_due_cards() == 0
    assert JobCard.objects.count() == 1


def test_void_never_done_and_reached_by_the_meter_are_due_too(museum, vehicle, lead):
    far = timezone.localdate() + 300 * DAY
    InspectionFactory(
        vehicle=vehicle, name="Void", due_on=far, voided_at=timezone.now(), voided_why="Repair on brakes"
    )
    InspectionFactory(vehicle=vehicle, name="Never", due_on=None, never_done=True)
    InspectionFactory(
        vehicle=vehicle, name="Reached", due_on=None, interval_meter="hours", due_at_meter=Decimal(50)
    )
    InspectionFactory(
        vehicle=vehicle, name="Not reached", due_on=None, interval_meter="hours", due_at_meter=Decimal(51)
    )
    meter = meter_add(by=lead, vehicle=vehicle, kind="hours")
    meter_read(by=lead, meter=meter, shown="50")
    assert tasks.make_due_cards() == 3
    assert {card.title: card.why for card in JobCard.objects.all()} == {
        "Void": "Void: Repair on brakes", "Never": "No result is on file.", "Reached": "Its meter has been reached.",
    }  # fmt: skip


def test_by_its_use_it_is_made_in_time(museum, vehicle, lead):
    """0.5 h a day over the last 60 days, 14 h left: reached in 28 days, which is the time ahead; 14.5 h is not."""
    InspectionFactory(
        vehicle=vehicle, name="In time", due_on=None, interval_meter="hours", due_at_meter=Decimal(144)
    )
    later = Decimal("144.5")
    InspectionFactory(
        vehicle=vehicle, name="Not yet", due_on=None, interval_meter="hours", due_at_meter=later
    )
    meter = meter_add(by=lead, vehicle=vehicle, kind="hours")
    now = timezone.now()
    meter.readings.create(shown=100, total=100, read_at=now - 60 * DAY)
    meter.readings.create(shown=130, total=130, read_at=now)
    assert tasks.make_due_cards() == 1
    card = JobCard.objects.get()
    assert card.title == "In time"
    assert card.why.startswith("14 hours left: reached about ")
    assert tasks.make_due_cards() == 0


def test_an_ended_job_does_not_stand_in_the_way_of_the_next(museum, vehicle):
    from tests.factories import CardFactory

    due = InspectionFactory(vehicle=vehicle, due_on=timezone.localdate())
    CardFactory(vehicle=vehicle, inspection=due, state="passed")
    assert tasks.make_due_cards() == 1


def test_the_clock_knows_both_tasks():
    from config.schedule import BEAT_SCHEDULE

    asked = {row["task"] for row in BEAT_SCHEDULE.values()}
    assert {tasks.make_due_cards.name, tasks.clear_old_names.name} <= asked
