"""What is original: kept with label and shelf when it comes off, moved, put back, parted with by the curator alone."""

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse

from fleet.models import Act
from maintenance.models import FabricPart, JobCard
from maintenance.services import cards, fabric
from tests.factories import VehicleFactory
from tests.maintenance.desk.handing_in import text


@pytest.fixture
def door(vehicle, cast):
    return fabric.fabric_part_set(
        by=cast.curator, vehicle=vehicle, name="Door", standing="original", hands_off=True
    )


def off(part, by, **more):
    return fabric.fabric_part_off(
        part=part, by=by, **{"label": "K 7", "shelf": "B 2", "reason": "rusted through"} | more
    )


@pytest.mark.parametrize("missing", ["label", "shelf", "reason"])
def test_removal_stops_on_label_and_shelf(missing, door, cast):
    with pytest.raises(ValidationError):
        off(door, cast.mechanic, **{missing: " "})
    assert FabricPart.objects.get().is_fitted


def test_off_moved_back_and_every_move_is_in_the_book(door, cast):
    off(door, cast.mechanic)
    with pytest.raises(ValidationError, match="off already"):
        off(door, cast.mechanic)
    fabric.fabric_part_move(part=door, by=cast.curator, shelf="C 1", why="damp")
    assert FabricPart.objects.get().shelf == "C 1"
    fabric.fabric_part_back(part=door, by=cast.mechanic)
    row = FabricPart.objects.get()
    assert (row.is_fitted, row.label, row.shelf) == (True, "", "")
    told = [act.act for act in Act.objects.filter(subject_kind="maintenance.fabricpart").order_by("pk")]
    assert told == ["fabric.part", "fabric.off", "fabric.move", "fabric.back"]
    assert Act.objects.get(act="fabric.move").detail["shelf"] == ["B 2", "C 1"]


@pytest.mark.parametrize("role", ["driver", "mechanic", "lead", "manager", "coordinator"])
def test_only_the_curator_parts_with_it(role, door, cast):
    off(door, cast.mechanic)
    with pytest.raises(PermissionDenied, match="curator"):
        fabric.fabric_part_dispose(part=door, by=getattr(cast, role), why="no room")
    fabric.fabric_part_dispose(part=door, by=cast.curator, why="given to the school")
    with pytest.raises(ValidationError):
        fabric.fabric_part_move(part=door, by=cast.curator, shelf="A")
    assert FabricPart.objects.get().label == "K 7", "the line stays"


def test_a_fitted_part_is_neither_moved_nor_parted_with(door, cast):
    for act in (
        lambda: fabric.fabric_part_move(part=door, by=cast.curator, shelf="A"),
        lambda: fabric.fabric_part_dispose(part=door, by=cast.curator, why="old"),
        lambda: fabric.fabric_part_back(part=door, by=cast.curator),
    ):
        with pytest.raises(ValidationError):
            act()


def test_asking_the_curator_stops_the_job(shed, cast):
    words = {"proposal": "New canvas", "alternatives": "stitch, support", "reversible": "partly"}
    with pytest.raises(ValidationError, match="thought of"):
        fabric.fabric_propose(card=shed.card, by=cast.mechanic, **words | {"alternatives": ""})
    with pytest.raises(ValidationError, match="undone"):
        fabric.fabric_propose(card=shed.card, by=cast.mechanic, **words | {"reversible": "maybe"})
    row = fabric.fabric_propose(card=shed.card, by=cast.mechanic, **words)
    assert (row.state, row.held_for, row.needs_consent, row.consent_answer) == ("held", "curator", True, "")
    with pytest.raises(ValidationError, match="curator"):
        cards.card_take(card=row, by=cast.mechanic)
    cards.consent_answer(card=row, by=cast.curator, answer="yes", words="Keep a sample.")
    assert JobCard.objects.get(pk=row.pk).state == "booked in"
    again = fabric.fabric_propose(card=shed.card, by=cast.mechanic, **words)
    assert again.consent_answer == "", "a new proposal asks anew"


def test_system_of_another_vehicle_is_refused(vehicle, cast):
    other = VehicleFactory()
    with pytest.raises(ValidationError, match="another vehicle"):
        fabric.fabric_part_set(by=cast.lead, vehicle=vehicle, name="Door", subsystem=other.subsystems.first())


def test_the_pages(shed, login, cast):
    client = login(cast.curator)
    url = reverse("maintenance:fabric", args=[shed.vehicle.code])
    data = {"name": "Door", "standing": "original", "hands_off": "on", "hazard": "lead paint", "key": "k"}
    assert client.post(url, data).status_code == 302
    assert client.post(url, data).status_code == 302
    row = FabricPart.objects.get()
    page = reverse("maintenance:fabric_part", args=[row.pk])
    act = lambda name: reverse("maintenance:fabric_act", args=[row.pk, name])  # noqa: E731
    assert "Do not polish, paint, grind or drill" in text(client.get(url))
    assert client.post(act("off"), {"label_": "K1", "shelf": "", "reason": "worn"}).status_code == 422
    assert client.post(act("off"), {"label_": "K1", "shelf": "B", "reason": "worn"}).status_code == 302
    assert "label K1" in text(client.get(url))
    assert client.post(act("move"), {"shelf": "D 4"}).status_code == 302
    assert "B to D 4" in text(client.get(page))
    assert client.post(act("off"), {}).status_code == 302, "off already: nothing is offered, nothing changed"
    assert client.post(act("part"), {"why": "sold"}).status_code == 302
    assert "Parted with" in text(client.get(url))
    assert login(cast.driver).get(page).status_code == 200
    assert login(cast.driver).post(act("back"), {}).status_code == 403
