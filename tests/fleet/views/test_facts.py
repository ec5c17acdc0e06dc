import pytest

from fleet.models import Fact
from fleet.services.facts import fact_add, fact_correct
from maintenance.models import FactUse
from tests.factories import CardFactory, VehicleFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def gap(lead, vehicle):
    return fact_add(
        by=lead, vehicle=vehicle, about="Contact breaker gap", value="0.35 mm", source="painted in the locker"
    )


def test_adding_a_fact(login, driver, vehicle):
    typed = {
        "about": "Wheel nuts",
        "value": "left-handed",
        "sureness": "read",
        "subsystem": vehicle.subsystems.get(code="WHL").pk,
    }
    assert login(driver).post("/vehicles/V01/facts/", typed).status_code == 302
    row = Fact.objects.get()
    assert (row.value, row.subsystem.code, row.recorded_by) == ("left-handed", "WHL", driver)


def test_another_vehicles_system_is_refused(login, driver, vehicle):
    other = VehicleFactory()
    typed = {"about": "x", "value": "y", "sureness": "read", "subsystem": other.subsystems.first().pk}
    assert login(driver).post("/vehicles/V01/facts/", typed).status_code == 422


def test_a_correction_rules_the_old_through_and_lists_its_uses(login, lead, gap):
    card = CardFactory(vehicle=gap.vehicle)
    FactUse.objects.create(fact=gap, card=card)
    answer = login(lead).post(
        f"/vehicles/V01/facts/{gap.pk}/correct/",
        {"value": "0.45 mm", "reason": "later distributor", "sureness": "measured"},
    )
    newer = Fact.objects.get(corrects=gap)
    assert answer.url == f"/vehicles/V01/facts/{newer.pk}/"
    page = login(lead).get(answer.url).content.decode()
    assert "0.35 mm</del>" in page
    assert "<ins>0.45 mm</ins>" in page
    assert "to look at" in page
    assert str(card) in page
    listed = login(lead).get("/vehicles/V01/facts/").content.decode()
    assert "1 use of the old one to look at" in listed


def test_the_old_address_shows_the_same_fact(login, lead, gap):
    newer, _ = fact_correct(by=lead, fact=gap, value="0.45 mm", reason="later distributor")
    pages = [
        login(lead).get(f"/vehicles/V01/facts/{pk}/").context["known"].fact.pk for pk in (gap.pk, newer.pk)
    ]
    assert pages == [newer.pk, newer.pk]


@pytest.mark.parametrize(
    ("value", "reason", "said"),
    [("0.35 mm", "no", "written already"), ("0.5 mm", "  ", "required"), ("", "why", "required")],
)
def test_a_correction_that_is_refused(login, lead, gap, value, reason, said):
    page = login(lead).post(
        f"/vehicles/V01/facts/{gap.pk}/correct/", {"value": value, "reason": reason, "sureness": "measured"}
    )
    assert (page.status_code, said in page.content.decode()) == (422, True)
    assert Fact.objects.count() == 1


def test_a_fact_is_corrected_once(login, lead, gap):
    fact_correct(by=lead, fact=gap, value="0.45 mm", reason="later distributor")
    page = login(lead).post(
        f"/vehicles/V01/facts/{gap.pk}/correct/",
        {"value": "0.5 mm", "reason": "again", "sureness": "measured"},
    )
    assert (page.status_code, "Correct the newer one" in page.content.decode()) == (422, True)


def test_a_fact_of_another_vehicle_is_not_found(login, lead, gap):
    other = VehicleFactory(systems=False)
    assert login(lead).get(f"/vehicles/{other.code}/facts/{gap.pk}/").status_code == 404
    assert login(lead).get(f"/vehicles/{other.code}/facts/{gap.pk}/correct/").status_code == 404
