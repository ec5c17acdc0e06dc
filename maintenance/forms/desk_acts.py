"""What one page of the desk does through several services at once: all of it, or none of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.models import Person
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from maintenance.enums import CardKind, CardState
from maintenance.models import Defect, Inspection, JobCard, SpecialTool
from maintenance.services.base import announce
from maintenance.services.cards import card_open, card_plan, card_steps_set
from maintenance.services.defects import defect_assess
from maintenance.services.parts import part_need_add


@transaction.atomic
def assess_and_plan(*, by: Person, defect: Defect, job: Mapping[str, Any] | None, **rating: Any) -> Defect:
    """Assess a fault and, where that is what comes next, open its job with the parts it needs."""
    row = defect_assess(defect=defect, by=by, **rating)
    if job is not None:
        card_with_parts(
            by=by,
            vehicle=row.vehicle,
            defects=[row],
            subsystem=row.subsystem,
            parts=job["parts"],
            **job["plan"],
        )
    return row


@transaction.atomic
def card_with_parts(*, by: Person, parts: Iterable[str] = (), **plan: Any) -> JobCard:
    """Open a job and say what it needs; parts begin as not ordered."""
    card = card_open(by=by, **plan)
    for name in parts:
        part_need_add(by=by, name=name, card=card)
    return card


@transaction.atomic
def card_change(
    *,
    by: Person,
    card: JobCard,
    steps: list[tuple[str, str]] | None,
    expected_version: int | None = None,
    **changes: Any,
) -> JobCard:
    """Change the plan of a job and, where they moved, its steps. `steps` None leaves them."""
    row = card_plan(card=card, by=by, expected_version=expected_version, **changes)
    if steps is not None:
        there = [(step.text, step.source) for step in row.steps.filter(done_at=None)]
        if steps != there:
            card_steps_set(card=row, by=by, steps=steps)
    return JobCard.objects.get(pk=row.pk)


@transaction.atomic
def share_opening(*, by: Person, cards: Iterable[JobCard], word: str) -> list[JobCard]:
    """Put jobs that need the same way in into one group: opened once, closed once. A person decides it."""
    rows = list(cards)
    if len(rows) < 2:
        raise ValidationError("One job alone shares nothing.")
    if len({row.vehicle_id for row in rows}) > 1 or len({row.access_id for row in rows}) > 1:
        raise ValidationError("Only jobs on one vehicle that need the same way in can share it.")
    return [card_plan(card=row, by=by, access_group=word) for row in rows]


@transaction.atomic
def inspection_card(*, by: Person, inspection: Inspection) -> JobCard:
    """A job that carries out an inspection; passing it renews the inspection."""
    if inspection.vehicle is None:
        raise ValidationError("This one is of the site, not of a vehicle. Record it here when it is done.")
    open_card = next((card for card in inspection.cards.order_by("pk") if card.is_open), None)
    if open_card is not None:
        raise ValidationError(f"{open_card} stands for it already.")
    return card_open(
        by=by, vehicle=inspection.vehicle, title=inspection.name, kind=CardKind.PERIODIC, inspection=inspection,
        state=CardState.BOOKED_IN, hours_usual=inspection.hours, persons=inspection.persons,
        skills=list(inspection.skills.all()), needs_functional_test=False, voids_readings=False,
    )  # fmt: skip


@transaction.atomic
def tool_set(
    *,
    by: Person,
    tool: SpecialTool | None,
    name: str,
    home: str,
    keeper: Person | None,
    on_loan_to: str,
    back_on: dt.date | None,
    calibrated_until: dt.date | None,
) -> SpecialTool:
    """A special tool: where it lives, who keeps it, who has it now and when it comes back."""
    permit(by, "workshop.change")
    row = SpecialTool.objects.select_for_update().get(pk=tool.pk) if tool is not None else SpecialTool()
    if back_on is not None and not on_loan_to.strip():
        raise ValidationError({"on_loan_to": "Say who has it, or take the day off."})
    row.name, row.home, row.keeper, row.on_loan_to = name.strip(), home.strip(), keeper, on_loan_to.strip()
    row.back_on, row.calibrated_until = back_on, calibrated_until
    save_clean(row)
    acts.record(
        act="tool.set", by=by, subject=row, detail={"on loan to": row.on_loan_to, "back": str(row.back_on)}
    )
    announce("tool.set", None)
    return row
