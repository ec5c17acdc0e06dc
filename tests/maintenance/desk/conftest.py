"""A small workshop: one vehicle with a fault, a job, a part, an inspection, a reading and a tag."""

import datetime as dt
from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.utils import timezone

from fleet.models import Subsystem
from maintenance.models import Access, SpecialTool, Supplier
from maintenance.services.deferrals import deferral_sign
from maintenance.services.inspections import inspection_add
from maintenance.services.readings import measure_add, reading_add
from maintenance.services.tags import tag_hang
from maintenance.signals import freeze_asked
from tests.factories import CardFactory, DefectFactory, PartNeedFactory


def tomorrow(days=1):
    return timezone.localdate() + dt.timedelta(days=days)


def system(vehicle, code):
    return Subsystem.objects.get(vehicle=vehicle, code=code)


@pytest.fixture
def freeze():
    """freeze(moment) answers for the app above; taken off again after the test."""
    hung = []

    def set_to(moment):
        def answer(sender=None, **kwargs):
            return moment

        freeze_asked.connect(answer, weak=False)
        hung.append(answer)
        return moment

    yield set_to
    for answer in hung:
        freeze_asked.disconnect(answer)


@pytest.fixture
def shed(vehicle, cast, museum):
    """Every kind of row that a page of the desk shows, made through the services where they are about it."""
    brakes = system(vehicle, "BRK")
    reported = DefectFactory(
        vehicle=vehicle, subsystem=brakes, title="Pulls to the left", words="pulls left, hot"
    )
    assessed = DefectFactory(
        vehicle=vehicle, subsystem=system(vehicle, "ENG"), title="Seal weeps", effects={"LUBE": "reduced"}
    )
    access = Access.objects.create(name="pack lift", open_hours=Decimal(7), close_hours=Decimal(9), persons=2)
    card = CardFactory(
        vehicle=vehicle,
        subsystem=brakes,
        title="Fit new linings",
        defects=[assessed],
        suits=cast.mechanic,
        access=access,
        hours_best=3,
        hours_usual=4,
        hours_bad=6,
        state="booked in",
    )
    tool = SpecialTool.objects.create(
        name="Drum puller", home="board 2", on_loan_to="the yard next door", back_on=tomorrow(-1)
    )
    card.tools.add(tool)
    Supplier.objects.create(name="Tarn Brake Stores")
    part = PartNeedFactory(card=card, name="Lining set", lead_days=5)
    put_off = deferral_sign(
        defect=assessed,
        by=cast.lead,
        signers=[(cast.lead, "lead")],
        severity_with=3,
        probability_with="D",
        limits=[{"kind": "max speed", "value": "20"}],
        reason="Parts are on order.",
        ends_on=tomorrow(20),
    )
    inspection = inspection_add(
        by=cast.lead,
        vehicle=vehicle,
        kind="brake reading",
        name="Brake performance reading",
        interval_days=365,
        last_on=tomorrow(-30),
    )
    measure = measure_add(
        by=cast.lead,
        vehicle=vehicle,
        system="STE",
        name="Free play at the rim",
        judgement="max",
        unit="mm",
        high="30",
        source="workshop manual, page 12",
    )
    reading = reading_add(by=cast.mechanic, measure=measure, values=["24"])
    tag = tag_hang(vehicle=vehicle, by=cast.driver, reason="Brake pulls hard", card=card)
    return SimpleNamespace(
        vehicle=vehicle,
        reported=reported,
        assessed=assessed,
        card=card,
        part=part,
        put_off=put_off,
        inspection=inspection,
        measure=measure,
        reading=reading,
        tag=tag,
        tool=tool,
        access=access,
    )
