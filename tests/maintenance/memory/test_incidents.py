"""An accident or a near miss: held as found, told at once, added to, released by lead or manager, never rewritten."""

import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse
from django.utils import timezone

from fleet.models import Act
from maintenance.held import held_by
from maintenance.models import Incident, Tag
from maintenance.services import cards, incidents
from maintenance.services.tags import tag_lift
from readiness.digests import digests_write
from readiness.models import Digest
from tests.factories import CardFactory, VehicleFactory
from tests.maintenance.desk.handing_in import page_form, text, typed

ROLES = ("driver", "mechanic", "lead", "coordinator", "manager", "curator", "administrator")


def happen(by, **more):
    words = {"kind": "accident", "place": "pit", "what": "The jack slipped and the wheel came down."} | more
    return incidents.incident_report(by=by, **words)


@pytest.fixture
def held(vehicle, cast):
    return happen(cast.driver, vehicle=vehicle)


def test_a_vehicle_in_it_is_tagged_and_held(held, vehicle, cast):
    assert held.holds
    assert held_by(vehicle.pk) == held
    tag = Tag.objects.get(vehicle=vehicle)
    assert (held.tag, tag.lifted_at, tag.reason) == (tag, None, f"Held as found: accident {held.serial}")
    assert list(Act.objects.filter(act__startswith="incident").values_list("act", "by_name")) == [
        ("incident.report", cast.driver.name)
    ]


def test_nothing_on_it_is_touched_until_it_is_released(held, vehicle, cast):
    card = CardFactory(vehicle=vehicle, state="booked in")
    card.steps.create(order=1, text="Take the wheel off")
    for act in (
        lambda: cards.card_take(card=card, by=cast.mechanic),
        lambda: cards.strip_add(card=card, by=cast.mechanic, what="Wheel"),
        lambda: cards.step_done(step=card.steps.get(), by=cast.mechanic),
    ):
        with pytest.raises(ValidationError, match="held as it was found"):
            act()
    with pytest.raises(ValidationError, match="Release it first"):
        tag_lift(tag=held.tag, by=cast.lead, stub=held.tag.stub)
    incidents.incident_release(incident=held, by=cast.manager, words="Photographed, jack measured.")
    assert held_by(vehicle.pk) is None
    assert cards.card_take(card=card, by=cast.mechanic).taken_by == cast.mechanic
    assert tag_lift(tag=held.tag, by=cast.lead, stub=held.tag.stub).lifted_at is not None


def test_another_vehicle_goes_on(held, cast):
    other = CardFactory(vehicle=VehicleFactory(), state="booked in")
    assert cards.card_take(card=other, by=cast.mechanic).taken_by == cast.mechanic


def test_closing_needs_the_release_and_what_was_learnt(held, cast):
    with pytest.raises(ValidationError, match="still held"):
        incidents.incident_close(incident=held, by=cast.lead, learnt="Stands, always.")
    incidents.incident_release(incident=held, by=cast.lead, words="Looked at by both of us.")
    with pytest.raises(ValidationError, match="Nothing is held"):
        incidents.incident_release(incident=held, by=cast.lead, words="Again.")
    with pytest.raises(ValidationError, match="what was learnt"):
        incidents.incident_close(incident=held, by=cast.lead, learnt=" ")
    incidents.incident_close(incident=held, by=cast.lead, learnt="Stands, always.")
    with pytest.raises(ValidationError, match="closed already"):
        incidents.incident_close(incident=held, by=cast.lead, learnt="Once more.")
    note = incidents.incident_note(incident=held, by=cast.driver, text="The jack is scrapped.")
    assert [one.text for one in Incident.objects.get().notes.all()] == [note.text]


@pytest.mark.parametrize("role", ROLES)
def test_who_may(role, cast, vehicle):
    by = getattr(cast, role)
    row = happen(by, vehicle=vehicle)
    incidents.incident_note(incident=row, by=by, text="More.")
    if role in {"lead", "manager"}:
        assert incidents.incident_release(incident=row, by=by, words="Looked at.").released_by == by
    else:
        with pytest.raises(PermissionDenied, match="lead or the manager"):
            incidents.incident_release(incident=row, by=by, words="Looked at.")


def test_whoever_is_hurt_is_named(cast):
    with pytest.raises(ValidationError, match="who was hurt"):
        happen(cast.driver, hurt="doctor")
    row = happen(cast.driver, hurt="doctor", who_hurt="A helper, two fingers")
    assert row.vehicle is None
    assert not row.holds


