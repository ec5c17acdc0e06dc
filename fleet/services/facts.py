"""What we know about a vehicle. A correction is a later fact; the old one stays readable."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.enums import Sureness
from fleet.models import Fact, Person, Subsystem, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit

if TYPE_CHECKING:
    from django.db.models import Model


@transaction.atomic
def fact_add(
    *,
    by: Person,
    vehicle: Vehicle,
    about: str,
    value: str,
    source: str = "",
    sureness: str = Sureness.TOLD,
    said_by: str = "",
    subsystem: Subsystem | None = None,
    recorded_on: dt.date | None = None,
    code: str = "",
) -> Fact:
    permit(by, "fact.add")
    _belongs(subsystem, vehicle)
    row = Fact(
        vehicle=vehicle, subsystem=subsystem, code=code, about=about.strip(), value=value.strip(), source=source.strip(),
        sureness=sureness, said_by=said_by, recorded_by=by, recorded_on=recorded_on or timezone.localdate(),
    )  # fmt: skip
    save_clean(row)
    acts.record(act="fact.add", by=by, subject=row, vehicle=vehicle)
    acts.fleet_announce("fact.add", vehicle.pk)
    return row


def _belongs(subsystem: Subsystem | None, vehicle: Vehicle) -> None:
    if subsystem is not None and subsystem.vehicle_id != vehicle.pk:
        raise ValidationError({"subsystem": "That system belongs to another vehicle."})


@transaction.atomic
def fact_correct(
    *,
    by: Person,
    fact: Fact,
    value: str,
    reason: str,
    source: str = "",
    sureness: str = Sureness.MEASURED,
    said_by: str = "",
    recorded_on: dt.date | None = None,
) -> tuple[Fact, list[Model]]:
    """Correct a fact. Returns the new one, and every use of the old one that now asks to be looked at."""
    permit(by, "fact.correct")
    old = Fact.objects.select_for_update(of=("self",)).select_related("vehicle").get(pk=fact.pk)
    if not reason.strip():
        raise ValidationError({"reason": "Write why it was wrong."})
    if value.strip() == old.value:
        raise ValidationError({"value": "That is what is written already."})
    newer = Fact.objects.filter(corrects=old).first()
    if newer is not None:
        raise ValidationError(
            {
                "value": f"This was corrected on {newer.recorded_on.day} {newer.recorded_on:%B %Y} already. Correct the newer one."
            }
        )
    row = Fact(
        vehicle=old.vehicle, subsystem=old.subsystem, code=old.code, about=old.about, value=value.strip(),
        source=source.strip(), sureness=sureness, said_by=said_by, recorded_by=by,
        recorded_on=recorded_on or timezone.localdate(), corrects=old, reason=reason.strip(),
    )  # fmt: skip
    save_clean(row)
    uses: list[Model] = list(old.uses.filter(settled_on=None).select_related("defect", "card"))
    acts.record(
        act="fact.correct", by=by, subject=row, vehicle=old.vehicle,
        detail={"value": [old.value, row.value], "reason": row.reason, "uses to look at": len(uses)},
    )  # fmt: skip
    acts.fleet_announce("fact.correct", old.vehicle_id)
    return row, uses
