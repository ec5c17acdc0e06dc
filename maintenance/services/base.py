"""What every service of the workshop does: lock the row, look whether somebody was first, write it down, tell."""

from __future__ import annotations

import datetime as dt
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils import timezone

from fleet.errors import Conflict
from fleet.models import Act, Person
from fleet.services import acts
from fleet.services.acts import words_of
from maintenance.models import Defect, JobCard, PartNeed
from maintenance.signals import event_end_asked, work_changed

__all__ = ["Conflict", "announce", "card_lock", "card_save", "lock", "next_event_end", "touch"]

Versioned = TypeVar("Versioned", JobCard, Defect, PartNeed)


def announce(act: str, vehicle_id: int | None) -> None:
    """Tell the app above, once this is committed."""
    transaction.on_commit(lambda: _send(act, vehicle_id), robust=True)


def _send(act: str, vehicle_id: int | None) -> None:
    work_changed.send(sender=JobCard, act=act, vehicle_id=vehicle_id)


def next_event_end(vehicle_id: int, day: dt.date) -> dt.date | None:
    """The last day of the next event, as the app above knows it."""
    answers: Any = event_end_asked.send(sender=JobCard, vehicle_id=vehicle_id, day=day)
    return min((answer for _, answer in answers if isinstance(answer, dt.date)), default=None)


def lock(row: Versioned, expected_version: int | None = None) -> Versioned:
    """The row as it is now, held until the transaction ends.

    Raises:
        Conflict: it has moved on since `expected_version`; the words say who did what.
    """
    fresh = type(row).objects.select_for_update().get(pk=row.pk)
    if expected_version is not None and fresh.version != expected_version:
        raise Conflict(
            f"{fresh} was changed by another while you had it open. Nothing of yours was written; look, then do it again.",
            changes_since(fresh, expected_version),
        )
    return fresh


def changes_since(row: models.Model, version: int) -> list[str]:
    """What was done to the row after that version, as sentences, oldest first."""
    lines = Act.objects.filter(subject_kind=row._meta.label_lower, subject_id=str(row.pk)).order_by("-pk")[
        :50
    ]
    told = []
    for line in lines:
        reached = line.detail.get("version")
        if reached is None:
            continue
        if int(reached) <= version:
            break
        at = timezone.localtime(line.at)
        told.append(f"{line.by_name or 'A visitor'} {words_of(line.act)}, {at.day} {at:%B} {at:%H:%M}.")
    return told[::-1]


def touch(
    row: Versioned,
    *,
    act: str,
    by: Person | None,
    fields: list[str],
    detail: dict[str, Any] | None = None,
    by_name: str = "",
) -> Versioned:
    """Clean and save a locked row as its next version, with one line in the act book."""
    row.version += 1
    row.full_clean(validate_unique=False, validate_constraints=False)
    row.save(update_fields=[*fields, "version"])
    acts.record(
        act=act, by=by, by_name=by_name, subject=row, vehicle=row.vehicle,
        detail={**(detail or {}), "version": row.version},
    )  # fmt: skip
    announce(act, row.vehicle_id)
    return row


def card_lock(card: JobCard, expected_version: int | None = None, *, ended: bool = False) -> JobCard:
    """An open job, locked. `ended` True lets one that has ended through too."""
    fresh = lock(card, expected_version)
    if not ended and not fresh.is_open:
        raise Conflict(
            f"{fresh} has ended ({fresh.get_state_display().lower()}). Nothing was written; open it again first if more is to be done.",
            changes_since(fresh, expected_version) if expected_version is not None else (),
        )
    return fresh


def card_save(
    card: JobCard,
    *,
    act: str,
    by: Person | None,
    fields: list[str] | None = None,
    detail: dict[str, Any] | None = None,
    at: dt.datetime | None = None,
) -> JobCard:
    """Save a locked job: touched now, next version."""
    card.touched_at = max(card.touched_at, at or timezone.now())
    return touch(card, act=act, by=by, fields=[*(fields or []), "touched_at"], detail=detail)


def moment(at: dt.datetime | None) -> dt.datetime:
    """When it was done, as the phone says, but never later than now: a clock that is ahead counts as now."""
    now = timezone.now()
    return now if at is None else min(at, now)


def wanted(value: str, field: str, sentence: str) -> str:
    """Text that must be there."""
    if not value.strip():
        raise ValidationError({field: sentence})
    return value.strip()
