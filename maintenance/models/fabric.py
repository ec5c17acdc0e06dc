"""The parts that matter to the curator: which are original, what may not be done to them, and where one lies that came off."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models

from fleet.models import Subsystem, Vehicle
from maintenance.enums import FabricStanding
from maintenance.models.jobs import JobCard


class FabricPart(models.Model):
    """One part of historic value. Its moves stand in the act book; nothing of it is ever struck out."""

    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="fabric_parts")
    subsystem = models.ForeignKey(
        Subsystem, on_delete=models.SET_NULL, null=True, blank=True, related_name="fabric_parts"
    )
    name = models.CharField(max_length=120)
    standing = models.CharField(max_length=10, choices=FabricStanding.choices, default=FabricStanding.UNKNOWN)
    hands_off = models.BooleanField(
        "do not polish, paint, grind or drill",
        default=False,
        help_text="Said on every job on this system.",
    )
    note = models.CharField(max_length=300, blank=True)
    hazard = models.CharField(
        "hazard in it", max_length=160, blank=True, help_text="Such as asbestos: sealed."
    )
    off_on = models.DateField("came off on", null=True, blank=True)
    off_card = models.ForeignKey(
        JobCard, on_delete=models.SET_NULL, null=True, blank=True, related_name="fabric_off"
    )
    off_reason = models.CharField(max_length=200, blank=True)
    label = models.CharField("label number", max_length=40, blank=True)
    shelf = models.CharField(max_length=60, blank=True)
    disposed_on = models.DateField(null=True, blank=True)
    disposed_why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["vehicle", "subsystem", "name"]

    def __str__(self) -> str:
        return self.name

    @property
    def is_fitted(self) -> bool:
        return self.off_on is None

    def clean(self) -> None:
        if self.off_on is not None and self.disposed_on is None and not (self.label and self.shelf):
            raise ValidationError(
                {"label": "Keep it: write the number of its label and the shelf it lies on."}
            )
