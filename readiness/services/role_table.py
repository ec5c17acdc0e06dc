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

Cell = tuple[str, str, str]
Table = dict[Cell, tuple[str, int]]


def current_table() -> Table:
    """The shipped table with the museum's own cells over it; what has no row of its own stands as shipped."""
    return default_table() | {
        (r.role, r.subject, r.code): (r.demand, r.count) for r in RoleRule.objects.all()
    }


DEMANDS = ("!", "R", "n", "-")


@transaction.atomic
def role_table_set(
    *, by: Person, demands: Mapping[Cell, str], counts: Mapping[Cell, int] | None = None
) -> int:
    """Change cells of the role table; says how many changed. Keys are (role, subject, code).

    Raises:
        ValidationError: a demand that is none of `!`, `R`, `n`, `-`, or a cell that the table has not.
    """
    permit(by, "rules.change")
    table = current_table()
    rows = {(r.role, r.subject, r.code): r for r in RoleRule.objects.select_for_update()}
    changed, last = [], None
    for cell, demand in demands.items():
        if cell not in table:
            raise ValidationError(f"The table has no cell {' '.join(cell)}.")
        if demand not in DEMANDS:
            raise ValidationError(
                f"{' '.join(cell)}: {demand!r} is not a demand. Write one of {', '.join(DEMANDS)}."
            )
        before, count_before = table[cell]
        count = (counts or {}).get(cell, count_before)
        if (before, count_before) != (demand, count):
            last = rows.get(cell) or RoleRule(role=cell[0], subject=cell[1], code=cell[2])
            last.demand, last.count = demand, count
            last.save()
            changed.append({"cell": " ".join(cell), "from": before, "to": demand, "count": count})
    if last is not None:
        acts.record(act="rules.change", by=by, subject=last, detail={"changed": changed})
        request_assessment()
    return len(changed)


def role_table_restore(*, by: Person) -> int:
    """Put back the table that the program ships with."""
    shipped = default_table()
    return role_table_set(
        by=by,
        demands={cell: demand for cell, (demand, _) in shipped.items()},
        counts={cell: count for cell, (_, count) in shipped.items()},
    )
