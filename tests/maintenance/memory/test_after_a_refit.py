"""A job on wheels asks for the wheel nuts again by itself; who the second person is; drawings of a tool."""

from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse
from django.utils import timezone

from maintenance.models import Inspection, JobCard
from maintenance.services import cards
from maintenance.services.inspections import inspection_record
from tests.factories import MeterFactory
from tests.maintenance.desk.conftest import system
from tests.maintenance.desk.handing_in import text

NUTS = "Wheel nuts and witness marks, after 40 to 80 km or 30 minutes standing"


def wheel_job(vehicle, cast, **plan):
    return cards.card_open(
        by=cast.lead, vehicle=vehicle, title="Two tyres", subsystem=system(vehicle, "WHL"),
        needs_functional_test=False, needs_road_test=False, second_area="", **plan,
    )  # fmt: skip


def passed(card, cast):
    cards.cautions_read(card=card, by=cast.mechanic)
    cards.card_close(card=card, by=cast.mechanic, outcome="done", words="Fitted.")
    row = JobCard.objects.get(pk=card.pk)
    assert row.state == "passed"
    return row


def km(vehicle, total):
    meter = MeterFactory(vehicle=vehicle, kind="km")
    meter.readings.create(shown=total, total=total, read_at=timezone.now())
    return meter


def test_a_wheel_job_asks_and_gates_within_the_kilometres(vehicle, cast):
    # Wheel-security guidance: again after 30 minutes standing or 40 to 80 km.
    km(vehicle, Decimal(4000))
    card = wheel_job(vehicle, cast)
    assert (card.recheck, card.recheck_km) == (NUTS, 80)
    assert not Inspection.objects.filter(once_for=card).exists(), "not before it has passed"
    passed(card, cast)
    ask = Inspection.objects.get(once_for=card)
    assert (ask.due_at_meter, ask.interval_meter, ask.voided_at) == (Decimal(4080), "km", None)


def test_without_a_kilometre_meter_it_is_asked_before_the_next_run(vehicle, cast):
    card = passed(wheel_job(vehicle, cast), cast)
    ask = Inspection.objects.get(once_for=card)
    assert (ask.due_at_meter, ask.voided_at is not None) == (None, True)
    inspection_record(inspection=ask, by=cast.mechanic, done_on=timezone.localdate())
    done = Inspection.objects.get(pk=ask.pk)
    assert (done.voided_at, done.due_on, done.due_at_meter, done.never_done) == (None, None, None, False)


def test_once_done_it_asks_no_more(vehicle, cast):
    km(vehicle, Decimal(4000))
    ask = Inspection.objects.get(once_for=passed(wheel_job(vehicle, cast), cast))
    inspection_record(inspection=ask, by=cast.mechanic, done_on=timezone.localdate(), meter="4050")
    done = Inspection.objects.get(pk=ask.pk)
    assert (done.interval_meter, done.due_at_meter, done.last_on) == ("", None, timezone.localdate())


def test_a_job_that_takes_a_wheel_off_asks_too_and_others_do_not(vehicle, cast, shed):
    shed.access.hazards = ["H8", "H11"]
    shed.access.save()
    by_access = cards.card_open(by=cast.lead, vehicle=vehicle, title="Shoes", access=shed.access)
    plain = cards.card_open(by=cast.lead, vehicle=vehicle, title="Lamp", subsystem=system(vehicle, "ELE"))
    assert (by_access.recheck, plain.recheck) == (NUTS, "")


def test_put_back_as_found_asks_for_nothing(vehicle, cast):
    card = wheel_job(vehicle, cast)
    cards.cautions_read(card=card, by=cast.mechanic)
    cards.card_close(card=card, by=cast.mechanic, outcome="as found", words="No tyres.")
    assert not Inspection.objects.filter(once_for=card).exists()


def test_the_second_person(shed, cast, login):
    shed.card.persons = 2
    shed.card.save()
    row = cards.card_take(card=shed.card, by=cast.mechanic)
    with pytest.raises(ValidationError, match="another"):
        cards.card_second(card=row, by=cast.mechanic, person=cast.mechanic)
    with pytest.raises(PermissionDenied):
        cards.card_second(card=row, by=cast.driver, person=cast.lead)
    assert cards.card_second(card=row, by=cast.mechanic, person=cast.driver).second == cast.driver
    page = text(login(cast.lead).get(reverse("maintenance:card_change", args=[row.pk])))
    assert f"Second person: {cast.driver.name}" in page
    client = login(cast.lead)
    url = reverse("maintenance:card_act", args=[row.pk, "second"])
    version = JobCard.objects.get(pk=row.pk).version
    assert client.post(url, {"person": "", "version": str(version)}).status_code == 302
    assert JobCard.objects.get(pk=row.pk).second is None


def test_a_drawing_of_a_tool_of_our_own(shed, cast, login, picture):
    url = reverse("maintenance:tool_drawing", args=[shed.tool.pk])
    client = login(cast.lead)
    assert client.post(url, {"photo": picture()}).status_code == 302
    assert shed.tool.drawings.count() == 1
    assert client.post(url, {}).status_code == 422
    assert login(cast.mechanic).get(url).status_code == 403
