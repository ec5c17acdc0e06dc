import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from fleet.errors import Conflict
from fleet.models import Act
from maintenance.enums import CardState, NeedState
from maintenance.services import parts
from tests.factories import CardFactory, PartNeedFactory, VehicleFactory

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 5, 4)


def held(**fields):
    return CardFactory(state=CardState.HELD, held_for="part", **fields)


def state(card):
    card.refresh_from_db()
    return card.state


def test_from_needed_to_the_shelf_and_the_job_goes_on(mechanic, coordinator):
    card = held(taken_by=mechanic)
    part = parts.part_need_add(by=mechanic, card=card, name="gasket set", lead_days=20)
    other = parts.part_need_add(by=mechanic, card=card, name="studs")
    assert (part.vehicle, part.state) == (card.vehicle, NeedState.NOT_ORDERED)
    with pytest.raises(PermissionDenied, match="order a part"):
        parts.part_ordered(part=part, by=mechanic, promised_on=DAY)
    parts.part_ordered(part=part, by=coordinator, promised_on=DAY, ordered_on=DAY, supplier="Kettle and Sons")
    parts.part_promised(part=part, by=coordinator, promised_on=DAY + dt.timedelta(days=9), note="rang them")
    part.refresh_from_db()
    assert (part.state, part.promised_on, part.supplier.name) == (
        NeedState.ON_ORDER,
        dt.date(2026, 5, 13),
        "Kettle and Sons",
    )
    assert Act.objects.get(act="part.promise").detail["promised"] == ["2026-05-04", "2026-05-13"]
    with pytest.raises(ValidationError) as caught:
        parts.part_received(part=part, by=mechanic, bin=" ")
    assert "bin" in caught.value.message_dict
    parts.part_received(part=part, by=mechanic, bin="C4")
    assert state(card) == CardState.HELD
    parts.part_not_needed(part=other, by=mechanic)
    assert state(card) == CardState.IN_HAND


def test_promised_before_ordered(coordinator):
    with pytest.raises(ValidationError) as caught:
        parts.part_ordered(
            part=PartNeedFactory(), by=coordinator, promised_on=DAY, ordered_on=DAY + dt.timedelta(days=1)
        )
    assert "promised_on" in caught.value.message_dict
    with pytest.raises(ValidationError) as none:
        parts.part_need_add(by=coordinator, name="x", state=NeedState.ON_ORDER)
    assert "promised_on" in none.value.message_dict


def test_a_part_sent_away(coordinator):
    part = parts.part_ordered(
        part=PartNeedFactory(), by=coordinator, promised_on=DAY, ordered_on=DAY, out_for_repair=True
    )
    assert part.state == NeedState.OUT_FOR_REPAIR
    with pytest.raises(ValidationError, match="not on order"):
        parts.part_promised(part=PartNeedFactory(), by=coordinator, promised_on=DAY)


def test_one_that_is_kept_for_another_job_is_not_free(mechanic):
    keeper, wanting = CardFactory(), held()
    part = PartNeedFactory(card=keeper, state=NeedState.ON_SHELF, bin="C4")
    with pytest.raises(Conflict, match="is kept for"):
        parts.part_reserve(part=part, card=wanting, by=mechanic)
    keeper.state = CardState.NOT_NEEDED
    keeper.save()
    row = parts.part_reserve(part=part, card=wanting, by=mechanic)
    assert (row.card, row.vehicle) == (wanting, wanting.vehicle)
    assert state(wanting) == CardState.BOOKED_IN
    with pytest.raises(ValidationError, match="not on the shelf"):
        parts.part_reserve(part=PartNeedFactory(), card=wanting, by=mechanic)


def test_whether_it_is_needed_shows_on_opening(mechanic):
    part = parts.part_unknown(part=PartNeedFactory(), by=mechanic, note="tray not looked at")
    assert (part.state, part.note) == (NeedState.UNKNOWN, "tray not looked at")
    assert parts.part_wanted(part=part, by=mechanic).state == NeedState.NOT_ORDERED
    with pytest.raises(ValidationError, match="fitted already"):
        parts.part_unknown(part=PartNeedFactory(state=NeedState.FITTED), by=mechanic)
    for done in (NeedState.FITTED, NeedState.ON_SHELF):
        with pytest.raises(ValidationError, match="already"):
            parts.part_received(part=PartNeedFactory(state=done), by=mechanic, bin="C4")


def test_two_at_the_counter(coordinator):
    part = PartNeedFactory()
    parts.part_ordered(part=part, by=coordinator, promised_on=DAY, ordered_on=DAY, expected_version=1)
    with pytest.raises(Conflict) as caught:
        parts.part_ordered(part=part, by=coordinator, promised_on=DAY, ordered_on=DAY, expected_version=1)
    assert caught.value.changed[0].startswith("Corin Vale ordered the part,")


def test_robbing_is_written_on_both(lead, mechanic):
    donor, card = VehicleFactory(number="B 77"), held()
    with pytest.raises(PermissionDenied):
        parts.part_robbed(
            donor=donor, card=card, by=mechanic, name="dynamo", reason="for the parade", bin="C1"
        )
    need, defect = parts.part_robbed(
        donor=donor, card=card, by=lead, name="dynamo", reason="for the parade", bin="C1"
    )
    assert (need.state, need.card, need.vehicle) == (NeedState.ON_SHELF, card, card.vehicle)
    assert (defect.vehicle, defect.state) == (donor, "reported")
    assert defect.title.startswith("dynamo taken for ")
    assert "B\u00a077" in need.note
    assert state(card) == CardState.BOOKED_IN
    with pytest.raises(ValidationError, match="same vehicle"):
        parts.part_robbed(donor=card.vehicle, card=card, by=lead, name="x", reason="x y", bin="C1")
