"""What a phone is told to keep: one's own jobs, the sums it works out alone, and the vehicles one is down for."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.models import Person
from maintenance.models import JobCard
from maintenance.phone.manifest import pages_of
from readiness.models import Crew, Event

pytestmark = pytest.mark.django_db


def test_a_driver_has_the_slips_of_the_vehicles_they_are_down_for(demo: Event) -> None:
    duty = Crew.objects.filter(duty="driver", person__isnull=False, entry__isnull=False).first()
    slips = reverse("maintenance:report", args=[duty.entry.vehicle.code])
    person = Person.objects.get(pk=duty.person_id)
    JobCard.objects.all().update(suits=None, taken_by=None, state="passed")
    assert slips not in pages_of(person)["pages"], "more than a week ahead"
    slot = duty.slot
    slot.starts_at = timezone.now() + dt.timedelta(days=2)
    slot.save()
    assert slips in pages_of(person)["pages"]
    slot.event.state = "called off"
    slot.event.save()
    assert slips not in pages_of(person)["pages"]


def test_the_sums_that_the_phone_works_out_are_kept(cast) -> None:
    kept = pages_of(cast.mechanic)["pages"]
    assert reverse("maintenance:reckoning", args=["timing"]) in kept
    assert reverse("maintenance:reckoning", args=["units"]) not in kept
