"""People: adding them, what they may do, what they are checked for, and when they leave."""

from __future__ import annotations

import datetime as dt
import secrets
from collections.abc import Iterable
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet import signals
from fleet.enums import CompetenceKind
from fleet.models import Competence, Person, Skill, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean, set_fields
from fleet.services.permit import permit
from fleet.services.proof import pin_hash

FIELDS = frozenset(
    {
        "code", "username", "name", "email", "telephone", "engagement", "day_start", "day_end", "worked_quarters",
        "turn_up", "is_driver", "is_mechanic", "is_lead", "is_coordinator", "is_manager", "is_curator",
        "is_administrator", "is_trainee",
    }
)  # fmt: skip
CODE_DAYS = 14
_CODE_LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"  # nothing that is read wrongly from paper


@transaction.atomic
def person_add(
    *, by: Person, name: str, code: str, username: str = "", skills: Iterable[str | Skill] = (), **fields: Any
) -> Person:
    """Add a person. They cannot sign in until they are given a one-time code."""
    permit(by, "person.add")
    unknown = sorted(set(fields) - FIELDS)
    if unknown:
        raise ValidationError(f"These cannot be set here: {', '.join(unknown)}.")
    person = Person(name=name, code=code, username=username or code.lower(), **fields)
    person.set_unusable_password()
    save_clean(person)
    person.skills.set(_skills(skills))
    acts.record(act="person.add", by=by, subject=person, detail={"roles": list(person.roles)})
    acts.fleet_announce("person.add")
    return person


def _skills(skills: Iterable[str | Skill]) -> list[Skill]:
    found = []
    for skill in skills:
        found.append(
            skill if isinstance(skill, Skill) else Skill.objects.get_or_create(name=skill.strip())[0]
        )
    return found


@transaction.atomic
def person_change(
    *, by: Person, person: Person, skills: Iterable[str | Skill] | None = None, **changes: Any
) -> Person:
    permit(by, "person.change")
    row = Person.objects.select_for_update().get(pk=person.pk)
    moved = set_fields(row, changes, FIELDS)
    if skills is not None:
        before = sorted(row.skills.values_list("name", flat=True))
        row.skills.set(_skills(skills))
        after = sorted(row.skills.values_list("name", flat=True))
        if before != after:
            moved["skills"] = [", ".join(before), ", ".join(after)]
    if "is_administrator" in moved:
        _keep_an_administrator()
    if moved:
        acts.record(act="person.change", by=by, subject=row, detail=moved)
        acts.fleet_announce("person.change")
    return row


def _keep_an_administrator() -> None:
    if not Person.objects.filter(is_administrator=True, is_active=True).exists():
        raise ValidationError(
            "Nobody would be left who can look after people and settings. Name another administrator first."
        )


@transaction.atomic
def person_leave(*, by: Person, person: Person, day: dt.date | None = None) -> Person:
    """They have left: no sign-in, no work days; the jobs they had say so and wait for somebody."""
    permit(by, "person.leave")
    row = Person.objects.select_for_update().get(pk=person.pk)
    if row.left_on is not None:
        raise ValidationError(f"{row.name} left on {row.left_on.day} {row.left_on:%B %Y} already.")
    row.left_on = day or timezone.localdate()
    row.is_active = False
    row.pin = ""
    row.set_unusable_password()
    save_clean(row, ["left_on", "is_active", "pin", "password"])
    _keep_an_administrator()
    ended = row.patterns.all().delete()[0]
    row.day_exceptions.filter(day__gt=row.left_on).delete()
    acts.record(act="person.leave", by=by, subject=row, detail={"work days ended": ended})
    signals.person_left.send(sender=Person, person=row, by=by, day=row.left_on)
    acts.fleet_announce("person.leave")
    return row


@transaction.atomic
def one_time_code(*, by: Person, person: Person) -> str:
    """A code to print once and hand over: it opens the sign-in, and a password of their own must follow."""
    permit(by, "person.code")
    row = Person.objects.select_for_update().get(pk=person.pk)
    if not row.is_active:
        raise ValidationError(f"{row.name} has left. Bring them back before giving a code.")
    code = "-".join("".join(secrets.choice(_CODE_LETTERS) for _ in range(4)) for _ in range(3))
    row.set_password(code)
    row.must_change_password = True
    row.code_until = timezone.now() + dt.timedelta(days=CODE_DAYS)
    row.save(update_fields=["password", "must_change_password", "code_until"])
    acts.record(act="person.code", by=by, subject=row)
    return code


def code_is_stale(person: Person, now: dt.datetime) -> bool:
    """A printed code that nobody used in a fortnight opens nothing."""
    return person.must_change_password and (person.code_until is None or now > person.code_until)


@transaction.atomic
def password_set(*, person: Person, new: str) -> Person:
    """The person's own new password; ends the one-time code and every other sign-in of theirs."""
    row = Person.objects.select_for_update().get(pk=person.pk)
    try:
        validate_password(new, row)
    except ValidationError as trouble:
        raise ValidationError({"new": trouble.messages}) from trouble
    if row.must_change_password and row.check_password(new):
        raise ValidationError({"new": "Choose another than the code on the paper."})
    row.set_password(new)
    row.must_change_password = False
    row.code_until = None
    row.save(update_fields=["password", "must_change_password", "code_until"])
    acts.record(act="person.password", by=row, subject=row)
    return row


@transaction.atomic
def pin_set(*, by: Person, pin: str) -> Person:
    """Their own PIN, which proves a second signature on another's phone. Empty takes it away."""
    permit(by, "pin.own")
    row = Person.objects.select_for_update().get(pk=by.pk)
    row.pin = pin_hash(pin) if pin else ""
    row.save(update_fields=["pin"])
    acts.record(act="person.pin", by=row, subject=row)
    return row


@transaction.atomic
def competence_set(
    *,
    by: Person,
    person: Person,
    kind: str,
    vehicle: Vehicle | None = None,
    area: str = "",
    valid_through: dt.date | None = None,
    with_person: Person | None = None,
    checked_by: str = "",
    note: str = "",
) -> Competence:
    """What a person has been checked for; the same again moves its last day."""
    permit(by, "competence.set")
    if kind == CompetenceKind.INSPECT and person.pk == by.pk:
        permit(
            by,
            "competence.set",
            False,
            "Nobody authorises themselves to pass safety work. Ask the manager to write it down.",
        )
    row = Competence.objects.filter(person=person, kind=kind, vehicle=vehicle, area=area).first()
    before = str(row.valid_through) if row is not None else ""
    row = row or Competence(person=person, kind=kind, vehicle=vehicle, area=area)
    row.valid_through, row.with_person = valid_through, with_person
    row.checked_by, row.note = checked_by or by.name, note
    save_clean(row)
    acts.record(
        act="competence.set",
        by=by,
        subject=row,
        vehicle=vehicle,
        detail={"valid_through": [before, str(valid_through)]},
    )
    acts.fleet_announce("competence.set", vehicle.pk if vehicle else None)
    return row
