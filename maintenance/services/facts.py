"""What was built on a fact, so that a correction can ask what becomes of it."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Fact, Person
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from maintenance.models import Defect, FactUse, JobCard
from maintenance.services.base import wanted


@transaction.atomic
def fact_use_add(
    *, fact: Fact, by: Person, card: JobCard | None = None, defect: Defect | None = None
) -> FactUse:
    """This job, or this fault's assessment, relies on the fact."""
    permit(by, "fact.add")
    owner = card or defect
    if owner is not None and owner.vehicle_id != fact.vehicle_id:
        raise ValidationError({"fact": "That fact is of another vehicle."})
    there = FactUse.objects.filter(fact=fact, card=card, defect=defect).first()
    if there is not None:
        return there
    row = FactUse(fact=fact, card=card, defect=defect)
    save_clean(row)
    acts.record(act="fact.use", by=by, subject=row, vehicle=fact.vehicle)
    return row


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
