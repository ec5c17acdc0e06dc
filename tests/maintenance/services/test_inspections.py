import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.utils import timezone

from maintenance.services.inspections import (
    inspection_add,
    inspection_book,
    inspection_change,
    inspection_record,
    inspection_void,
)
from maintenance.services.use_checks import check_record, checks_ask, overdue
from tests.factories import InspectionFactory, MeterFactory, VehicleFactory

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


@pytest.fixture
def today():
    return timezone.localdate()


def test_the_end_follows_from_the_interval(lead, vehicle, today):
    row = inspection_add(
        by=lead, vehicle=vehicle, kind="service", name="Oil", interval_days=365, interval_meter="hours", interval_amount="50",
        last_on=today - 10 * DAY, last_meter="4000.5", skills=["diesel"],
    )  # fmt: skip
    assert (row.due_on, row.due_at_meter, row.never_done) == (today + 355 * DAY, Decimal("4050.5"), False)
    assert [str(skill) for skill in row.skills.all()] == ["diesel"]
    assert inspection_add(by=lead, vehicle=None, kind="extinguishers", name="Portables").never_done
    with pytest.raises(ValidationError) as caught:
        inspection_add(by=lead, vehicle=vehicle, kind="service", name="Oil", interval_amount=5)
    assert "interval_meter" in caught.value.message_dict
    assert inspection_change(by=lead, inspection=row, name="Oil and filter").name == "Oil and filter"


def test_a_pass_renews_by_date_and_meter_whichever_first(mechanic, vehicle, today):
    row = InspectionFactory(
        vehicle=vehicle, interval_days=180, interval_meter="km", interval_amount=500, never_done=True
    )
    with pytest.raises(ValidationError) as caught:
        inspection_record(inspection=row, by=mechanic, done_on=today)
    assert "meter" in caught.value.message_dict
    MeterFactory(vehicle=vehicle, kind="km").readings.create(shown=40, total=9040, read_at=timezone.now())
    result = inspection_record(inspection=row, by=mechanic, done_on=today)
    row.refresh_from_db()
    assert (result.meter, row.due_on, row.due_at_meter, row.never_done) == (
        9040,
        today + 180 * DAY,
        9540,
        False,
    )
    inspection_record(inspection=row, by=mechanic, done_on=today, meter="9100.25", valid_through=today + DAY)
    row.refresh_from_db()
    assert (row.due_on, row.due_at_meter) == (today + DAY, Decimal("9600.25"))


def test_an_older_result_found_later_renews_nothing(mechanic, vehicle, today):
    row = InspectionFactory(vehicle=vehicle, last_on=today - 5 * DAY, due_on=today + 360 * DAY)
    inspection_record(inspection=row, by=mechanic, done_on=today - 50 * DAY)
    row.refresh_from_db()
    assert (row.last_on, row.due_on, row.results.count()) == (today - 5 * DAY, today + 360 * DAY, 1)


@pytest.mark.parametrize(
    ("minutes", "still_void"),
    [(-1, True), (0, True), (1, False)],
    ids=["before", "at the same moment", "after"],
)
def test_a_void_is_lifted_only_by_a_look_after_the_repair(minutes, still_void, mechanic, vehicle):
    moment = timezone.now() - dt.timedelta(hours=1)
    row = InspectionFactory(vehicle=vehicle, voided_at=moment, voided_why="repair")
    done_at = moment + dt.timedelta(minutes=minutes)
    inspection_record(inspection=row, by=mechanic, done_on=timezone.localdate(done_at), done_at=done_at)
    row.refresh_from_db()
    assert (row.voided_at is not None) is still_void


def test_a_day_without_its_hour_counts_as_its_start(mechanic, vehicle, today):
    """A repair and a look on the same past day: nobody knows which came first, so it stays void."""
    yesterday_noon = timezone.make_aware(dt.datetime.combine(today - DAY, dt.time(12)))
    row = InspectionFactory(vehicle=vehicle, voided_at=yesterday_noon, voided_why="repair")
    inspection_record(inspection=row, by=mechanic, done_on=today - DAY)
    row.refresh_from_db()
    assert row.voided_at is not None


def test_a_failed_one_ends_what_was_valid(mechanic, vehicle, today):
    row = InspectionFactory(vehicle=vehicle)
    with pytest.raises(ValidationError) as caught:
        inspection_record(inspection=row, by=mechanic, done_on=today, passed=False)
    assert "words" in caught.value.message_dict
    inspection_record(
        inspection=row, by=mechanic, done_on=today, passed=False, words="38 percent on the rear axle"
    )
    row.refresh_from_db()
    assert row.voided_at is not None
    assert "38 percent" in row.voided_why


