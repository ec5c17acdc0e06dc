"""Setting fields on a row: only those that the service names, cleaned, with what moved written down."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

from fleet.services.acts import changes_between


def set_fields(row: models.Model, changes: Mapping[str, Any], allowed: Iterable[str]) -> dict[str, list[str]]:
    """Set, clean and save; returns old and new of what moved. A field that is not allowed is told."""
    names = set(allowed)
    unknown = sorted(set(changes) - names)
    if unknown:
        raise ValidationError(f"These cannot be changed here: {', '.join(unknown)}.")
    before = {name: getattr(row, name) for name in changes}
    for name, value in changes.items():
        setattr(row, name, value)
    row.full_clean()
    moved = changes_between(before, {name: getattr(row, name) for name in changes})
    if moved:
        row.save(update_fields=list(moved))
    return moved


def save_clean(row: models.Model, update_fields: Iterable[str] | None = None) -> None:
    row.full_clean()
    row.save(update_fields=list(update_fields) if update_fields is not None else None)
