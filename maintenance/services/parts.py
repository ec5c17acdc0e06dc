"""Parts: what a job needs, ordered, promised, come in, reserved."""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.errors import Conflict
from fleet.models import Person, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from maintenance.enums import CardState, DefectSource, HeldFor, NeedState
from maintenance.models import Defect, JobCard, PartNeed, Supplier
from maintenance.services.base import announce, lock, touch, wanted
from maintenance.services.defects import defect_report
from maintenance.services.opening import card_release

OUTSTANDING = frozenset(
    {NeedState.NOT_ORDERED, NeedState.ON_ORDER, NeedState.OUT_FOR_REPAIR, NeedState.UNKNOWN}
)


@transaction.atomic
def part_need_add(
    *,
    by: Person,
    name: str,
    card: JobCard | None = None,
    vehicle: Vehicle | None = None,
    quantity: int = 1,
    state: str = NeedState.NOT_ORDERED,
    lead_days: int | None = None,
    supplier: str | Supplier | None = None,
    ordered_on: dt.date | None = None,
    promised_on: dt.date | None = None,
    bin: str = "",
    note: str = "",
    code: str = "",
) -> PartNeed:
    """Say what a job needs, in whatever state it is: on the shelf, not ordered, on order, or not known yet."""
    permit(by, "part.need")
    if card is not None and vehicle is not None and card.vehicle_id != vehicle.pk:
        raise ValidationError({"vehicle": f"{card} is of another vehicle."})
    row = PartNeed(
        code=code, name=name.strip(), card=card, vehicle=vehicle or (card.vehicle if card else None), quantity=quantity,
        state=state, lead_days=lead_days, supplier=_supplier(supplier), ordered_on=ordered_on, promised_on=promised_on,
        bin=bin, note=note,
    )  # fmt: skip
    save_clean(row)
    acts.record(act="part.need", by=by, subject=row, vehicle=row.vehicle, detail={"version": row.version})
    announce("part.need", row.vehicle_id)
    return row


def _supplier(supplier: str | Supplier | None) -> Supplier | None:
    if supplier is None or isinstance(supplier, Supplier):
        return supplier
    name = supplier.strip()
    return Supplier.objects.get_or_create(name=name)[0] if name else None


@transaction.atomic
def part_ordered(
    *,
    part: PartNeed,
    by: Person,
    promised_on: dt.date,
    ordered_on: dt.date | None = None,
    supplier: str | Supplier | None = None,
    out_for_repair: bool = False,
    expected_version: int | None = None,
) -> PartNeed:
    """Ordered, or sent away, and for when it was promised."""
    permit(by, "part.order")
    row = lock(part, expected_version)
    if row.state not in OUTSTANDING:
        raise ValidationError({"state": f"{row} is {row.get_state_display().lower()} already."})
    row.state = NeedState.OUT_FOR_REPAIR if out_for_repair else NeedState.ON_ORDER
    row.ordered_on, row.promised_on = ordered_on or timezone.localdate(), promised_on
    row.supplier = _supplier(supplier) or row.supplier
    return touch(
        row,
        act="part.order",
        by=by,
        fields=["state", "ordered_on", "promised_on", "supplier"],
        detail={"promised": promised_on.isoformat()},
    )


@transaction.atomic
def part_promised(
    *, part: PartNeed, by: Person, promised_on: dt.date, note: str = "", expected_version: int | None = None
) -> PartNeed:
    """Another day was promised. The first day stays in the act book; lateness is learnt from both."""
    permit(by, "part.order")
    row = lock(part, expected_version)
    if row.state not in {NeedState.ON_ORDER, NeedState.OUT_FOR_REPAIR}:
        raise ValidationError({"state": f"{row} is not on order."})
    before, row.promised_on = str(row.promised_on), promised_on
    row.note = note.strip() or row.note
    return touch(
        row,
        act="part.promise",
        by=by,
        fields=["promised_on", "note"],
        detail={"promised": [before, promised_on.isoformat()]},
    )


