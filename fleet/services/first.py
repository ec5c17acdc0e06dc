"""The first administrator, while there is nobody yet. Afterwards this door is shut for good."""

from __future__ import annotations

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from fleet.errors import Conflict
from fleet.models import Museum, Person
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.museum import museum_change

FIRST_CODE = "P01"


def nobody_yet() -> bool:
    return not Person.objects.exists()


def first_administrator(
    *, museum: str, time_zone: str, name: str, username: str, password: str | None = None, email: str = "",
    distance_unit: str = "km", pressure_unit: str = "bar",
) -> Person:  # fmt: skip
    """Lay down the museum's row and the one who looks after it. Without a password they need a one-time code.

    Two visitors at once: both would take the same code, which the database gives once.
    """
    try:
        with transaction.atomic():
            if not nobody_yet():
                raise Conflict("Somebody set this museum up already. Sign in, or ask them.")
            person = Person(name=name, code=FIRST_CODE, username=username, email=email, is_administrator=True)
            _password(person, password)
            save_clean(person)
            acts.record(act="person.add", by=person, subject=person, detail={"roles": ["administrator"]})
            row = Museum.objects.first()
            museum_change(
                by=person, name=museum or (row.name if row else ""), time_zone=time_zone,
                distance_unit=distance_unit, pressure_unit=pressure_unit,
            )  # fmt: skip
    except IntegrityError as trouble:
        raise Conflict("Somebody set this museum up a moment ago. Sign in, or ask them.") from trouble
    return person


def _password(person: Person, password: str | None) -> None:
    if password is None:
        person.set_unusable_password()
        return
    try:
        validate_password(password, person)
    except ValidationError as trouble:
        raise ValidationError({"new": trouble.messages}) from trouble
    person.set_password(password)
