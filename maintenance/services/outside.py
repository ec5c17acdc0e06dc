"""Asking somebody from outside, and what becomes of it: the job or inspection that waits for them is told."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Person, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from maintenance.enums import OutsideState
from maintenance.models import Inspection, JobCard, OutsideHand, PartNeed
from maintenance.services.base import announce, card_lock, card_save, wanted
from maintenance.services.inspections import inspection_book

OPEN = frozenset({OutsideState.ASKED, OutsideState.APPOINTED})


@transaction.atomic
def outside_ask(
    *,
    by: Person,
    kind: str,
    who: str,
    about: str,
    contact: str = "",
    vehicle: Vehicle | None = None,
    card: JobCard | None = None,
    inspection: Inspection | None = None,
    part: PartNeed | None = None,
    asked_on: dt.date | None = None,
    answer_by: dt.date | None = None,
    comes_on: dt.date | None = None,
    note: str = "",
) -> OutsideHand:
    """They were asked; with `comes_on` they have said when they come."""
    permit(by, "outside.ask")
    vehicle = vehicle or (card.vehicle if card else None) or (inspection.vehicle if inspection else None) or (
        part.vehicle if part else None
    )  # fmt: skip
    for name, owner in (("card", card), ("inspection", inspection), ("part", part)):
        theirs = getattr(owner, "vehicle_id", None)
        if theirs is not None and vehicle is not None and theirs != vehicle.pk:
            raise ValidationError({name: f"{owner} is of another vehicle."})
    row = OutsideHand(
        kind=kind, who=wanted(who, "who", "Write who was asked."), about=wanted(about, "about", "Write what is asked of them."),
        contact=contact.strip(), vehicle=vehicle, card=card, inspection=inspection, part=part, by=by,
        asked_on=asked_on or timezone.localdate(), answer_by=answer_by, note=note.strip(),
    )  # fmt: skip
    if row.asked_on > timezone.localdate():
        raise ValidationError({"asked_on": "That day has not come yet."})
    save_clean(row)
    acts.record(
        act="outside.ask", by=by, subject=row, vehicle=vehicle, detail={"who": row.who, "about": row.about}
    )
    announce("outside.ask", vehicle.pk if vehicle else None)
    return outside_appoint(hand=row, by=by, comes_on=comes_on) if comes_on else row


def _locked(hand: OutsideHand) -> OutsideHand:
    row = OutsideHand.objects.select_for_update(of=("self",)).select_related(
        "vehicle", "card", "inspection", "part"
    ).get(pk=hand.pk)  # fmt: skip
    if row.state not in OPEN:
        raise ValidationError(f"{row} is over: {row.get_state_display().lower()}. Ask them anew.")
    return row


@transaction.atomic
def outside_appoint(*, hand: OutsideHand, by: Person, comes_on: dt.date, note: str = "") -> OutsideHand:
    """They come on that day. A job or an inspection that waits for them counts on it."""
    permit(by, "outside.ask")
    row = _locked(hand)
    if comes_on < timezone.localdate():
        raise ValidationError({"comes_on": "That day is past."})
    row.state, row.comes_on, row.note = OutsideState.APPOINTED, comes_on, note.strip() or row.note
    save_clean(row, ["state", "comes_on", "note"])
    _tell(row, by, comes_on)
    return _written(row, by, "outside.appoint", day=str(comes_on))


@transaction.atomic
def outside_came(*, hand: OutsideHand, by: Person, note: str = "") -> OutsideHand:
    """They have been. The result of an inspection or a test is recorded where it belongs."""
    permit(by, "outside.ask")
    row = _locked(hand)
    row.state, row.ended_at, row.note = OutsideState.CAME, timezone.now(), note.strip() or row.note
    save_clean(row, ["state", "ended_at", "note"])
    return _written(row, by, "outside.came")


@transaction.atomic
def outside_off(*, hand: OutsideHand, by: Person, note: str) -> OutsideHand:
    """It came to nothing: what waited for them waits again."""
    permit(by, "outside.ask")
    row = _locked(hand)
    was = row.comes_on
    row.state, row.ended_at, row.comes_on = OutsideState.FELL_THROUGH, timezone.now(), None
    row.note = wanted(note, "note", "Write why, so that the next one knows.")
    save_clean(row, ["state", "ended_at", "comes_on", "note"])
    if was is not None:
        _tell(row, by, None)
    return _written(row, by, "outside.off", why=row.note)


def _tell(row: OutsideHand, by: Person, day: dt.date | None) -> None:
    if row.card is not None and row.card.is_open:
        card = card_lock(row.card)
        card.outside_on, card.outside_who = day, row.who if day else ""
        card_save(
            card, act="card.plan", by=by, fields=["outside_on", "outside_who"],
            detail={"outside visit": str(day)},
        )  # fmt: skip
    if row.inspection is not None:
        inspection_book(inspection=row.inspection, by=by, day=day)


def _written(row: OutsideHand, by: Person, act: str, **detail: Any) -> OutsideHand:
    acts.record(act=act, by=by, subject=row, vehicle=row.vehicle, detail=detail)
    announce(act, row.vehicle_id)
    return row
