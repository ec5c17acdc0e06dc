"""The workshop's places, ways in and special tools."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.hazards import HAZARDS
from fleet.models import Person, Photo
from fleet.rules import may
from fleet.services import acts
from fleet.services.fields import save_clean, set_fields
from fleet.services.meters import decimal
from fleet.services.permit import permit
from maintenance.models import Access, Place, SpecialTool
from maintenance.services.base import announce, wanted

ACCESS_FIELDS = frozenset(
    {"open_hours", "close_hours", "persons", "place", "cooling_hours", "discovery", "hazards"}
)
TOOL_FIELDS = frozenset({"home", "keeper", "calibrated_until"})


@transaction.atomic
def place_set(*, by: Person, name: str, capacity: int = 1) -> Place:
    """A pit, hoist or bay, and how many vehicles stand there at once. The same name again changes it."""
    permit(by, "workshop.change")
    row = Place.objects.filter(name=name.strip()).first() or Place(name=name.strip())
    row.capacity = capacity
    save_clean(row)
    acts.record(act="workshop.place", by=by, subject=row, detail={"capacity": capacity})
    announce("workshop.place", None)
    return row


@transaction.atomic
def access_set(*, by: Person, name: str, **fields: Any) -> Access:
    """A way in: what opening and closing cost, where it is done, its cautions. The same name again changes it."""
    permit(by, "workshop.change")
    unknown = [code for code in fields.get("hazards", []) if code not in HAZARDS]
    if unknown:
        raise ValidationError({"hazards": f"No caution has this code: {', '.join(unknown)}."})
    for figure in ("open_hours", "close_hours", "discovery"):
        if figure in fields and not isinstance(fields[figure], Decimal):
            fields[figure] = decimal(fields[figure], figure)
    row = Access.objects.filter(name=name.strip()).first()
    if row is None:
        row = Access(name=name.strip())
        save_clean(row)
    moved = set_fields(row, fields, ACCESS_FIELDS)
    acts.record(act="workshop.access", by=by, subject=row, detail=moved)
    announce("workshop.access", None)
    return row


@transaction.atomic
def tool_set(*, by: Person, name: str, **fields: Any) -> SpecialTool:
    """A special tool: its home, who keeps it, until when it is calibrated. The same name again changes it."""
    permit(by, "workshop.change")
    row = SpecialTool.objects.filter(name=name.strip()).first()
    if row is None:
        row = SpecialTool(name=name.strip())
        save_clean(row)
    moved = set_fields(row, fields, TOOL_FIELDS)
    acts.record(act="workshop.tool", by=by, subject=row, detail=moved)
    announce("workshop.tool", None)
    return row


def _may_hand_out(by: Person, tool: SpecialTool) -> None:
    keeps = by.is_active and tool.keeper_id == by.pk
    permit(by, "workshop.change", keeps or may(by, "workshop.change") or may(by, "card.take"))


@transaction.atomic
def tool_lend(*, by: Person, tool: SpecialTool, to: str, back_on: dt.date | None = None) -> SpecialTool:
    """Gone out: to whom, and back when. A job that needs it says so while it is planned, not at the bench."""
    row = SpecialTool.objects.select_for_update().get(pk=tool.pk)
    _may_hand_out(by, row)
    if row.on_loan_to:
        raise ValidationError({"to": f"{row} is with {row.on_loan_to}. Write it down as back first."})
    row.on_loan_to, row.back_on = wanted(to, "to", "Write who has it."), back_on
    save_clean(row, ["on_loan_to", "back_on"])
    acts.record(
        act="workshop.tool_out", by=by, subject=row, detail={"to": row.on_loan_to, "back": str(back_on)}
    )
    announce("workshop.tool_out", None)
    return row


@transaction.atomic
def tool_back(*, by: Person, tool: SpecialTool) -> SpecialTool:
    row = SpecialTool.objects.select_for_update().get(pk=tool.pk)
    _may_hand_out(by, row)
    if not row.on_loan_to:
        raise ValidationError(f"{row} is not out.")
    had, row.on_loan_to, row.back_on = row.on_loan_to, "", None
    save_clean(row, ["on_loan_to", "back_on"])
    acts.record(act="workshop.tool_back", by=by, subject=row, detail={"from": had})
    announce("workshop.tool_back", None)
    return row


@transaction.atomic
def tool_drawing_add(*, by: Person, tool: SpecialTool, photo: Photo) -> SpecialTool:
    """A drawing or a photograph with sizes, so that a tool of our own can be made again."""
    permit(by, "workshop.change")
    tool.drawings.add(photo)
    acts.record(act="tool.drawing", by=by, subject=tool, detail={"drawings": tool.drawings.count()})
    return tool
