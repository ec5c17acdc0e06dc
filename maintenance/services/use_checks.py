"""Checks that go with use: before an event, on the day, after use, and the curator's condition check."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Person, Photo, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from maintenance.enums import DefectSource, UseCheckKind
from maintenance.models import Defect, UseCheck
from maintenance.rules import CHECK_ACTS
from maintenance.services.base import announce, moment
from maintenance.services.defects import defect_report


@transaction.atomic
def check_record(
    *,
    vehicle: Vehicle,
    by: Person,
    kind: str,
    for_day: dt.date,
    nil_defect: bool = False,
    defects: Sequence[Mapping[str, Any]] = (),
    words: str = "",
    photos: Iterable[Photo] = (),
    at: dt.datetime | None = None,
) -> tuple[UseCheck, list[Defect]]:
    """A check, with what it found: nil defect, said in so many words, or the faults, each reported.

    `defects`: dicts of what `defect_report` takes (`subsystem`, `title`, `words`, `answers`, `photos`). A check
    done twice is added to: its first time stays, and nil defect falls where a fault is found later.
    """
    if kind not in UseCheckKind.values:
        raise ValidationError({"kind": f"Which check: {', '.join(UseCheckKind.labels).lower()}?"})
    permit(by, CHECK_ACTS[UseCheckKind(kind)])
    if nil_defect == bool(defects):
        raise ValidationError({"nil_defect": "Tick nil defect, or write what you found. One of the two."})
    done_at = moment(at)
    UseCheck.objects.get_or_create(vehicle=vehicle, kind=kind, for_day=for_day, defaults={"due_by": for_day})
    row = UseCheck.objects.select_for_update().get(vehicle=vehicle, kind=kind, for_day=for_day)
    again = row.done_at is not None
    row.done_at, row.by = row.done_at or done_at, row.by or by
    row.nil_defect = nil_defect and (row.nil_defect or not again)
    row.words = "\n".join(part for part in (row.words, words.strip()) if part)
    save_clean(row)
    row.photos.add(*photos)
    found = [
        defect_report(vehicle=vehicle, by=by, source=DefectSource.USE_CHECK, at=done_at, **defect)
        for defect in defects
    ]
    acts.record(
        act=CHECK_ACTS[UseCheckKind(kind)], by=by, subject=row, vehicle=vehicle,
        detail={"nil defect": nil_defect, "faults": [one.serial for one in found]},
    )  # fmt: skip
    announce(CHECK_ACTS[UseCheckKind(kind)], vehicle.pk)
    return row, found


@transaction.atomic
def checks_ask(*, rows: Iterable[tuple[Vehicle, str, dt.date, dt.date | None]]) -> int:
    """Ask for checks: (vehicle, kind, day of use, due by). Asking twice asks once. Returns how many are new.

    Called by the clock when slots have run (after-use check, due at the end of its day) and when an event draws near.
    """
    made = 0
    for vehicle, kind, for_day, due_by in rows:
        _, new = UseCheck.objects.get_or_create(
            vehicle=vehicle, kind=kind, for_day=for_day, defaults={"due_by": due_by or for_day}
        )
        made += new
        if new:
            announce("check.ask", vehicle.pk)
    return made


def overdue(vehicle: Vehicle, today: dt.date | None = None) -> UseCheck | None:
    """The oldest check whose day has ended without it."""
    day = today or timezone.localdate()
    return vehicle.use_checks.filter(done_at=None, due_by__lt=day).order_by("due_by", "pk").first()
