"""The museum's own row."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from fleet.http import forget_museum
from fleet.models import Museum, Person
from fleet.services import acts
from fleet.services.fields import save_clean, set_fields
from fleet.services.permit import permit

FIELDS = frozenset(field.name for field in Museum._meta.fields) - {"id"}


@transaction.atomic
def museum_change(*, by: Person, **changes: Any) -> Museum:
    """Change what the museum has decided for itself; the first call lays the row down."""
    permit(by, "museum.change")
    row = Museum.objects.select_for_update().first()
    if row is None:
        row = Museum(**changes)
        save_clean(row)
        moved: dict[str, Any] = {name: ["", str(value)] for name, value in changes.items()}
    else:
        moved = set_fields(row, changes, FIELDS)
    if moved:
        acts.record(act="museum.change", by=by, subject=row, detail=moved)
        acts.fleet_announce("museum.change")
    transaction.on_commit(forget_museum)
    return row
