"""What is measured, how, against which limit from which source; and what was read."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.utils import timezone

from fleet.models import Person, Vehicle
from maintenance.enums import Judgement
from maintenance.models.jobs import JobCard


class Measure(models.Model):
    """A thing to read on a system of a vehicle. The limit always says where it comes from."""

    vehicle = models.ForeignKey(Vehicle, on_delete=models.CASCADE, related_name="measures")
    code = models.CharField(max_length=30, blank=True)
    system = models.CharField("system code", max_length=30)
    name = models.CharField(max_length=120)
    unit = models.CharField(max_length=16, blank=True)
    positions: models.JSONField[list[str], list[str]] = models.JSONField(
        default=list, blank=True, help_text="Such as cylinders or wheels; empty for one value."
    )
    method = models.CharField(max_length=200, blank=True)
    condition = models.CharField("warm or cold", max_length=40, blank=True)
    judgement = models.CharField(max_length=8, choices=Judgement.choices)
    low = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    high = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    choices: models.JSONField[list[str], list[str]] = models.JSONField(
        default=list,
        blank=True,
        help_text="For a look: the answers that are good come first, then | and the others.",
    )
    basis = models.CharField(
        max_length=20, blank=True, help_text="For spread: absolute, or percent of highest."
    )
    source = models.CharField("source of the limit", max_length=160, blank=True)
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["vehicle", "system", "name"]

    def __str__(self) -> str:
        return self.name


class Reading(models.Model):
    measure = models.ForeignKey(Measure, on_delete=models.PROTECT, related_name="readings")
    card = models.ForeignKey(
        JobCard, on_delete=models.PROTECT, null=True, blank=True, related_name="readings"
    )
    values: models.JSONField[list[str], list[str]] = models.JSONField(default=list)
    moment = models.CharField(
        max_length=10,
        choices=[("as found", "As found"), ("as left", "As left"), ("check", "Check")],
        default="check",
    )
    condition = models.CharField(max_length=40, blank=True)
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    verdict = models.CharField(max_length=10, default="not sure")
    verdict_words = models.CharField(max_length=200, blank=True)
    limit_used: models.JSONField[dict[str, Any], dict[str, Any]] = models.JSONField(default=dict, blank=True)
    note = models.CharField(max_length=200, blank=True)
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )

    class Meta:
        ordering = ["measure", "at", "pk"]

    def __str__(self) -> str:
        return f"{self.measure}: {', '.join(self.values)}"
