"""Builds the demo museum through the same door by which a museum brings in its own tables."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from django.db import transaction

from fleet.models import Person
from fleet.services.proof import pin_hash
from readiness.demo.memory import fill
from readiness.demo.which_story import which_story
from readiness.exchange import Report, import_folder

EVENT = "HWW"
FOLDER = Path(__file__).parent / "museum"
SATURDAY = 5
NEAREST = 29
"""The demo's Saturday lies 29 to 35 days ahead, so that today is at T-35 to T-29 of its programme."""


def demo_saturday(today: dt.date) -> dt.date:
    """The one Saturday that lies 29 to 35 days ahead."""
    first = today + dt.timedelta(days=NEAREST)
    return first + dt.timedelta(days=(SATURDAY - first.weekday()) % 7)


def build_demo(*, saturday: dt.date, by: Person | None = None, memory: bool = True) -> Report:
    """The demo museum with its event on that Saturday and the Sunday after. Raises when its tables are not right.

    `memory` adds what no table holds: a near miss, what is original, hands from outside, readings on cardboard.
    """
    report = import_folder(FOLDER, by=by, overrides={"events": {EVENT: {"first_day": saturday}}})
    if not report.ok:
        raise ValueError("\n".join(map(str, report.errors)))
    if memory:
        fill(saturday)
        which_story()
    return report


def demo_sign_in(person: Person) -> tuple[str, str]:
    """Password and PIN of a demo person. Known to everybody who reads this: never for a museum of your own."""
    digits = "".join(letter for letter in person.code if letter.isdigit())[-2:].zfill(2)
    return f"hythe-{person.username}", f"4182{digits}"


@transaction.atomic
def set_sign_ins() -> list[Person]:
    """Gives everybody in the demo museum a password and a PIN; returns them in the order of their short names."""
    people = list(Person.objects.filter(is_active=True).order_by("code"))
    for person in people:
        password, pin = demo_sign_in(person)
        person.set_password(password)
        person.pin = pin_hash(pin)
    Person.objects.bulk_update(people, ["password", "pin"])
    return people
