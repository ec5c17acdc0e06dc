"""What was built on a fact, so that a correction can ask what becomes of it."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils import timezone

from fleet.models import Fact, Person
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from maintenance.models import Deferral, FactUse, Reading
from maintenance.services.base import wanted


@transaction.atomic
def fact_use_add(*, fact: Fact, by: Person, against: bool = False, **owner: models.Model | None) -> FactUse:
    """This fault, job, put-off, limit or reading relies on the fact; `against`: a reading speaks against it.

    Args:
        fact: which.
        by: who says so.
        against: the thing contradicts the fact instead of resting on it.
        owner: one of `defect`, `card`, `deferral`, `measure`, `reading`.
    """
    permit(by, "fact.add")
    given = {name: row for name, row in owner.items() if row is not None}
    if set(given) - set(FactUse.OWNERS) or len(given) != 1:
        raise ValidationError(
            "Name the one thing that was built on it: a fault, a job, a limit or a reading."
        )
    (name, row), *_ = given.items()
    if vehicle_of(row) != fact.vehicle_id:
        raise ValidationError({"fact": "That fact is of another vehicle."})
    there = FactUse.objects.filter(fact=fact, **given).first()
    if there is not None:
        return there
    use = FactUse(fact=fact, against=against, **given)
    save_clean(use)
    acts.record(
        act="fact.use", by=by, subject=use, vehicle=fact.vehicle,
        detail={name: str(row)[:120], "speaks": "against it" if against else "for it"},
    )  # fmt: skip
    return use


def vehicle_of(row: Any) -> int | None:
    """The vehicle that a fault, job, put-off, limit or reading is of."""
    if isinstance(row, Deferral):
        return row.defect.vehicle_id
    if isinstance(row, Reading):
        return row.measure.vehicle_id
    return getattr(row, "vehicle_id", None)


@transaction.atomic
def fact_use_settle(*, use: FactUse, by: Person, how: str) -> FactUse:
    """After a correction: what was done about this use of the old fact."""
    permit(by, "fact.correct")
    row = FactUse.objects.select_for_update(of=("self",)).select_related("fact__vehicle").get(pk=use.pk)
    row.settled_how = wanted(how, "how", "Write what was done about it, or why nothing needs to be.")
    row.settled_on = timezone.localdate()
    save_clean(row, ["settled_how", "settled_on"])
    acts.record(
        act="fact.settle", by=by, subject=row, vehicle=row.fact.vehicle, detail={"how": row.settled_how}
    )
    return row
