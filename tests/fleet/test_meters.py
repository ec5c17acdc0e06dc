import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.services.meters import decimal, meter_add, meter_read, outing_add
from tests.factories import MeterFactory

pytestmark = pytest.mark.django_db


def at(day: int) -> dt.datetime:
    return timezone.now() - dt.timedelta(days=100 - day)


@pytest.fixture
def meter(vehicle):
    return MeterFactory(vehicle=vehicle)


def test_the_total_follows_what_is_shown(driver, meter):
    totals = [
        meter_read(by=driver, meter=meter, shown=shown, read_at=at(day)).total
        for day, shown in [(1, "4046.8"), (2, "4046.8"), (3, "4047.9")]
    ]
    assert totals == [Decimal("4046.8"), Decimal("4046.8"), Decimal("4047.9")]


def test_a_lower_figure_is_refused_in_plain_words(driver, meter):
    meter_read(by=driver, meter=meter, shown="902", read_at=at(1))
    with pytest.raises(ValidationError) as caught:
        meter_read(by=driver, meter=meter, shown="901.9", read_at=at(2))
    (sentence,) = caught.value.message_dict["shown"]
    assert "showed 902 on" in sentence
    assert "901.9 is lower" in sentence
    assert "If the meter itself was changed, say so" in sentence
    assert meter.readings.count() == 1


def test_a_changed_meter_goes_on_from_the_old_total(driver, meter):
    meter_read(by=driver, meter=meter, shown="9990", read_at=at(1))
    changed = meter_read(
        by=driver, meter=meter, shown="3", old_last="9994.5", meter_changed=True, read_at=at(2)
    )
    after = meter_read(by=driver, meter=meter, shown="10.25", read_at=at(3))
    assert (changed.total, after.total) == (Decimal("9994.5"), Decimal("10001.75"))


def test_a_changed_meter_whose_last_figure_nobody_read(driver, meter):
    meter_read(by=driver, meter=meter, shown="9990", read_at=at(1))
    assert meter_read(by=driver, meter=meter, shown="0", meter_changed=True, read_at=at(2)).total == 9990
    with pytest.raises(ValidationError) as caught:
        meter_read(by=driver, meter=meter, shown="0", old_last="-1", meter_changed=True, read_at=at(3))
    assert "old_last" in caught.value.message_dict


def test_a_late_reading_is_set_between_its_neighbours(driver, meter):
    meter_read(by=driver, meter=meter, shown="100", read_at=at(1))
    meter_read(by=driver, meter=meter, shown="120", read_at=at(9))
    assert meter_read(by=driver, meter=meter, shown="110", read_at=at(5)).total == 110
    with pytest.raises(ValidationError, match="showed 120 later"):
        meter_read(by=driver, meter=meter, shown="121", read_at=at(6))
    with pytest.raises(ValidationError, match="A later reading is on file"):
        meter_read(by=driver, meter=meter, shown="1", meter_changed=True, read_at=at(6))


def test_a_time_that_has_not_come(driver, meter):
    with pytest.raises(ValidationError) as caught:
        meter_read(by=driver, meter=meter, shown="1", read_at=timezone.now() + dt.timedelta(hours=1))
    assert "read_at" in caught.value.message_dict


@pytest.mark.parametrize("text", ["", "abc", "nan", "inf", "1,5", "--2"])
def test_what_is_no_number_is_told(driver, meter, text):
    with pytest.raises(ValidationError) as caught:
        meter_read(by=driver, meter=meter, shown=text)
    assert "shown" in caught.value.message_dict


def test_a_figure_below_nought_and_a_float(driver, meter):
    with pytest.raises(ValidationError) as caught:
        meter_read(by=driver, meter=meter, shown="-1")
    assert "shown" in caught.value.message_dict
    with pytest.raises(TypeError, match="not a float"):
        decimal(0.1, "hours")  # type: ignore[arg-type]
    assert decimal("18 204", "km") == 18204


def test_a_reading_is_never_changed(driver, meter):
    row = meter_read(by=driver, meter=meter, shown="5")
    row.shown = Decimal(4)
    with pytest.raises(ValidationError, match="never changed"):
        row.save()


def test_who_reads_and_who_adds(cast, vehicle):
    meter = meter_add(by=cast.coordinator, vehicle=vehicle, kind="km")
    for role in ("driver", "mechanic", "lead", "coordinator"):
        meter_read(by=getattr(cast, role), meter=meter, shown="7")
    for role in ("manager", "curator", "administrator"):
        with pytest.raises(PermissionDenied):
            meter_read(by=getattr(cast, role), meter=meter, shown="7")
    with pytest.raises(ValidationError, match="already exists"):
        meter_add(by=cast.lead, vehicle=vehicle, kind="km")


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=st.lists(st.tuples(st.decimals(0, 500, places=1), st.booleans()), min_size=1, max_size=8))
def test_the_total_never_falls_and_sums_what_was_driven(driver, vehicle, steps):
    """Whatever the meter shows and however often it is changed, the total is the distance truly driven."""
    meter = MeterFactory(vehicle=vehicle, kind="km")
    try:
        shown = true = Decimal(0)
        meter_read(by=driver, meter=meter, shown=0, read_at=at(0))
        for number, (driven, change) in enumerate(steps, start=1):
            true += driven
            if change:
                row = meter_read(
                    by=driver,
                    meter=meter,
                    shown=0,
                    old_last=shown + driven,
                    meter_changed=True,
                    read_at=at(number),
                )
                shown = Decimal(0)
            else:
                shown += driven
                row = meter_read(by=driver, meter=meter, shown=shown, read_at=at(number))
            assert row.total == true
    finally:
        meter.delete()


def test_an_outing(driver, vehicle):
    row = outing_add(
        by=driver, vehicle=vehicle, day=dt.date(2026, 5, 2), hours="1.25", km="18", driver=driver
    )
    assert (row.hours, row.km) == (Decimal("1.25"), Decimal(18))
    with pytest.raises(ValidationError, match="not come yet"):
        outing_add(by=driver, vehicle=vehicle, day=dt.date(2099, 1, 1))
