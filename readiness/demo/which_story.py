"""One finished which-part sheet in the demo museum: brakes that pull, and a stamp that meant something else.

It was opened while everybody knew that the stamp 2 on the drum meant wheel position 2, and ended on the drum itself.
"""

from __future__ import annotations

import datetime as dt

from django.db import transaction

from fleet.models import Person, Vehicle
from maintenance.models import JobCard, WhichSheet
from maintenance.services.which_part import (
    which_finish,
    which_from_reading,
    which_open,
    which_result,
    which_settle,
)
from maintenance.services.which_templates import template_copy

CARD, SHEET, FACT, READING, CAUSE = "J01", "brakes-pull", "F01", "M01", "C5"
OWN_SHEET, OWN_FOR = "hard-hot-start", "V04"
TESTS = (
    ("T1", "alike", 172),
    ("T2", "offside cool", 140),
    ("T4", "firm", 128),
    ("T3", "alike", 95),
    ("T5", "good", 80),
    ("T6", "narrow contact band", 10),
)
"""Test, what it gave, minutes before the bores were measured."""


@transaction.atomic
def which_story() -> WhichSheet:
    """Play it on the job of the demo, as the person who has that job."""
    card = JobCard.objects.select_related("vehicle", "taken_by").get(code=CARD)
    by: Person | None = card.taken_by
    if by is None:
        raise ValueError("Nobody has the job that the story is about.")
    reading = card.readings.select_related("measure").get(measure__code=READING, replaces=None)
    measured = reading.at
    sheet = which_open(
        by=by, vehicle=card.vehicle, card=card, template=SHEET, at=measured - dt.timedelta(minutes=180),
        facts=[card.vehicle.facts.get(code=FACT)], defect=card.defects.first(),
    )  # fmt: skip
    for test, result, minutes in TESTS:
        which_result(
            by=by, sheet=sheet, test=test, result=result, at=measured - dt.timedelta(minutes=minutes)
        )
    which_from_reading(by=by, sheet=sheet, test="T7", reading=reading)
    template_copy(by=by, based_on=OWN_SHEET, kind=Vehicle.objects.get(code=OWN_FOR).kind)
    which_finish(
        by=by, sheet=sheet, cause=CAUSE, at=measured + dt.timedelta(minutes=30),
        words="The stamp 2 says second oversize, not the wheel's place. A standard lining touches in the middle only.",
    )  # fmt: skip
    return which_settle(
        by=by,
        sheet=sheet,
        how="This very sheet corrected it. The three earlier lining jobs are marked to be looked at.",
    )
