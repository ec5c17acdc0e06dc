"""Each act sent by a phone carries its own key; the answer is kept so that a second sending changes nothing."""

from __future__ import annotations

from typing import Any

from django.db import models

from fleet.models import Person


class Submission(models.Model):
    key = models.CharField(max_length=64, unique=True)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    act = models.CharField(max_length=60)
    digest = models.CharField(max_length=64)
    at = models.DateTimeField(auto_now_add=True)
    answer: models.JSONField[dict[str, Any], dict[str, Any]] = models.JSONField(default=dict)

    def __str__(self) -> str:
        return f"{self.act} {self.key}"


class SlipPost(models.Model):
    """Counts posts from one fault-slip link, so that a lost tag cannot flood the workshop."""

    tag_key = models.CharField(max_length=20)
    address = models.CharField(max_length=45, blank=True)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        indexes = [models.Index(fields=["tag_key", "at"])]

    def __str__(self) -> str:
        return f"{self.tag_key} {self.at:%H:%M}"
