"""What the services of the programme share: the row as it is now, who was first, one line in the act book."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from fleet.errors import Conflict
from fleet.models import Act, Person, Vehicle
from fleet.services import acts
from readiness.act_words import words_of
from readiness.models import Entry, Event, Slot
from readiness.receivers import request_assessment

Versioned = TypeVar("Versioned", Event, Slot, Entry)


def lock(row: Versioned, version: int | None) -> Versioned:
    """The row as it is now, held until the transaction ends.

    Raises:
        Conflict: it has moved on since `version`, or is gone; the words say who did what.
    """
    fresh = type(row).objects.select_for_update().filter(pk=row.pk).first()
    if fresh is None:
        raise Conflict(f"{row} was dropped by another while you had it open. Nothing was written.")
    if version is not None and fresh.version != version:
        raise Conflict(
            "Another changed this while you had it open. Nothing of yours is lost: look at what changed, then hand in again.",
            changes_since(fresh, version),
        )
    return fresh


def changes_since(row: models.Model, version: int) -> list[str]:
    """What others did to the row after that version, one sentence each, oldest first."""
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
        told.append(
            f"{line.by_name or 'Somebody'} {words_of(line.act)}, {day_time(line.at)}{_moved_words(line.detail)}."
        )
    return told[::-1]


def day_time(moment: Any) -> str:
    at = timezone.localtime(moment)
    return f"{at:%a} {at.day} {at:%B} {at:%H:%M}"


def _moved_words(detail: Mapping[str, Any]) -> str:
    pairs = [
        f"{name.replace('_', ' ')}: {pair[0] or 'empty'} to {pair[1] or 'empty'}"
        for name, pair in detail.items()
        if isinstance(pair, list) and len(pair) == 2
    ]
    return f" ({'; '.join(pairs)})" if pairs else ""


def change(row: Versioned, changes: Mapping[str, Any], allowed: Iterable[str]) -> dict[str, list[str]]:
    """Set, clean and save a locked row as its next version; old and new of what moved, empty when nothing did."""
    unknown = sorted(set(changes) - set(allowed))
    if unknown:
        raise ValidationError(f"These cannot be changed here: {', '.join(unknown)}.")
    before = {name: getattr(row, name) for name in changes}
    for name, value in changes.items():
        setattr(row, name, value)
    row.full_clean()
    moved: dict[str, list[str]] = {
        name: [_plain(old), _plain(getattr(row, name))]
        for name, old in before.items()
        if old != getattr(row, name)
    }
    if moved:
        row.version += 1
        row.save(update_fields=[*moved, "version"])
    return moved


def _plain(value: Any) -> str:
    """A value as the act book keeps it: times as the museum's clock shows them."""
    if isinstance(value, dt.datetime):
        return f"{timezone.localtime(value):%Y-%m-%d %H:%M}"
    if isinstance(value, list):
        return ", ".join(map(str, value))
    if isinstance(value, dict):
        return "; ".join(f"{name}: {words}" for name, words in value.items())
    return "" if value is None else str(value)


def bump(row: Versioned) -> None:
    """The next version of a locked row, where what hangs on it changed."""
    row.version += 1
    row.save(update_fields=["version"])


def written(
    *,
    act: str,
    by: Person | None,
    subject: models.Model,
    vehicle: Vehicle | None = None,
    detail: Mapping[str, Any] | None = None,
) -> None:
    """One line in the act book, and a new assessment asked for, both with the change or not at all."""
    version = getattr(subject, "version", None)
    kept = dict(detail or {})
    if version is not None:
        kept["version"] = version
    acts.record(act=act, by=by, subject=subject, vehicle=vehicle, detail=kept)
    request_assessment()