def test_lead_and_manager_are_told_at_once_and_once(held, cast, museum):
    for person in (cast.lead, cast.manager):
        person.email = f"{person.username}@example.org"
        person.save(update_fields=["email"])
    now = timezone.now()
    digests_write(now)
    digests_write(now + dt.timedelta(minutes=30))
    letters = Digest.objects.filter(kind__in=["lead at once", "manager at once"])
    assert sorted(letters.values_list("kind", "person__username")) == [
        ("lead at once", "lead"), ("manager at once", "manager"),
    ]  # fmt: skip
    assert all(held.serial in letter.text for letter in letters)


@pytest.mark.django_db(transaction=True)
def test_the_letter_does_not_wait_for_the_clock(vehicle, cast, monkeypatch):
    sent = []
    monkeypatch.setattr("readiness.receivers.send_digests.delay", lambda: sent.append(1))
    happen(cast.driver, vehicle=vehicle)
    assert sent == [1]


def test_the_page_takes_it_and_says_people_first(login, cast, vehicle, picture):
    client = login(cast.driver)
    url = f"{reverse('maintenance:incident_new')}?vehicle={vehicle.code}"
    page = client.get(url)
    assert text(page).index("People first") < text(page).index("What happened")
    data = typed(page.context["form"], kind="near miss", place="yard", what="A bar fell.", photo=picture())
    answer = client.post(url, data)
    row = Incident.objects.get()
    assert answer.headers["Location"] == reverse("maintenance:incident", args=[row.pk])
    assert (row.vehicle, row.photos.count(), row.reported_by) == (vehicle, 1, cast.driver)
    client.post(url, typed(page_form(client, url), **data | {"photo": picture()}))
    assert Incident.objects.count() == 1, "the same page sent twice writes once"


def test_a_moment_that_has_not_come_is_refused_and_nothing_is_lost(login, cast):
    client = login(cast.driver)
    url = reverse("maintenance:incident_new")
    late = (timezone.localtime() + dt.timedelta(hours=2)).strftime("%Y-%m-%dT%H:%M")
    data = typed(page_form(client, url), kind="accident", place="yard", what="It rolled.", happened_at=late)
    answer = client.post(url, data)
    assert answer.status_code == 422
    assert "has not come yet" in text(answer)
    assert "It rolled." in answer.content.decode()
    assert not Incident.objects.exists()


@pytest.mark.parametrize(
    ("role", "knows"), [("lead", True), ("manager", True), ("driver", True), ("mechanic", False)]
)
def test_who_was_hurt_is_not_for_everybody(role, knows, login, cast):
    row = happen(cast.driver, hurt="first aid", who_hurt="Rufus, a thumb")
    page = text(login(getattr(cast, role)).get(reverse("maintenance:incident", args=[row.pk])))
    assert ("Rufus, a thumb" in page) is knows


def test_acts_on_the_page(held, login, cast):
    client = login(cast.lead)
    act = lambda name: reverse("maintenance:incident_act", args=[held.pk, name])  # noqa: E731
    page = client.get(reverse("maintenance:incident", args=[held.pk]))
    assert [name for name, _, _ in page.context["acts"]] == ["release", "note"]
    assert client.post(act("close"), {"learnt": "x"}).status_code == 302
    assert client.post(act("release"), {"words_": ""}).status_code == 422
    assert client.post(act("release"), {"words_": "Looked at."}).status_code == 302
    assert client.post(act("note"), {"text": "Jack scrapped.", "key": "k1"}).status_code == 302
    assert client.post(act("note"), {"text": "Jack scrapped.", "key": "k1"}).status_code == 302
    assert client.post(act("close"), {"learnt": "Stands."}).status_code == 302
    assert client.post(act("burn"), {}).status_code == 404
    row = Incident.objects.get()
    assert (row.notes.count(), row.learnt, row.closed_by) == (1, "Stands.", cast.lead)


def test_it_stands_on_the_workshop_and_vehicle_pages(held, login, cast, museum):
    client = login(cast.mechanic)
    for url in (reverse("maintenance:workshop"), reverse("readiness:vehicle", args=[held.vehicle.code])):
        assert "Held as found: touch nothing" in text(client.get(url))
    incidents.incident_release(incident=held, by=cast.lead, words="Looked at.")
    for url in (reverse("maintenance:workshop"), reverse("readiness:vehicle", args=[held.vehicle.code])):
        assert "Held as found: touch nothing" not in text(client.get(url))


def test_the_list_costs_the_same_for_one_and_for_three(login, cast, django_assert_num_queries):
    client = login(cast.lead)
    url = reverse("maintenance:incidents")
    happen(cast.driver, vehicle=VehicleFactory())
    client.get(url)
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as one:
        client.get(url)
    for _ in range(2):
        happen(cast.driver, vehicle=VehicleFactory())
    with django_assert_num_queries(len(one)):
        client.get(url)
