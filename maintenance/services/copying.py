"""Readings on cardboard: photographed at once, typed in when there is time, asked for until then."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Person, Photo, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.meters import Figure
from fleet.services.permit import permit
from maintenance.models import JobCard, Measure, Reading, ToCopy
from maintenance.services.base import announce, wanted
from maintenance.services.readings import reading_add


@transaction.atomic
def paper_keep(
    *, by: Person, vehicle: Vehicle, photo: Photo, card: JobCard | None = None, words: str = ""
) -> ToCopy:
    """A photograph of readings on paper, kept until they are in the book."""
    permit(by, "reading.add")
    if card is not None and card.vehicle_id != vehicle.pk:
        raise ValidationError({"card": f"{card} is of another vehicle."})
    row = ToCopy(vehicle=vehicle, card=card, photo=photo, words=words.strip(), by=by)
    save_clean(row)
    acts.record(act="reading.paper", by=by, subject=row, vehicle=vehicle)
    announce("reading.paper", vehicle.pk)
    return row


def _open(paper: ToCopy) -> ToCopy:
    row = ToCopy.objects.select_for_update(of=("self",)).select_related("vehicle", "card").get(pk=paper.pk)
    if row.done_at is not None:
        raise ValidationError("These are copied already.")
    return row


@transaction.atomic
def paper_copy(
    *, paper: ToCopy, by: Person, measure: Measure, values: Sequence[Figure | None], moment_of: str = "check",
    condition: str = "", note: str = "",
) -> Reading:  # fmt: skip
    """One reading typed in from the photograph, dated by when it was taken, judged as any other."""
    permit(by, "reading.copy")
    row = _open(paper)
    if measure.vehicle_id != row.vehicle_id:
        raise ValidationError({"measure": "That reading is of another vehicle."})
    card = row.card if row.card is not None and row.card.is_open else None
    reading = reading_add(
        by=by, measure=measure, values=values, card=card, moment_of=moment_of, condition=condition,
        at=row.photo.taken_at, note=(note or "Copied from paper")[:200],
    )  # fmt: skip
    row.readings.add(reading)
    return reading


@transaction.atomic
def paper_done(*, paper: ToCopy, by: Person, words: str = "") -> ToCopy:
    """All is copied; or nothing on it can be read, said in words. The photograph stays."""
    permit(by, "reading.copy")
    row = _open(paper)
    if not row.readings.exists():
        row.done_words = wanted(words, "words", "No reading was copied from it. Write why.")
    else:
        row.done_words = words.strip()
    row.done_at, row.done_by = timezone.now(), by
    save_clean(row, ["done_at", "done_by", "done_words"])
    acts.record(
        act="reading.copied", by=by, subject=row, vehicle=row.vehicle,
        detail={"readings": row.readings.count(), "words": row.done_words},
    )  # fmt: skip
    return row


def papers_open(vehicles: Iterable[int] | None = None) -> list[ToCopy]:
    """What still waits to be copied, oldest first."""
    rows = ToCopy.objects.filter(done_at=None).select_related("vehicle", "card", "by", "photo")
    return list(rows if vehicles is None else rows.filter(vehicle__in=list(vehicles)))
