"""Do-not-run tags. Anybody of the house hangs one; the lead alone lifts it, with the number of its paper stub."""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Person, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from fleet.services.serials import next_stub, stub_reserve
from maintenance.held import held_by
from maintenance.models import JobCard, Tag
from maintenance.services.base import announce, moment, wanted


@transaction.atomic
def tag_hang(
    *,
    vehicle: Vehicle,
    by: Person,
    reason: str,
    card: JobCard | None = None,
    stub: str = "",
    at: dt.datetime | None = None,
) -> Tag:
    """Hang a tag. `stub`: the number printed on a tag from the pad; empty gives the next free one."""
    permit(by, "tag.hang")
    if card is not None and card.vehicle_id != vehicle.pk:
        raise ValidationError({"card": f"{card} is of another vehicle."})
    words = wanted(reason, "reason", "Write why, in ten words or so.")
    tag = Tag(
        vehicle=Vehicle.objects.select_for_update().get(pk=vehicle.pk), reason=_short(words), card=card,
        stub=_stub(stub.strip()), placed_at=moment(at), placed_by=by,
    )  # fmt: skip
    save_clean(tag)
    acts.record(
        act="tag.hang", by=by, subject=tag, vehicle=vehicle, detail={"stub": tag.stub, "reason": words}
    )
    announce("tag.hang", vehicle.pk)
    return tag


def _short(words: str) -> str:
    return words if len(words) <= 120 else words[:117].rsplit(" ", 1)[0] + "..."


def _stub(given: str) -> str:
    """The number given, passed over from now on; or the next that no tag has."""
    if given:
        if given.isdigit() and len(given) <= 6:
            stub_reserve(int(given))
        return given
    stub = f"{next_stub():04d}"
    return stub if not Tag.objects.filter(stub=stub).exists() else _stub("")


@transaction.atomic
def tag_lift(*, tag: Tag, by: Person, stub: str, reason: str = "") -> Tag:
    """Lift a tag. While its job is open, the reason must be written."""
    permit(by, "tag.lift")
    row = Tag.objects.select_for_update(of=("self",)).select_related("vehicle", "card").get(pk=tag.pk)
    if row.lifted_at is not None:
        raise ValidationError("This tag is lifted already.")
    if stub.strip().lstrip("0") != row.stub.lstrip("0") or not stub.strip():
        raise ValidationError(
            {"stub": "That is not the number on the stub. Read it from the paper that came off the vehicle."}
        )
    held = held_by(row.vehicle_id)
    if held is not None and held.tag_id == row.pk:
        raise ValidationError(
            f"The vehicle is held as it was found ({held}). Release it first, then lift the tag."
        )
    if row.card is not None and row.card.is_open and not reason.strip():
        raise ValidationError(
            {
                "reason": f"{row.card} is not finished. Finish it, or write why the vehicle may run all the same."
            }
        )
    row.lifted_at, row.lifted_by, row.lifted_stub = timezone.now(), by, stub.strip()
    row.save(update_fields=["lifted_at", "lifted_by", "lifted_stub"])
    acts.record(
        act="tag.lift",
        by=by,
        subject=row,
        vehicle=row.vehicle,
        detail={"stub": row.stub, "reason": reason.strip()},
    )
    announce("tag.lift", row.vehicle_id)
    return row
