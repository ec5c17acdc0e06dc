"""A fault slip handed in: counted, once, with its photograph; it lands with the lead to be assessed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils import timezone

from fleet.models import Person, Photo, Vehicle
from fleet.services.fields import save_clean
from fleet.services.photos import photo_add
from maintenance.enums import DefectSource
from maintenance.forms.slip import MOVE, WHAT
from maintenance.models import Defect, DefectNote, SlipPost, Submission
from maintenance.queries.defects import likely_duplicates
from maintenance.services.defects import defect_report
from maintenance.services.submissions import once

HOUR = dt.timedelta(hours=1)
TITLE_WORDS = 9
NOT_SAFE = "Not safe to move"


class TooMany(Exception):
    """More slips came from one tag within the hour than anybody would write."""


def slip_counted(vehicle: Vehicle) -> None:
    """Count one post from this vehicle's tag.

    Raises:
        TooMany: the cap of the hour is reached; nothing more is counted, decoded or kept.
    """
    with transaction.atomic():
        key = Vehicle.objects.select_for_update().get(pk=vehicle.pk).tag_key
        if (
            SlipPost.objects.filter(tag_key=key, at__gt=timezone.now() - HOUR).count()
            >= settings.SLIP_POSTS_PER_HOUR
        ):
            raise TooMany
        SlipPost.objects.create(tag_key=key)


def is_repeat(key: str) -> bool:
    return Submission.objects.filter(key=key).exists()


def slip_hand_in(
    *,
    vehicle: Vehicle,
    by: Person | None,
    key: str,
    words: str,
    answers: Mapping[str, str],
    name: str = "",
    upload: UploadedFile[bytes] | None = None,
) -> Defect:
    """Report a fault from the four questions. `by` None came with the vehicle's tag, without a sign-in.

    The name of a visitor stands with the fault alone, never in the act book, so that it can be cleared in its time.
    """
    repeat = is_repeat(key)
    if by is None and not repeat:
        slip_counted(vehicle)
    photo = photo_add(by=by, upload=upload, vehicle=vehicle, shows="With a fault slip") if upload else None
    content = {
        "vehicle": vehicle.pk, "words": words, "answers": dict(answers), "name": name, "photo": photo.sha256 if photo else "",
    }  # fmt: skip
    answer, _ = once(
        key=key, person=by, act="slip", payload=content,
        do=lambda: _report(vehicle, by, words, answers, name, photo),
    )  # fmt: skip
    return Defect.objects.get(pk=answer["defect"])


def _report(
    vehicle: Vehicle,
    by: Person | None,
    words: str,
    answers: Mapping[str, str],
    name: str,
    photo: Photo | None,
) -> dict[str, Any]:
    row = defect_report(
        vehicle=vehicle, by=by, title=_title(words, answers), words=words, answers=answers,
        source=DefectSource.SLIP if by is None else DefectSource.PERSON, photos=[photo] if photo is not None else [],
    )  # fmt: skip
    if by is None and name.strip():
        row.reporter_name = name.strip()[:80]
        save_clean(row, ["reporter_name"])
    alike = list(likely_duplicates(vehicle, None, leave_out=row.pk)[:5])
    if alike:
        listed = "; ".join(f"{one.serial} {one.title}" for one in alike)
        save_clean(DefectNote(defect=row, by=None, text=f"Perhaps known already: {listed}."))
    return {"defect": row.pk, "serial": row.serial}


def _title(words: str, answers: Mapping[str, str]) -> str:
    """What it does, the first words, and first of all that it must not be moved: the lead reads this line."""
    parts = words.split()
    short = " ".join(parts[:TITLE_WORDS]) + (" ..." if len(parts) > TITLE_WORDS else "")
    told = ": ".join(one for one in (answers.get(WHAT, ""), short) if one)
    return f"{NOT_SAFE}. {told}"[:200] if answers.get(MOVE) == "No" else told[:200]


@transaction.atomic
def clear_old_names(now: dt.datetime | None = None) -> int:
    """Take visitors' names off slips that are older than the museum keeps them; and old counts of posts."""
    from fleet.http import museum

    moment = now or timezone.now()
    row = museum()
    days = row.keep_names_days if row is not None else 365
    SlipPost.objects.filter(at__lt=moment - 48 * HOUR).delete()
    old = Defect.objects.filter(reported_by=None, reported_at__lt=moment - dt.timedelta(days=days)).exclude(
        reporter_name=""
    )
    return old.update(reporter_name="")
