"""Hands from outside: asked, awaited, coming on a day, been, or come to nothing; what waits for them is told."""

import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse
from django.utils import timezone

from maintenance.models import Inspection, JobCard, OutsideHand
from maintenance.queries.outside import outside_page, unanswered
from maintenance.services import outside
from readiness.digest_words import coordinator as letter_of
from readiness.queries.reminders import told
from tests.factories import VehicleFactory
from tests.maintenance.desk.conftest import tomorrow
from tests.maintenance.desk.handing_in import page_form, text, typed


def ask(by, **more):
    return outside.outside_ask(
        by=by, **{"kind": "examiner", "who": "Fell and Daughter", "about": "crane"} | more
    )


def test_a_day_reaches_the_job_and_leaves_it_again(shed, cast):
    hand = ask(cast.coordinator, card=shed.card)
    assert (hand.vehicle, JobCard.objects.get(pk=shed.card.pk).outside_on) == (shed.vehicle, None)
    outside.outside_appoint(hand=hand, by=cast.coordinator, comes_on=tomorrow(4))
    card = JobCard.objects.get(pk=shed.card.pk)
    assert (card.outside_on, card.outside_who) == (tomorrow(4), "Fell and Daughter")
    outside.outside_off(hand=hand, by=cast.lead, note="Van broke down.")
    card = JobCard.objects.get(pk=shed.card.pk)
    assert (card.outside_on, card.outside_who) == (None, "")


def test_a_day_reaches_the_inspection(shed, cast):
    hand = ask(cast.lead, inspection=shed.inspection, comes_on=tomorrow(2))
    assert (hand.state, Inspection.objects.get(pk=shed.inspection.pk).booked_on) == ("appointed", tomorrow(2))
    outside.outside_came(hand=hand, by=cast.lead, note="Report to follow")
    assert OutsideHand.objects.get().ended_at is not None
    with pytest.raises(ValidationError, match="Ask them anew"):
        outside.outside_appoint(hand=hand, by=cast.lead, comes_on=tomorrow(5))


def test_no_answer_speaks_up(cast, shed):
    today = timezone.localdate()
    quiet = ask(cast.lead, asked_on=today - dt.timedelta(days=8), card=shed.card)
    early = ask(cast.lead, asked_on=today - dt.timedelta(days=7), who="Another")
    wanted = ask(cast.lead, asked_on=today - dt.timedelta(days=20), answer_by=today, who="Third")
    assert [line.hand for line in unanswered(today)] == [quiet]
    assert [line.hand for line in outside_page(today).awaited] == [quiet, wanted, early]
    assert {line.hand for line in unanswered(today + dt.timedelta(days=1))} == {quiet, early, wanted}
    now = timezone.localtime().replace(tzinfo=None)
    lines = [line.words for line in letter_of(told(now), cast.coordinator, today)]
    assert any(line.startswith("Ask again: Fell and Daughter") for line in lines)


@pytest.mark.parametrize(
    ("words", "match"),
    [
        ({"who": " "}, "who was asked"),
        ({"asked_on": tomorrow(1)}, "not come yet"),
        ({"comes_on": tomorrow(-2)}, "past"),
    ],
)
def test_refused(words, match, cast):
    with pytest.raises(ValidationError, match=match):
        ask(cast.lead, **words)
    assert not OutsideHand.objects.exists()


def test_a_job_of_another_vehicle_is_refused(shed, cast):
    with pytest.raises(ValidationError, match="another vehicle"):
        ask(cast.lead, vehicle=VehicleFactory(), card=shed.card)


@pytest.mark.parametrize("role", ["driver", "mechanic", "manager", "curator", "administrator"])
def test_who_may_not(role, cast):
    with pytest.raises(PermissionDenied):
        ask(getattr(cast, role))


def test_the_pages(shed, login, cast):
    client = login(cast.coordinator)
    url = f"{reverse('maintenance:outside_new')}?card={shed.card.pk}"
    data = typed(page_form(client, url), kind="tyre fitter", who="Ober Tyres", about="two rear tyres")
    assert data["card"] == str(shed.card.pk)
    assert client.post(url, data).status_code == 302
    assert client.post(url, data).status_code == 302
    hand = OutsideHand.objects.get()
    act = lambda name: reverse("maintenance:outside_act", args=[hand.pk, name])  # noqa: E731
    assert client.post(act("appoint"), {"comes_on": ""}).status_code == 422
    assert client.post(act("appoint"), {"comes_on": tomorrow(3).isoformat()}).status_code == 302
    page = text(client.get(reverse("maintenance:outside")))
    assert "Ober Tyres: two rear tyres" in page
    assert f"job {shed.card.serial}" in page
    assert "Ober Tyres" in text(client.get(reverse("maintenance:workshop")))
    assert client.post(act("came"), {"note": "Fitted"}).status_code == 302
    assert client.post(act("came"), {}).status_code == 302
    assert client.post(act("dance"), {}).status_code == 404
    assert OutsideHand.objects.get().note == "Fitted"
