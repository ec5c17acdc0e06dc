"""The act book: every service writes one line in it, in the same transaction as what it did."""

from __future__ import annotations

from typing import Any

from django.db import models, transaction

from fleet.act_words import ACT_WORDS
from fleet.models import Act, Person, Vehicle
from fleet.signals import fleet_changed


def record(
    *,
    act: str,
    by: Person | None,
    subject: models.Model,
    vehicle: Vehicle | None = None,
    detail: dict[str, Any] | None = None,
    by_name: str = "",
) -> Act:
    """Write one line. `by` None is a visitor (a fault slip) or the clock; `by_name` is then what they gave."""
    line = Act(
        act=act,
        by=by,
        by_name=(by.name if by is not None else by_name)[:80],
        subject_kind=subject._meta.label_lower,
        subject_id=str(subject.pk),
        subject_label=str(subject)[:200],
        vehicle=vehicle,
        detail=detail or {},
    )
    line.full_clean()
    line.save()
    return line


def fleet_announce(act: str, vehicle_id: int | None = None) -> None:
    """Tell the apps above, once what was done is committed."""
    transaction.on_commit(lambda: _send(act, vehicle_id), robust=True)


def _send(act: str, vehicle_id: int | None) -> None:
    fleet_changed.send(sender=Act, act=act, vehicle_id=vehicle_id)


def changes_between(before: dict[str, Any], after: dict[str, Any]) -> dict[str, list[str]]:
    """What moved, as old and new text; for the detail of a line."""
    return {name: [str(before[name]), str(new)] for name, new in after.items() if before.get(name) != new}


def words_of(act: str) -> str:
    """What the act is called after a name: "took it", "closed it"."""
    return ACT_WORDS.get(act, act.replace(".", " ").replace("_", " "))
