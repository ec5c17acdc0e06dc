"""Putting off by the ladder: limits, longest end, two people for a Serious one, and the words until both have signed."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from maintenance.models import Deferral
from maintenance.queries.deferrals import is_signed
from tests.factories import DefectFactory, PersonFactory
from tests.maintenance.desk.conftest import tomorrow
from tests.maintenance.desk.handing_in import page_form, text, typed


@pytest.fixture
def serious(shed):
    return DefectFactory(
        vehicle=shed.vehicle,
        title="Play at the wheel",
        effects={"STEER": "reduced"},
        severity=2,
        probability="C",
    )


@pytest.fixture
def low(shed):
    return DefectFactory(
        vehicle=shed.vehicle,
        title="Lamp glass cracked",
        effects={"SHOW": "reduced"},
        severity=4,
        probability="D",
    )


def url_of(defect):
    return reverse("maintenance:put_off", args=[defect.pk])


LIMIT = {"limits-0-kind": "static only"}


def filled(form, **over):
    start = {
        "probability_with": "E",
        "reason": "Parts are on order.",
        "ends_on": tomorrow(1).isoformat(),
        **LIMIT,
    }
    return typed(form, **{**start, **over})


def test_a_medium_one_is_put_off_by_the_lead_alone(shed, cast, login):
    client, url = login(cast.lead), reverse("maintenance:put_off", args=[shed.assessed.pk])
    data = filled(
        page_form(client, url),
        **{
            "limits-0-kind": "max speed",
            "limits-0-value": "15",
            "limits-2-kind": "free text",
            "limits-2-text": "drip tray",
        },
    )
    assert client.post(url, data).status_code == 302
    made = Deferral.objects.latest("pk")
    assert [limit.words for limit in made.limits.all()] == ["not above 15 km/h", "drip tray"]
    assert is_signed(made)
    # The one that stood before falls: another was signed in its place.
    shed.put_off.refresh_from_db()
    assert shed.put_off.withdrawn_at is not None


def test_twice_the_same_page_signs_once(shed, cast, login):
    client, url = login(cast.lead), reverse("maintenance:put_off", args=[shed.assessed.pk])
    data, before = filled(page_form(client, url)), Deferral.objects.count()
    assert [client.post(url, data).status_code for _ in range(2)] == [302, 302]
    assert Deferral.objects.count() == before + 1


def test_a_serious_one_signed_by_both_on_one_page(serious, cast, login, password):
    client = login(cast.lead)
    data = filled(
        page_form(client, url_of(serious)), second_person=str(cast.manager.pk), second_proof=password
    )
    assert client.post(url_of(serious), data).status_code == 302
    made = Deferral.objects.get(defect=serious)
    assert {(one.person_id, one.role) for one in made.signatures.all()} == {
        (cast.lead.pk, "lead"),
        (cast.manager.pk, "manager"),
    }
    assert "In force through" in text(client.get(reverse("maintenance:defect", args=[serious.pk])))


def test_a_wrong_proof_signs_nothing_and_keeps_the_rest(serious, cast, login):
    client = login(cast.lead)
    data = filled(
        page_form(client, url_of(serious)), second_person=str(cast.manager.pk), second_proof="not it"
    )
    answer = client.post(url_of(serious), data)
    assert answer.status_code == 422
    assert "not the password or PIN of Dagny Moss" in text(answer)
    assert "Parts are on order." in answer.content.decode()
    assert "not it" not in answer.content.decode()
    assert not Deferral.objects.filter(defect=serious).exists()


def test_a_second_signer_without_proof_is_asked_for_it(serious, cast, login):
    client = login(cast.lead)
    answer = client.post(
        url_of(serious), filled(page_form(client, url_of(serious)), second_person=str(cast.manager.pk))
    )
    assert answer.status_code == 422
    assert "Let them type it here" in text(answer)


def test_who_is_not_a_manager_is_no_second_signer(serious, cast, login, password):
    client = login(cast.lead)
    data = filled(
        page_form(client, url_of(serious)), second_person=str(cast.coordinator.pk), second_proof=password
    )
    assert client.post(url_of(serious), data).status_code == 422
    assert not Deferral.objects.filter(defect=serious).exists()


def test_signed_by_one_it_is_not_in_force_until_the_other_signs(serious, cast, login):
    lead, manager = login(cast.lead), login(cast.manager)
    assert lead.post(url_of(serious), filled(page_form(lead, url_of(serious)))).status_code == 302
    made = Deferral.objects.get(defect=serious)
    page = reverse("maintenance:defect", args=[serious.pk])
    assert "Not in force yet: the manager has not signed." in text(lead.get(page))
    assert [line.row.pk for line in manager.get(reverse("maintenance:defects")).context["to_sign"]] == [
        made.pk
    ]
    sign = reverse("maintenance:put_off_sign", args=[made.pk])
    assert login(cast.coordinator).post(sign).status_code == 403
    assert "Your signature is on it" in text(lead.get(sign))
    assert [manager.post(sign, {}).status_code for _ in range(2)] == [302, 200]
    assert is_signed(made)
    assert made.signatures.count() == 2
    assert "In force through" in text(lead.get(page))


def test_one_person_with_both_duties_signs_once(serious, login):
    both = PersonFactory(name="Hild Gorse", code="both", username="both", is_lead=True, is_manager=True)
    client = login(both)
    assert client.post(url_of(serious), filled(page_form(client, url_of(serious)))).status_code == 302
    made = Deferral.objects.get(defect=serious)
    assert not is_signed(made)
    assert client.post(reverse("maintenance:put_off_sign", args=[made.pk]), {}).status_code == 200
    assert made.signatures.count() == 1


@pytest.mark.parametrize(
    ("which", "may"),
    [("serious", {"lead", "manager"}), ("low", {"mechanic", "lead"})],
)
def test_the_ladder_says_who_signs(which, may, request, cast, login):
    defect = request.getfixturevalue(which)
    roles = ("driver", "mechanic", "lead", "coordinator", "manager", "curator", "administrator")
    assert {
        role for role in roles if login(getattr(cast, role)).get(url_of(defect)).status_code == 200
    } == may
    for role in set(roles) - may:
        data = {
            "probability_with": "E",
            "reason": "Parts are on order.",
            "ends_on": tomorrow(1).isoformat(),
            **LIMIT,
        }
        assert login(getattr(cast, role)).post(url_of(defect), data).status_code == 403
    assert not Deferral.objects.filter(defect=defect).exists()


def test_a_trainee_mechanic_signs_nothing(low, login):
    trainee = PersonFactory(is_mechanic=True, is_trainee=True)
    assert login(trainee).get(url_of(low)).status_code == 403


def test_high_is_refused_whoever_asks(shed, cast, login):
    high = DefectFactory(vehicle=shed.vehicle, effects={"STOP": "lost"}, severity=1, probability="B")
    client = login(cast.lead)
    assert "may not be put off, whoever signs" in text(client.get(url_of(high)))
    assert client.post(url_of(high), {"probability_with": "E", **LIMIT}).status_code == 422
    assert not Deferral.objects.filter(defect=high).exists()


def test_what_is_not_assessed_is_not_put_off(shed, cast, login):
    answer = login(cast.lead).post(url_of(shed.reported), {"probability_with": "E", **LIMIT})
    assert answer.status_code == 422
    assert "It must be assessed first" in text(answer)


def test_the_longest_end_follows_the_letter_and_the_limits(shed, cast, login):
    client, today = login(cast.lead), timezone.localdate()

    def longest(**data):
        return client.get(url_of(shed.assessed), {"part": "longest", **data}).context["longest"]

    assert longest(probability_with="C") == today + dt.timedelta(days=90)
    assert longest(probability_with="C", **LIMIT) == today + dt.timedelta(days=180)
    assert longest(probability_with="") is None


def test_an_end_past_the_longest_is_refused_with_the_day(shed, cast, login):
    client = login(cast.lead)
    late = (timezone.localdate() + dt.timedelta(days=181)).isoformat()
    answer = client.post(
        url_of(shed.assessed), filled(page_form(client, url_of(shed.assessed)), ends_on=late)
    )
    assert answer.status_code == 422
    assert "The longest allowed is to" in text(answer)


@pytest.mark.parametrize(
    ("over", "said"),
    [
        ({"limits-0-kind": ""}, "at least one limit"),
        ({"limits-0-kind": "max speed"}, "write a figure above nought"),
        ({"limits-0-kind": "max speed", "limits-0-value": "fast"}, "fast is not a number"),
        ({"limits-0-kind": "named driver"}, "name the driver"),
        ({"limits-1-text": "mind the step"}, "Say which kind of limit this is"),
        ({"reason": "later"}, "Write why it is put off"),
        ({"ends_on": "2001-01-01"}, "ends before it is signed"),
    ],
)
def test_what_is_missing_is_told_at_its_place(shed, cast, login, over, said):
    client, before = login(cast.lead), Deferral.objects.count()
    answer = client.post(url_of(shed.assessed), filled(page_form(client, url_of(shed.assessed)), **over))
    assert answer.status_code == 422
    assert said in text(answer)
    assert Deferral.objects.count() == before


def test_its_jobs_may_be_carried_forward_with_it(shed, cast, login):
    client = login(cast.lead)
    client.post(
        url_of(shed.assessed), filled(page_form(client, url_of(shed.assessed)), cards=[str(shed.card.pk)])
    )
    shed.card.refresh_from_db()
    assert shed.card.state == "carried forward"


def test_renewed_with_the_old_limits_and_a_new_signature(shed, cast, login):
    client, url = login(cast.lead), reverse("maintenance:put_off_renew", args=[shed.put_off.pk])
    form = page_form(client, url)
    assert form["limits-0-kind"].value() == "max speed"
    assert form["limits-0-value"].value() == "20"
    assert (
        client.post(url, typed(form, reason="Still on order.", ends_on=tomorrow(40).isoformat())).status_code
        == 302
    )
    made = Deferral.objects.latest("pk")
    assert (made.renews, made.ends_on) == (shed.put_off, tomorrow(40))
    assert [limit.words for limit in made.limits.all()] == ["not above 20 km/h"]


def test_withdrawn_by_lead_or_manager_with_a_reason(shed, cast, login):
    url = reverse("maintenance:put_off_withdraw", args=[shed.put_off.pk])
    assert login(cast.mechanic).post(url, {"reason": "It got worse."}).status_code == 403
    client = login(cast.manager)
    assert client.post(url, {"reason": ""}).status_code == 422
    assert client.post(url, {"reason": "It got worse."}).status_code == 302
    assert "Withdrawn: It got worse." in text(
        client.get(reverse("maintenance:defect", args=[shed.assessed.pk]))
    )


def test_ended_is_said(shed, cast, login):
    Deferral.objects.filter(pk=shed.put_off.pk).update(ends_on=tomorrow(-1), signed_on=tomorrow(-9))
    said = text(login(cast.driver).get(reverse("maintenance:defect", args=[shed.assessed.pk])))
    assert "The fault gates again." in said
