"""What a sheet leans on: a doubtful fact says so, a corrected one marks what was built on it; earlier findings lift."""

import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.utils import timezone

from fleet.services.facts import fact_add, fact_correct
from maintenance.queries.which_part import unsettled, which_detail
from maintenance.queries.which_part_page import which_page
from maintenance.services.readings import measure_add, reading_add
from maintenance.services.which_part import (
    which_finish,
    which_from_reading,
    which_open,
    which_overrule,
    which_result,
    which_settle,
)
from tests.factories import VehicleFactory
from tests.maintenance.which.conftest import RUN
from tests.maintenance.which.test_run import chances, fill

pytestmark = pytest.mark.django_db


@pytest.fixture
def stamp(vehicle, lead):
    """What everybody knew about the stamp."""
    return fact_add(
        by=lead, vehicle=vehicle, about="stamp 2 on the front drums", value="wheel position 2", sureness="told",
        said_by="a former mechanic", source="",
    )  # fmt: skip


@pytest.fixture
def led_astray(stamp, brakes, cast):
    """The sheet opened while the stamp is believed."""
    brakes.sheet.delete()
    return which_open(by=cast.mechanic, vehicle=brakes.vehicle, template="brakes-pull", card=brakes.card)


def test_the_wrong_fact_would_have_cost_a_good_cylinder(led_astray, cast):
    run = list(RUN.items())
    fill(cast.mechanic, led_astray, run[:6])
    found = chances(led_astray)
    assert (found["C5"], found["C2"]) == pytest.approx((0.24, 0.42), abs=0.01)
    lean = which_page(which_detail(led_astray.pk)).leans[0]
    assert (lean.doubtful, lean.on) == (True, True)
    assert "would stand at 82% instead of 24%" in lean.otherwise
    fill(cast.mechanic, led_astray, run[6:])
    assert chances(led_astray)["C5"] == pytest.approx(0.86, abs=0.01)


def test_a_doubtful_fact_can_be_overruled(led_astray, cast):
    before = chances(led_astray)["C5"]
    which_overrule(by=cast.mechanic, sheet=led_astray, lean=0)
    assert before == pytest.approx(0.005 / (1 - 0.07 + 0.005))
    assert chances(led_astray)["C5"] == pytest.approx(0.07)


def test_correcting_the_fact_changes_open_sheets_and_marks_ended_ones(led_astray, stamp, cast):
    fill(cast.mechanic, led_astray, list(RUN.items())[:6])
    which_finish(by=cast.mechanic, sheet=led_astray, cause="C2", words="Cylinder changed.")
    assert list(unsettled()) == []
    fact_correct(
        by=cast.lead, fact=stamp, value="second oversize, bore +1.5 mm", sureness="measured",
        source="internal micrometer", reason="measured",
    )  # fmt: skip
    assert [row.pk for row in unsettled()] == [led_astray.pk]
    page = which_page(which_detail(led_astray.pk))
    assert page.unsettled
    assert page.corrected.value == "second oversize, bore +1.5 mm"
    assert page.verdict.startswith("Likeliest so far: Offside drum oversize with a standard lining, 82%")
    with pytest.raises(PermissionDenied):
        which_settle(by=cast.driver, sheet=led_astray, how="x")
    with pytest.raises(ValidationError, match="Write what was done"):
        which_settle(by=cast.lead, sheet=led_astray, how=" ")
    which_settle(by=cast.lead, sheet=led_astray, how="Drum changed too.")
    assert list(unsettled()) == []
    assert not which_page(which_detail(led_astray.pk)).unsettled


def test_an_unsettled_sheet_lifts_nothing_until_somebody_has_looked(led_astray, stamp, cast):
    which_finish(by=cast.mechanic, sheet=led_astray, cause="C2", words="Cylinder changed.")
    fact_correct(
        by=cast.lead,
        fact=stamp,
        value="second oversize",
        sureness="measured",
        source="micrometer",
        reason="measured",
    )
    assert which_open(by=cast.lead, vehicle=led_astray.vehicle, template="brakes-pull").lifts == []
    which_settle(by=cast.lead, sheet=led_astray, how="It was the cylinder as well.")
    assert which_open(by=cast.lead, vehicle=led_astray.vehicle, template="brakes-pull").lifts != []


