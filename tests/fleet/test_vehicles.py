import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from fleet.enums import MeterKind, VehicleStatus
from fleet.models import Act, Paper, Vehicle
from fleet.services.vehicles import (
    paper_set,
    subsystem_add,
    subsystem_change,
    tag_key_renew,
    vehicle_add,
    vehicle_change,
    vehicle_status_set,
)

pytestmark = pytest.mark.django_db


def test_a_vehicle_comes_with_its_systems_and_meters(lead):
    vehicle = vehicle_add(
        by=lead,
        code="V09",
        number="T 09",
        name="Heron",
        kind="half-track",
        meters=[MeterKind.KM, MeterKind.HOURS],
    )
    assert (vehicle.is_tracked, vehicle.is_steam) == (True, False)
    assert {"TRK", "WHL", "BRK.parking"} <= set(vehicle.subsystems.values_list("code", flat=True))
    parking = vehicle.subsystems.get(code="BRK.parking")
    assert (parking.parent.code, parking.serves, parking.group) == ("BRK", ["HOLD"], "BRK")
    assert sorted(vehicle.meters.values_list("kind", flat=True)) == ["hours", "km"]
    assert len(vehicle.tag_key) == 12


def test_what_is_wrong_names_its_field(lead, vehicle):
    with pytest.raises(ValidationError) as caught:
        vehicle_add(by=lead, code="V 1", number=vehicle.number, name="", kind="boat", year=12)
    assert sorted(caught.value.message_dict) == ["code", "kind", "name", "number", "year"]
    assert Vehicle.objects.count() == 1


def test_new_marks_bring_their_systems_and_take_none_away(lead, vehicle):
    before = set(vehicle.subsystems.values_list("code", flat=True))
    row = vehicle_change(by=lead, vehicle=vehicle, is_tracked=True, name="Thistle the Second")
    after = set(row.subsystems.values_list("code", flat=True))
    assert {"TRK", "STE.tracked"} <= after - before
    assert before <= after
    assert Act.objects.get(act="vehicle.change").detail == {
        "is_tracked": ["False", "True"],
        "name": ["Thistle", "Thistle the Second"],
    }


def test_standing_down_says_why(lead, mechanic, vehicle):
    with pytest.raises(ValidationError) as caught:
        vehicle_status_set(by=lead, vehicle=vehicle, status=VehicleStatus.STOOD_DOWN, reason=" ")
    assert "status_reason" in caught.value.message_dict
    with pytest.raises(PermissionDenied):
        vehicle_status_set(
            by=mechanic, vehicle=vehicle, status=VehicleStatus.STOOD_DOWN, reason="cracked block"
        )
    row = vehicle_status_set(
        by=lead,
        vehicle=vehicle,
        status=VehicleStatus.STOOD_DOWN,
        reason="cracked block",
        since=dt.date(2026, 4, 1),
    )
    assert (row.status, row.status_since) == (VehicleStatus.STOOD_DOWN, dt.date(2026, 4, 1))
    assert vehicle_status_set(by=lead, vehicle=vehicle, status=VehicleStatus.IN_SERVICE).status_reason == ""


def test_a_new_code_makes_the_printed_one_void(lead, vehicle):
    old = vehicle.tag_key
    new = tag_key_renew(by=lead, vehicle=vehicle).tag_key
    assert new != old
    assert not Vehicle.objects.filter(tag_key=old).exists()
    assert new not in str(Act.objects.get(act="vehicle.tag_key").detail)


def test_a_system_of_ones_own(lead, vehicle):
    first = subsystem_add(
        by=lead, vehicle=vehicle, code="ANC", name="Ground anchor", serves=["PULL"], hazards=["H22"]
    )
    second = subsystem_add(by=lead, vehicle=vehicle, code="ANC.spade", name="Spade")
    assert (second.parent, second.serves, second.hazards) == (first, ["PULL"], ["H22"])
    with pytest.raises(ValidationError, match="There is no system ZZZ"):
        subsystem_add(by=lead, vehicle=vehicle, code="ZZZ.x", name="X")
    with pytest.raises(ValidationError, match="Functions must be a list"):
        subsystem_change(by=lead, subsystem=first, serves=["FLY"])


def test_a_paper_of_a_kind_is_replaced(manager, driver, vehicle):
    paper_set(
        by=manager, vehicle=vehicle, kind="insurance", reference="A 1", valid_through=dt.date(2026, 1, 1)
    )
    paper_set(
        by=manager, vehicle=vehicle, kind="insurance", reference="A 2", valid_through=dt.date(2027, 1, 1)
    )
    assert list(Paper.objects.values_list("reference", "valid_through")) == [("A 2", dt.date(2027, 1, 1))]
    assert Act.objects.filter(act="paper.set").first().detail == {
        "paper": ["A 1 2026-01-01", "A 2 2027-01-01"]
    }
    with pytest.raises(PermissionDenied):
        paper_set(by=driver, vehicle=vehicle, kind="insurance")
