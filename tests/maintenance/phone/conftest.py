"""A brake job as the lead opens it, and a phone that presses its buttons."""

from __future__ import annotations

import io
import uuid
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from PIL import Image

from fleet.models import Person
from maintenance.models import JobCard
from maintenance.services import bench, cards, readings


def picture(
    colour: tuple[int, int, int] = (90, 60, 30), size: tuple[int, int] = (64, 48)
) -> SimpleUploadedFile:
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, "JPEG")
    return SimpleUploadedFile("p.jpg", out.getvalue(), "image/jpeg")


class Phone:
    """A browser on which somebody is signed in, looking at one job."""

    def __init__(self, client: Client, card: JobCard) -> None:
        self.client, self.card = client, card
        self.url = reverse("maintenance:card", args=[card.pk])

    def press(
        self, act: str, *, htmx: bool = False, key: str = "", seen: int | None = None, **typed: Any
    ) -> HttpResponse:
        sent = {"act": act, "key": key or str(uuid.uuid4()), **typed}
        if seen is not None:
            sent["version"] = seen
        return self.client.post(self.url, sent, headers={"HX-Request": "true"} if htmx else {})

    def look(self) -> str:
        return self.client.get(self.url).content.decode()


@pytest.fixture
def job(museum, vehicle, lead) -> JobCard:
    """On the brakes: cautions, two steps, one reading, road test, second signature."""
    card = cards.card_open(
        by=lead, vehicle=vehicle, title="Reline the rear shoes", subsystem=vehicle.subsystems.get(code="BRK"),
        steps=["Chock both front wheels.", ("Measure both shoes.", "Book p. 88")], hours_usual=4,
    )  # fmt: skip
    lining = readings.measure_add(
        by=lead, vehicle=vehicle, system="BRK", name="Lining, leading shoe", judgement="min", low="3", unit="mm",
        source="House rule",
    )  # fmt: skip
    cards.card_plan(card=card, by=lead, measures=[lining])
    return JobCard.objects.get(pk=card.pk)


@pytest.fixture
def phone(login) -> Callable[[Person, JobCard], Phone]:
    return lambda person, card: Phone(login(person), card)


@pytest.fixture
def ready(job, mechanic, lead) -> SimpleNamespace:
    """The bench work is done; tests and the second signature are left."""
    cards.card_take(card=job, by=mechanic)
    bench.cautions_read(card=job, by=mechanic)
    for step in job.steps.all():
        bench.step_done(step=step, by=mechanic)
    item = bench.strip_add(card=job, by=mechanic, what="Drum")
    bench.strip_back(item=item, by=mechanic)
    readings.reading_add(
        by=mechanic, measure=job.measures.get(), values=["3.4"], card=job, moment_of="as left"
    )
    bench.refit_done(card=job, by=mechanic)
    return SimpleNamespace(card=JobCard.objects.get(pk=job.pk), measure=job.measures.get(), item=item)
