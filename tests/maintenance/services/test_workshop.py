import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from maintenance.models import Access, Place
from maintenance.services.workshop import access_set, place_set, tool_back, tool_lend, tool_set

pytestmark = pytest.mark.django_db


def test_the_same_name_again_changes_it(coordinator, mechanic):
    pit = place_set(by=coordinator, name="pit")
    place_set(by=coordinator, name="pit", capacity=2)
    assert list(Place.objects.values_list("name", "capacity")) == [("pit", 2)]
    access_set(
        by=coordinator,
        name="pack lift",
        open_hours="7",
        close_hours="9",
        persons=2,
        place=pit,
        hazards=["H8"],
    )
    access_set(by=coordinator, name="pack lift", discovery="0.6")
    lift = Access.objects.get()
    assert (lift.person_hours, lift.discovery, lift.place, lift.hazards) == (32, Decimal("0.6"), pit, ["H8"])
    with pytest.raises(PermissionDenied):
        place_set(by=mechanic, name="yard")


def test_what_is_wrong_names_its_field(coordinator):
    for fields, field in (
        ({"hazards": ["H99"]}, "hazards"),
        ({"discovery": "2"}, "discovery"),
        ({"open_hours": "x"}, "open_hours"),
    ):
        with pytest.raises(ValidationError) as caught:
            access_set(by=coordinator, name="pack lift", **fields)
        assert field in caught.value.message_dict
    with pytest.raises(ValidationError) as none:
        place_set(by=coordinator, name="pit", capacity=0)
    assert "capacity" in none.value.message_dict


def test_a_tool_goes_out_and_comes_back(coordinator, mechanic, driver, manager):
    tool = tool_set(by=coordinator, name="drum puller", home="bay 2", keeper=manager)
    day = dt.date(2026, 5, 9)
    with pytest.raises(PermissionDenied):
        tool_lend(by=driver, tool=tool, to="Ivo")
    lent = tool_lend(by=mechanic, tool=tool, to="Ivo Stern", back_on=day)
    assert (lent.is_away(day - dt.timedelta(days=1)), lent.is_away(day)) == (True, False)
    with pytest.raises(ValidationError, match="is with Ivo Stern"):
        tool_lend(by=mechanic, tool=tool, to="somebody else")
    assert tool_back(by=manager, tool=tool).on_loan_to == ""
    with pytest.raises(ValidationError, match="is not out"):
        tool_back(by=mechanic, tool=tool)
