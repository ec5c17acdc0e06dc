"""The act book: who did what, when. Written once; the database itself refuses a change."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import models


class Act(models.Model):
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        "fleet.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="acts"
    )
    by_name = models.CharField(max_length=80, blank=True)
    act = models.CharField(max_length=60, db_index=True)
    subject_kind = models.CharField(max_length=40)
    subject_id = models.CharField(max_length=40)
    subject_label = models.CharField(max_length=200)
    vehicle = models.ForeignKey(
        "fleet.Vehicle", on_delete=models.PROTECT, null=True, blank=True, related_name="acts"
    )
    detail: models.JSONField[dict[str, Any], dict[str, Any]] = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["subject_kind", "subject_id"]), models.Index(fields=["-at"])]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.by_name} {self.act} {self.subject_label}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise PermissionDenied("The act book is only added to.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise PermissionDenied("The act book is only added to.")


class Serial(models.Model):
    """The next number of the year in the job book: cards and defects share one series, as in a paper book."""

    year = models.PositiveSmallIntegerField(unique=True)
    last = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.year % 100:02d}/{self.last:03d}"
