"""A corrected fact lists every fault, job, put-off, limit and reading that was built on it, each to be settled."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from fleet.services.facts import fact_add, fact_correct
from maintenance.models import FactUse
from maintenance.services.facts import fact_use_add, fact_use_settle
from tests.factories import VehicleFactory
from tests.maintenance.desk.handing_in import text


@pytest.fixture
def fact(shed, cast):
    return fact_add(by=cast.mechanic, vehicle=shed.vehicle, about="stamp 2", value="wheel position 2")


OWNERS = ("defect", "card", "deferral", "measure", "reading")


def owner(shed, name):
    return {
        "defect": shed.assessed, "card": shed.card, "deferral": shed.put_off, "measure": shed.measure,
        "reading": shed.reading,
    }[name]  # fmt: skip


def test_each_kind_is_listed_once_and_asks_until_settled(shed, fact, cast, login):
    for name in OWNERS:
        for _ in range(2):
            fact_use_add(fact=fact, by=cast.mechanic, against=name == "reading", **{name: owner(shed, name)})
    assert FactUse.objects.count() == len(OWNERS)
    newer, uses = fact_correct(by=cast.lead, fact=fact, value="second oversize", reason="measured")
    assert {use.owner for use in uses} == {owner(shed, name) for name in OWNERS}
    client = login(cast.lead)
    page = reverse("fleet:fact", args=[shed.vehicle.code, newer.pk])
    before = text(client.get(page))
    assert before.count("Look at it, and settle it") == len(OWNERS)
    assert "speaks against it" in before
    for use in uses:
        url = reverse("maintenance:fact_use_end", args=[use.pk])
        assert client.post(url, {"how": ""}).status_code == 422
        assert client.post(url, {"how": "Measured again, as it should be."}).status_code == 302
    after = text(client.get(page))
    assert "Look at it" not in after
    assert after.count("Measured again") == len(OWNERS)


@pytest.mark.parametrize("name", OWNERS)
def test_nothing_of_another_vehicle(name, shed, cast):
    other = fact_add(by=cast.mechanic, vehicle=VehicleFactory(), about="a", value="b")
    with pytest.raises(ValidationError, match="another vehicle"):
        fact_use_add(fact=other, by=cast.mechanic, **{name: owner(shed, name)})


def test_one_thing_and_one_only(shed, fact, cast):
    for words in ({}, {"card": shed.card, "measure": shed.measure}, {"place": shed.card}):
        with pytest.raises(ValidationError, match="the one thing"):
            fact_use_add(fact=fact, by=cast.mechanic, **words)


def test_settling_says_how(shed, fact, cast):
    use = fact_use_add(fact=fact, by=cast.mechanic, card=shed.card)
    with pytest.raises(ValidationError, match="what was done"):
        fact_use_settle(use=use, by=cast.lead, how=" ")


def test_the_page_offers_what_can_rest_on_it(shed, fact, login, cast):
    client = login(cast.mechanic)
    url = reverse("maintenance:fact_use", args=[fact.pk])
    groups = dict(client.get(url).context["form"].fields["what"].choices)
    assert set(groups) == {"Jobs", "Faults", "What was put off", "Limits", "Readings"}
    chosen = groups["Limits"][0][0]
    assert client.post(url, {"what": chosen, "key": "k"}).status_code == 302
    assert client.post(url, {"what": "measure-99999", "key": "l"}).status_code == 422
    assert FactUse.objects.get().measure == shed.measure
    assert shed.measure.name in text(client.get(reverse("fleet:fact", args=[shed.vehicle.code, fact.pk])))
