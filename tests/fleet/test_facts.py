import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from fleet.enums import Sureness
from fleet.models import Act, Fact
from fleet.services.facts import fact_add, fact_correct
from maintenance.services.facts import fact_use_add, fact_use_settle
from tests.factories import CardFactory, DefectFactory, VehicleFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def fact(mechanic, vehicle) -> Fact:
    return fact_add(
        by=mechanic,
        vehicle=vehicle,
        about="stamp 2 on the drum",
        value="wheel position 2",
        said_by="a mechanic who has left",
    )


def test_a_correction_leaves_the_old_one_and_names_what_was_built_on_it(fact, mechanic, lead, vehicle):
    card = CardFactory(vehicle=vehicle)
    defect = DefectFactory(vehicle=vehicle)
    settled = fact_use_add(fact=fact, by=mechanic, card=CardFactory(vehicle=vehicle))
    fact_use_settle(use=settled, by=lead, how="relined since")
    first, second = (
        fact_use_add(fact=fact, by=mechanic, card=card),
        fact_use_add(fact=fact, by=mechanic, defect=defect),
    )
    assert fact_use_add(fact=fact, by=mechanic, card=card) == first
    new, uses = fact_correct(
        by=lead, fact=fact, value="second oversize, bore +1.5 mm", reason="measured on both drums",
        source="internal micrometer", recorded_on=dt.date(2026, 4, 1),
    )  # fmt: skip
    assert uses == [first, second]
    assert (new.corrects, new.about, new.sureness) == (fact, "stamp 2 on the drum", Sureness.MEASURED)
    fact.refresh_from_db()
    assert fact.value == "wheel position 2"
    assert Act.objects.get(act="fact.correct").detail["uses to look at"] == 2


def test_a_correction_says_why_and_says_something_new_and_is_made_once(fact, lead):
    with pytest.raises(ValidationError) as why:
        fact_correct(by=lead, fact=fact, value="x", reason=" ")
    assert "reason" in why.value.message_dict
    with pytest.raises(ValidationError, match="written already"):
        fact_correct(by=lead, fact=fact, value="wheel position 2", reason="looked")
    fact_correct(by=lead, fact=fact, value="x", reason="looked", recorded_on=dt.date(2026, 4, 1))
    with pytest.raises(ValidationError, match="corrected on 1 April 2026 already"):
        fact_correct(by=lead, fact=fact, value="y", reason="looked")


def test_who_knows_and_who_corrects(fact, driver, vehicle):
    fact_add(by=driver, vehicle=vehicle, about="dipstick", value="lower line is least")
    with pytest.raises(PermissionDenied):
        fact_correct(by=driver, fact=fact, value="x", reason="looked")


def test_things_of_another_vehicle_are_refused(fact, mechanic):
    other = VehicleFactory()
    with pytest.raises(ValidationError, match="another vehicle"):
        fact_add(by=mechanic, vehicle=fact.vehicle, about="a", value="b", subsystem=other.subsystems.first())
    with pytest.raises(ValidationError, match="another vehicle"):
        fact_use_add(fact=fact, by=mechanic, card=CardFactory(vehicle=other))
    with pytest.raises(ValidationError, match="the one thing"):
        fact_use_add(fact=fact, by=mechanic)
