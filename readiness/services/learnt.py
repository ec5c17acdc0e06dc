"""Overrule a learnt figure, or let the record speak again."""

from __future__ import annotations

from decimal import Decimal

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction

from fleet.models import Person
from fleet.services import acts
from readiness.models import LearntKind, Overrule
from readiness.receivers import request_assessment
from readiness.snapshot.learnt import hours_key_is_known, learnt
from readiness.snapshot.rows import fetch

MOST = {
    LearntKind.TURN_UP: Decimal(1),
    LearntKind.DISCOVERY: Decimal(1),
    LearntKind.HOURS: Decimal(5),
    LearntKind.PROMISES: Decimal(5),
}
TIMES = frozenset({LearntKind.HOURS, LearntKind.PROMISES})
"""Figures that multiply: nought would make work or waiting vanish."""


def may_overrule(person: object) -> bool:
    return isinstance(person, Person) and person.has_role("lead", "coordinator")


def _permit(by: Person) -> None:
    if not may_overrule(by):
        raise PermissionDenied(
            "The workshop lead or the coordinator overrules a learnt figure. Nothing was changed."
        )


@transaction.atomic
def overrule_set(*, by: Person, kind: str, key: str, value: Decimal, reason: str) -> Overrule:
    """Set a figure by hand, with the reason. Shares lie between 0 and 1; hours and promises up to 5 times what was said.

    Hours may be set for any person, system and kind of work, also before there is a record of them.
    """
    _permit(by)
    if kind not in MOST:
        raise ValidationError({"kind": f"{kind} is not a figure that is learnt."})
    if not value.is_finite():
        raise ValidationError({"value": "Write the figure as a number, such as 0.8."})
    rows = fetch()
    named = kind == LearntKind.HOURS and hours_key_is_known(rows, key)
    if not named and (kind, key) not in learnt(rows).figures:
        raise ValidationError({"key": f"Nothing is learnt under {key}. Choose a row of the table."})
    if value > MOST[LearntKind(kind)] or (kind in TIMES and value <= 0):
        raise ValidationError({"value": f"Write a figure above 0 and up to {MOST[LearntKind(kind)]}."})
    row = Overrule.objects.filter(kind=kind, key=key).first() or Overrule(kind=kind, key=key)
    row.value, row.reason, row.by = value, reason, by
    row.full_clean()
    row.save()
    acts.record(
        act="learnt.overrule", by=by, subject=row, detail={"key": key, "value": str(value), "reason": reason}
    )
    request_assessment()
    return row


@transaction.atomic
def overrule_drop(*, by: Person, kind: str, key: str) -> None:
    """Let the record speak again."""
    _permit(by)
    row = Overrule.objects.filter(kind=kind, key=key).first()
    if row is None:
        return
    acts.record(act="learnt.restore", by=by, subject=row, detail={"key": key})
    row.delete()
    request_assessment()