def test_an_outside_one_leaves_its_certificate(coordinator, driver, vehicle, today):
    row = InspectionFactory(vehicle=vehicle, outside=True, booked_on=today)
    with pytest.raises(ValidationError) as caught:
        inspection_record(inspection=row, by=coordinator, done_on=today)
    assert "reference" in caught.value.message_dict
    with pytest.raises(PermissionDenied):
        inspection_record(inspection=row, by=driver, done_on=today)
    inspection_record(inspection=row, by=coordinator, done_on=today, by_name="Ivo Stern", reference="LE 9")
    row.refresh_from_db()
    assert row.booked_on is None


def test_days_that_cannot_be(mechanic, lead, vehicle, today):
    row = InspectionFactory(vehicle=vehicle)
    with pytest.raises(ValidationError, match="not come yet"):
        inspection_record(inspection=row, by=mechanic, done_on=today + DAY)
    with pytest.raises(ValidationError, match="not on the day"):
        inspection_record(inspection=row, by=mechanic, done_on=today - DAY, done_at=timezone.now())
    with pytest.raises(ValidationError, match="is past"):
        inspection_book(inspection=row, by=lead, day=today - DAY)
    assert inspection_book(inspection=row, by=lead, day=today).booked_on == today
    assert inspection_book(inspection=row, by=lead, day=None).booked_on is None
    with pytest.raises(ValidationError):
        inspection_void(inspection=row, by=mechanic, why="")
    assert inspection_void(inspection=row, by=mechanic, why="hose burst").voided_why == "hose burst"


class TestUseChecks:
    def test_nil_defect_is_said_or_faults_are(self, driver, vehicle, today):
        for wrong in ({}, {"nil_defect": True, "defects": [{"words": "x y"}]}):
            with pytest.raises(ValidationError) as caught:
                check_record(vehicle=vehicle, by=driver, kind="after use", for_day=today, **wrong)
            assert "nil_defect" in caught.value.message_dict
        check, found = check_record(
            vehicle=vehicle, by=driver, kind="after use", for_day=today, nil_defect=True
        )
        assert (check.nil_defect, check.by, found) == (True, driver, [])

    def test_faults_found_are_reported(self, driver, vehicle, today):
        check, (fault,) = check_record(
            vehicle=vehicle,
            by=driver,
            kind="first parade",
            for_day=today,
            defects=[{"words": "nearside lamp out"}],
        )
        assert (check.nil_defect, fault.source, fault.reported_by) == (False, "use check", driver)

    def test_done_again_it_is_added_to(self, driver, mechanic, vehicle, today):
        check_record(
            vehicle=vehicle, by=driver, kind="after use", for_day=today, nil_defect=True, words="all well"
        )
        check, _ = check_record(
            vehicle=vehicle,
            by=mechanic,
            kind="after use",
            for_day=today,
            defects=[{"words": "weeps"}],
            words="looked again",
        )
        assert (check.nil_defect, check.by, check.words) == (False, driver, "all well\nlooked again")
        again, _ = check_record(vehicle=vehicle, by=driver, kind="after use", for_day=today, nil_defect=True)
        assert not again.nil_defect

    def test_who_checks_what(self, cast, vehicle, today):
        expected = {
            "event": {"driver", "mechanic", "lead"},
            "first parade": {"driver", "mechanic", "lead"},
            "after use": {"driver", "mechanic", "lead"},
            "condition before": {"curator"},
            "condition after": {"curator"},
        }
        for kind, roles in expected.items():
            allowed = set()
            for role, person in vars(cast).items():
                try:
                    check_record(vehicle=vehicle, by=person, kind=kind, for_day=today, nil_defect=True)
                    allowed.add(role)
                except PermissionDenied:
                    pass
            assert allowed == roles, kind
        with pytest.raises(ValidationError):
            check_record(vehicle=vehicle, by=cast.lead, kind="weekly", for_day=today, nil_defect=True)

    def test_asking_twice_asks_once_and_overdue_is_after_the_day(self, driver, vehicle, today):
        rows = [(vehicle, "after use", today - DAY, None), (VehicleFactory(), "after use", today, None)]
        assert checks_ask(rows=rows) == 2
        assert checks_ask(rows=rows) == 0
        assert overdue(vehicle, today - DAY) is None
        assert overdue(vehicle, today).for_day == today - DAY
        check_record(vehicle=vehicle, by=driver, kind="after use", for_day=today - DAY, nil_defect=True)
        assert overdue(vehicle, today) is None
