"""The usual inspections of a vehicle, and several jobs behind one opening taken in one go."""

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse

from maintenance.models import Inspection, JobCard
from maintenance.plan_template import USUAL, usual_for
from maintenance.services import cards
from maintenance.services.inspections import inspections_usual
from maintenance.services.together import cards_take_together
from tests.factories import CardFactory, VehicleFactory
from tests.maintenance.desk.handing_in import text


def keys(vehicle):
    return {one.key for one in usual_for(vehicle, (row.group for row in vehicle.subsystems.all()))}


def test_what_is_offered_follows_systems_and_marks(db):
    lorry = VehicleFactory(kind="lorry")
    assert {"brake reading", "wheels", "oil", "annual"} <= keys(lorry)
    assert not {"tracks", "boiler", "lifting", "co"} & keys(lorry)
    closed = VehicleFactory(kind="tracked", is_tracked=True, is_closed=True)
    assert {"tracks", "co"} <= keys(closed)
    assert "wheels" not in keys(closed)
    assert "lifting" in keys(VehicleFactory(lifts=True))
    assert "boiler" in keys(VehicleFactory(is_steam=True))
    assert len({one.key for one in USUAL}) == len(USUAL)


def test_set_up_once_and_never_done(vehicle, cast):
    made = inspections_usual(by=cast.lead, vehicle=vehicle, keys=["brake reading", "oil"])
    assert [(one.kind, one.interval_days, one.never_done) for one in made] == [
        ("brake reading", 365, True), ("service", 365, True),
    ]  # fmt: skip
    assert inspections_usual(by=cast.lead, vehicle=vehicle, keys=["brake reading", "oil"]) == []
    assert Inspection.objects.count() == 2
    with pytest.raises(ValidationError, match="at least one"):
        inspections_usual(by=cast.lead, vehicle=vehicle, keys=["wings"])
    with pytest.raises(PermissionDenied):
        inspections_usual(by=cast.mechanic, vehicle=vehicle, keys=["oil"])


def test_the_page(vehicle, cast, login):
    url = reverse("maintenance:inspections_usual", args=[vehicle.code])
    client = login(cast.coordinator)
    assert "local law decide" in text(client.get(url))
    assert client.post(url, {"keys": ["oil"]}).status_code == 302
    assert client.post(url, {"keys": []}).status_code == 422
    assert Inspection.objects.get().name == "Engine oil and filter"


@pytest.fixture
def behind(shed):
    more = [
        CardFactory(vehicle=shed.vehicle, access=shed.access, title=f"Behind {n}", state="booked in")
        for n in range(3)
    ]
    CardFactory(vehicle=VehicleFactory(), access=shed.access, title="Another vehicle", state="booked in")
    return more


def test_all_behind_one_opening(shed, behind, cast):
    cards.card_take(card=behind[2], by=cast.lead)
    taken, left = cards_take_together(card=shed.card, by=cast.mechanic)
    assert {one.pk for one in taken} == {shed.card.pk, behind[0].pk, behind[1].pk}
    assert [one.pk for one, _ in left] == [behind[2].pk]
    assert cast.lead.name in left[0][1]
    groups = set(
        JobCard.objects.filter(pk__in=[one.pk for one in taken]).values_list("access_group", flat=True)
    )
    assert len(groups) == 1
    assert "" not in groups
    assert JobCard.objects.get(title="Another vehicle").taken_by is None


def test_consent_leaves_one_and_nothing_to_open_is_refused(shed, behind, cast):
    JobCard.objects.filter(pk=behind[0].pk).update(needs_consent=True)
    _, left = cards_take_together(card=shed.card, by=cast.mechanic)
    assert [one.pk for one, _ in left] == [behind[0].pk]
    plain = CardFactory(vehicle=shed.vehicle, state="booked in")
    with pytest.raises(ValidationError, match="opens nothing"):
        cards_take_together(card=plain, by=cast.mechanic)


def test_a_trainee_takes_none_and_nothing_is_written(shed, behind, cast):
    cast.mechanic.is_trainee = True
    cast.mechanic.save()
    with pytest.raises(ValidationError, match="trainee"):
        cards_take_together(card=shed.card, by=cast.mechanic)
    assert not JobCard.objects.exclude(taken_by=None).exists()


def test_pressed_on_the_card(shed, behind, cast, login):
    client = login(cast.mechanic)
    page = client.get(reverse("maintenance:card", args=[shed.card.pk]))
    assert "Take these together" in text(page)
    answer = client.post(reverse("maintenance:take_together", args=[shed.card.pk]), follow=True)
    assert answer.status_code == 200
    assert JobCard.objects.filter(taken_by=cast.mechanic).count() == 4
    assert (
        login(cast.driver).post(reverse("maintenance:take_together", args=[shed.card.pk])).status_code == 403
    )
