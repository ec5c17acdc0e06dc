import datetime as dt

import pytest

from fleet.models import Serial
from fleet.services.serials import next_serial, serial_reserve

pytestmark = pytest.mark.django_db


def test_numbers_run_on_within_a_year_and_begin_anew_with_the_next():
    days = [dt.date(2026, 1, 1), dt.date(2026, 12, 31), dt.date(2027, 1, 1), dt.date(2026, 6, 1)]
    assert [next_serial(day) for day in days] == ["26/001", "26/002", "27/001", "26/003"]


def test_past_a_thousand_the_number_grows():
    Serial.objects.create(year=2026, last=999)
    assert next_serial(dt.date(2026, 5, 1)) == "26/1000"


def test_a_number_from_elsewhere_is_not_given_out_again():
    serial_reserve("26/041")
    serial_reserve("26/007")
    serial_reserve("not a number")
    assert next_serial(dt.date(2026, 5, 1)) == "26/042"
