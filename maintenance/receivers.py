"""The workshop listens to the fleet."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.dispatch import receiver

from fleet.models import Person
from fleet.signals import person_left
from maintenance.services.opening import owner_gone


@receiver(person_left, dispatch_uid="maintenance.owner_gone")
def let_go_of_jobs(sender: Any, person: Person, by: Person, day: dt.date, **kwargs: Any) -> None:
    owner_gone(person=person, by=by, day=day)