def test_a_fact_put_right_before_the_sheet_is_no_lean(stamp, brakes, cast):
    fact_correct(
        by=cast.lead,
        fact=stamp,
        value="second oversize",
        sureness="measured",
        source="micrometer",
        reason="measured",
    )
    row = which_open(by=cast.mechanic, vehicle=brakes.vehicle, template="brakes-pull")
    assert (row.leans, row.facts.count()) == ([], 0)


def test_earlier_findings_lift_shrunk_and_can_be_overruled(brakes, cast):
    which_finish(by=cast.mechanic, sheet=brakes.sheet, cause="C5")
    like = VehicleFactory(code="V02", number="B 03", kind=brakes.vehicle.kind)
    other = which_open(by=cast.mechanic, vehicle=like, template="brakes-pull")
    # Ten findings' weight for the sheet, half a finding for one on a like vehicle: (10 x .07 + .5) / 10.5.
    assert chances(other)["C5"] == pytest.approx((0.7 + 0.5) / 10.5)
    which_finish(by=cast.mechanic, sheet=other, cause="C1")
    again = which_open(by=cast.mechanic, vehicle=brakes.vehicle, template="brakes-pull")
    assert chances(again)["C5"] == pytest.approx((0.7 + 1) / 11.5)
    assert chances(again)["C1"] == pytest.approx((1.0 + 0.5) / 11.5)
    page = which_page(which_detail(again.pk))
    assert [(one.name, one.found) for one in page.lifts] == [
        ("Offside hose choked inside", "found 1 on like vehicles"),
        ("Offside drum oversize with a standard lining", "found 1 on this vehicle"),
    ]
    which_overrule(by=cast.mechanic, sheet=again, lifts=False)
    assert chances(again)["C5"] == pytest.approx(0.07)


def test_another_kind_and_another_complaint_lift_nothing(brakes, cast):
    which_finish(by=cast.mechanic, sheet=brakes.sheet, cause="C5")
    kinds = [
        value
        for value in type(brakes.vehicle)._meta.get_field("kind").choices
        if value[0] != brakes.vehicle.kind
    ]
    far = VehicleFactory(code="V03", number="B 04", kind=kinds[0][0])
    assert which_open(by=cast.mechanic, vehicle=far, template="brakes-pull").lifts == []
    assert which_open(by=cast.mechanic, vehicle=brakes.vehicle, template="steering-wander").lifts == []


@pytest.fixture
def bores(vehicle, lead):
    return measure_add(
        by=lead, vehicle=vehicle, system="BRK", name="Front drum bore", judgement="spread", unit="mm", high="0.5",
        basis="difference", positions=["nearside", "offside"], source="brake sheet",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("values", "result"),
    [(["355.6", "357.1"], "more than 0.5 mm apart"), (["355.6", "355.9"], "alike within 0.5 mm")],
)
def test_a_reading_decides_by_its_own_limit(brakes, bores, cast, values, result):
    reading = reading_add(
        by=cast.mechanic, measure=bores, values=values, card=brakes.card, moment_of="as found"
    )
    row = which_from_reading(by=cast.mechanic, sheet=brakes.sheet, test="T7", reading=reading)
    assert (row.result, row.raw, row.unit, row.reading) == (result, "; ".join(values), "mm", reading)
    assert row.at == reading.at


def test_a_reading_that_does_not_belong_is_refused(brakes, bores, cast):
    reading = reading_add(by=cast.mechanic, measure=bores, values=["355.6", "357.1"])
    with pytest.raises(ValidationError, match="has no limit"):
        which_from_reading(by=cast.mechanic, sheet=brakes.sheet, test="T1", reading=reading)
    other = which_open(
        by=cast.mechanic, vehicle=VehicleFactory(code="V05", number="B 05"), template="brakes-pull"
    )
    with pytest.raises(ValidationError, match="another vehicle"):
        which_from_reading(by=cast.mechanic, sheet=other, test="T7", reading=reading)


def test_readings_are_offered_for_the_test_that_they_were_taken_for(brakes, bores, cast, login):
    reading_add(by=cast.mechanic, measure=bores, values=["355.6", "357.1"])
    old = timezone.now() - dt.timedelta(days=30)
    reading_add(by=cast.mechanic, measure=bores, values=["355.6", "355.7"], at=old)
    which_result(by=cast.mechanic, sheet=brakes.sheet, test="T6", result="nothing")
    page = login(cast.mechanic).get(f"/which-part/{brakes.sheet.pk}/").content.decode()
    assert page.count("Let this reading decide") == 1