@transaction.atomic
def part_received(
    *,
    part: PartNeed,
    by: Person,
    bin: str,
    received_on: dt.date | None = None,
    expected_version: int | None = None,
) -> PartNeed:
    """Come in and laid on the shelf for its job. A job that was held for this alone is free to go on."""
    permit(by, "part.receive")
    row = lock(part, expected_version)
    if row.state in {NeedState.FITTED, NeedState.NOT_NEEDED, NeedState.ON_SHELF}:
        raise ValidationError({"state": f"{row} is {row.get_state_display().lower()} already."})
    row.state, row.received_on = NeedState.ON_SHELF, received_on or timezone.localdate()
    row.bin = wanted(bin, "bin", "Write the bin or shelf, so that the next one finds it.")
    touch(row, act="part.receive", by=by, fields=["state", "received_on", "bin"], detail={"bin": row.bin})
    _release_card(row)
    return row


def _release_card(part: PartNeed) -> None:
    card = part.card
    if card is None or card.state != CardState.HELD or card.held_for != HeldFor.PART:
        return
    if not card.parts.filter(state__in=OUTSTANDING).exists():
        card_release(card=card, by=None)


@transaction.atomic
def part_reserve(
    *, part: PartNeed, card: JobCard, by: Person, expected_version: int | None = None
) -> PartNeed:
    """Keep a part on the shelf for a job. One that is kept for another job is not free."""
    permit(by, "part.receive")
    row = lock(part, expected_version)
    if row.state != NeedState.ON_SHELF:
        raise ValidationError({"state": f"{row} is not on the shelf."})
    if row.card is not None and row.card_id != card.pk and row.card.is_open:
        raise Conflict(f"{row} is kept for {row.card}. Ask there first, or order another.")
    row.card, row.vehicle = card, card.vehicle
    touch(row, act="part.reserve", by=by, fields=["card", "vehicle"], detail={"card": card.serial})
    _release_card(row)
    return row


def _set_state(
    part: PartNeed, by: Person, state: NeedState, act: str, note: str, expected_version: int | None
) -> PartNeed:
    permit(by, "part.need")
    row = lock(part, expected_version)
    if row.state == NeedState.FITTED:
        raise ValidationError({"state": f"{row} is fitted already."})
    row.state, row.note = state, note.strip() or row.note
    return touch(row, act=act, by=by, fields=["state", "note"])


@transaction.atomic
def part_unknown(
    *, part: PartNeed, by: Person, note: str = "", expected_version: int | None = None
) -> PartNeed:
    """Whether it is needed shows only on opening."""
    return _set_state(part, by, NeedState.UNKNOWN, "part.unknown", note, expected_version)


@transaction.atomic
def part_wanted(
    *, part: PartNeed, by: Person, note: str = "", expected_version: int | None = None
) -> PartNeed:
    """It is needed after all, and is not ordered yet."""
    return _set_state(part, by, NeedState.NOT_ORDERED, "part.wanted", note, expected_version)


@transaction.atomic
def part_not_needed(
    *, part: PartNeed, by: Person, note: str = "", expected_version: int | None = None
) -> PartNeed:
    row = _set_state(part, by, NeedState.NOT_NEEDED, "part.not_needed", note, expected_version)
    _release_card(row)
    return row


@transaction.atomic
def part_robbed(
    *, donor: Vehicle, card: JobCard, by: Person, name: str, reason: str, bin: str
) -> tuple[PartNeed, Defect]:
    """Taken off one vehicle for another: written on both. The donor has a fault from now on, so it is never shown as whole."""
    permit(by, "part.rob")
    if donor.pk == card.vehicle_id:
        raise ValidationError({"donor": "That is the same vehicle."})
    why = wanted(reason, "reason", "Write why it is taken, and when it comes back.")
    need = part_need_add(
        by=by,
        name=name,
        card=card,
        state=NeedState.ON_SHELF,
        bin=bin,
        note=f"Taken from {donor}. {why}"[:200],
    )
    defect = defect_report(
        vehicle=donor,
        by=by,
        title=f"{name} taken for {card.vehicle.painted}, job {card.serial}",
        words=why,
        source=DefectSource.PERSON,
    )
    acts.record(
        act="part.rob",
        by=by,
        subject=need,
        vehicle=donor,
        detail={"for": card.serial, "fault": defect.serial},
    )
    _release_card(need)
    return need, defect
