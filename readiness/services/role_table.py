"""The museum's own role table: what each role asks of functions, inspections, papers, checks and people."""

from __future__ import annotations

from collections.abc import Mapping

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.models import Person
from fleet.services import acts
from fleet.services.permit import permit
from readiness.engine.roles import default_table
from readiness.models import RoleRule
from readiness.receivers import request_assessment

DEMANDS = ("!", "R", "n", "-")
Cell = tuple[str, str, str]


@transaction.atomic
def role_table_set(
    *, by: Person, demands: Mapping[Cell, str], counts: Mapping[Cell, int] | None = None
) -> int:
    """Change cells of the role table; says how many changed. Keys are (role, subject, code).

    Raises:
        ValidationError: a demand that is none of `!`, `R`, `n`, `-`, or a cell that the table has not.
    """
    permit(by, "rules.change")
    rows = {(r.role, r.subject, r.code): r for r in RoleRule.objects.select_for_update()}
    changed = []
    for cell, demand in demands.items():
        if cell not in rows:
            raise ValidationError(f"The table has no cell {' '.join(cell)}.")
        if demand not in DEMANDS:
            raise ValidationError(
                f"{' '.join(cell)}: {demand!r} is not a demand. Write one of {', '.join(DEMANDS)}."
            )
        row, count = rows[cell], (counts or {}).get(cell, rows[cell].count)
        if (row.demand, row.count) != (demand, count):
            changed.append({"cell": " ".join(cell), "from": row.demand, "to": demand, "count": count})
            row.demand, row.count = demand, count
            row.save(update_fields=["demand", "count"])
    if changed:
        acts.record(act="rules.change", by=by, subject=rows[next(iter(demands))], detail={"changed": changed})
        request_assessment()
    return len(changed)


def role_table_restore(*, by: Person) -> int:
    """Put back the table that the program ships with."""
    shipped = default_table()
    known = {(r.role, r.subject, r.code) for r in RoleRule.objects.all()}
    return role_table_set(
        by=by,
        demands={cell: demand for cell, (demand, _) in shipped.items() if cell in known},
        counts={cell: count for cell, (_, count) in shipped.items() if cell in known},
    )
