"""What is original and where it lies: written down, kept when it comes off, moved, put back, parted with by the curator."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Person, Subsystem, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean, set_fields
from fleet.services.permit import permit
from maintenance.enums import HeldFor, Reversible
from maintenance.models import FabricPart, JobCard
from maintenance.services.base import announce, card_lock, card_save, wanted

FIELDS = frozenset({"name", "standing", "hands_off", "note", "hazard", "subsystem"})


@transaction.atomic
def fabric_part_set(
    *, by: Person, vehicle: Vehicle, part: FabricPart | None = None, **fields: Any
) -> FabricPart:
    """A part that matters, new or written anew: original or not, and what may not be done to it."""
    permit(by, "fabric.part")
    system: Subsystem | None = fields.get("subsystem")
    if system is not None and system.vehicle_id != vehicle.pk:
        raise ValidationError({"subsystem": "That system belongs to another vehicle."})
    row = FabricPart.objects.select_for_update().get(pk=part.pk) if part else FabricPart(vehicle=vehicle)
    moved: dict[str, Any]
    if row.pk:
        moved = set_fields(row, fields, FIELDS)
    else:
        for name in FIELDS & set(fields):
            setattr(row, name, fields[name])
        save_clean(row)
        moved = {"standing": row.standing}
    acts.record(act="fabric.part", by=by, subject=row, vehicle=vehicle, detail=moved)
    announce("fabric.part", vehicle.pk)
    return row


def _locked(part: FabricPart) -> FabricPart:
    return FabricPart.objects.select_for_update(of=("self",)).select_related("vehicle").get(pk=part.pk)


@transaction.atomic
def fabric_part_off(
    *,
    part: FabricPart,
    by: Person,
    label: str,
    shelf: str,
    reason: str,
    card: JobCard | None = None,
    off_on: dt.date | None = None,
) -> FabricPart:
    """It came off: keep it. Label number, shelf and reason are wanted before anything else goes on."""
    permit(by, "fabric.off")
    row = _locked(part)
    if not row.is_fitted:
        raise ValidationError(f"{row} is off already: label {row.label}, shelf {row.shelf}.")
    row.label = wanted(label, "label", "Keep it: write the number of its label.")
    row.shelf = wanted(shelf, "shelf", "Keep it: write the shelf it lies on.")
    row.off_reason = wanted(reason, "reason", "Write why it came off.")
    row.off_on, row.off_card = off_on or timezone.localdate(), card
    if card is not None and card.vehicle_id != row.vehicle_id:
        raise ValidationError({"card": f"{card} is of another vehicle."})
    save_clean(row, ["label", "shelf", "off_reason", "off_on", "off_card"])
    return _written(row, by, "fabric.off", label=row.label, shelf=row.shelf, reason=row.off_reason)


@transaction.atomic
def fabric_part_move(*, part: FabricPart, by: Person, shelf: str, why: str = "") -> FabricPart:
    """A kept part lies elsewhere now. Each move is one line in the book."""
    permit(by, "fabric.off")
    row = _locked(part)
    if row.is_fitted or row.disposed_on:
        raise ValidationError(f"{row} lies on no shelf.")
    was, row.shelf = row.shelf, wanted(shelf, "shelf", "Write where it lies now.")
    save_clean(row, ["shelf"])
    return _written(row, by, "fabric.move", shelf=[was, row.shelf], why=why.strip())


@transaction.atomic
def fabric_part_back(*, part: FabricPart, by: Person, words: str = "") -> FabricPart:
    """The original is on the vehicle again."""
    permit(by, "fabric.off")
    row = _locked(part)
    if row.is_fitted or row.disposed_on:
        raise ValidationError(f"{row} cannot be put back: it is {'fitted' if row.is_fitted else 'gone'}.")
    detail = {"label": row.label, "shelf": row.shelf, "words": words.strip()}
    row.off_on, row.off_card, row.off_reason, row.label, row.shelf = None, None, "", "", ""
    save_clean(row, ["off_on", "off_card", "off_reason", "label", "shelf"])
    return _written(row, by, "fabric.back", **detail)


@transaction.atomic
def fabric_part_dispose(*, part: FabricPart, by: Person, why: str) -> FabricPart:
    """The curator parts with a kept piece, with a reason. The line stays."""
    permit(by, "fabric.dispose")
    row = _locked(part)
    if row.is_fitted or row.disposed_on:
        raise ValidationError(f"{row} lies on no shelf.")
    row.disposed_why = wanted(why, "why", "Write why, and what became of it.")
    row.disposed_on = timezone.localdate()
    save_clean(row, ["disposed_why", "disposed_on"])
    return _written(row, by, "fabric.dispose", why=row.disposed_why)


def _written(row: FabricPart, by: Person, act: str, **detail: Any) -> FabricPart:
    acts.record(act=act, by=by, subject=row, vehicle=row.vehicle, detail=detail)
    announce(act, row.vehicle_id)
    return row


@transaction.atomic
def fabric_propose(
    *,
    card: JobCard,
    by: Person,
    proposal: str,
    alternatives: str,
    reversible: str,
    evidence: str = "",
    expected_version: int | None = None,
) -> JobCard:
    """Ask for the curator's consent: what, why not something gentler, whether it can be undone. The job waits for the answer."""
    permit(by, "fabric.propose")
    row = card_lock(card, expected_version)
    row.proposal = wanted(proposal, "proposal", "Write what is proposed, and why.")
    row.alternatives = wanted(
        alternatives, "alternatives",
        "Write what else was thought of: clean, adjust, repair, copy, replace, leave.",
    )  # fmt: skip
    if reversible not in Reversible.values:
        raise ValidationError({"reversible": "Say whether it can be undone: yes, partly, no."})
    row.reversible, row.evidence, row.needs_consent = reversible, evidence.strip(), True
    row.consent_answer, row.consent_words, row.consent_by, row.consent_at = "", "", None, None
    row.state, row.held_for, row.held_note = "held", HeldFor.CURATOR, "Asked for the curator's consent."
    return card_save(
        row, act="fabric.propose", by=by, detail={"proposal": row.proposal, "reversible": reversible},
        fields=["proposal", "alternatives", "reversible", "evidence", "needs_consent", "consent_answer", "consent_words",
                "consent_by", "consent_at", "state", "held_for", "held_note"],
    )  # fmt: skip
