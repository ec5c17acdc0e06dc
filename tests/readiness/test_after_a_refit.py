"""A job on wheels that has passed holds the vehicle back from moving roles until its nuts are checked again."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone

from fleet.models import Meter, Person, Vehicle
from maintenance.models import Inspection
from maintenance.services import cards
from maintenance.services.inspections import inspection_record
from readiness.models import Event
from readiness.services.assessing import assess_event

pytestmark = pytest.mark.django_db
TOAD = "V10"


def standings(event: Event) -> dict[str, Any]:
    found = assess_event(event)["entries"]
    return {
        e["slot"]: (e["standing"], [r["code"] for r in e["reasons"]]) for e in found if e["vehicle"] == TOAD
    }


def test_the_board_says_it_until_the_check_is_done(demo: Event) -> None:
    vehicle = Vehicle.objects.get(code=TOAD)
    lead, hand = Person.objects.get(code="P02"), Person.objects.get(code="P06")
    before = standings(demo)
    assert {standing for standing, _ in before.values()} == {"fit"}
    Meter.objects.filter(vehicle=vehicle, kind="km").delete()
    card = cards.card_open(
        by=lead, vehicle=vehicle, title="Front tyres turned round", subsystem=vehicle.subsystems.get(code="WHL"),
        needs_functional_test=False, needs_road_test=False, second_area="", voids_readings=False,
    )  # fmt: skip
    cards.cautions_read(card=card, by=hand)
    cards.card_close(card=card, by=hand, outcome="done", words="Turned round, nuts tight.")
    held = standings(demo)
    moving = {slot for slot, (standing, _) in held.items() if standing != "fit"}
    assert moving
    assert all("inspection-voided" in held[slot][1] for slot in moving)
    inspection_record(inspection=Inspection.objects.get(once_for=card), by=hand, done_on=timezone.localdate())
    assert standings(demo) == before
