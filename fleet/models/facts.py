"""What we know about a vehicle, and the photographs of it."""

from __future__ import annotations

from django.db import models

from fleet.enums import Sureness


class Fact(models.Model):
    """A claim with its source and how sure we are. Corrected by a later fact, never rubbed out."""

    vehicle = models.ForeignKey("fleet.Vehicle", on_delete=models.CASCADE, related_name="facts")
    subsystem = models.ForeignKey(
        "fleet.Subsystem", on_delete=models.SET_NULL, null=True, blank=True, related_name="facts"
    )
    code = models.CharField(max_length=30, blank=True, help_text="Short name used in tables; may be empty.")
    about = models.CharField(max_length=120, help_text="Such as: stamp 2 on the drum.")
    value = models.CharField(max_length=200, help_text="What we hold to be so.")
    source = models.CharField(max_length=200, blank=True)
    sureness = models.CharField(max_length=10, choices=Sureness.choices, default=Sureness.TOLD)
    said_by = models.CharField(max_length=80, blank=True)
    recorded_by = models.ForeignKey(
        "fleet.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    recorded_on = models.DateField()
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )
    reason = models.CharField("why it was corrected", max_length=300, blank=True)

    class Meta:
        ordering = ["about", "recorded_on", "pk"]

    def __str__(self) -> str:
        return f"{self.about}: {self.value}"


class Photo(models.Model):
    """A photograph, decoded and written anew: nothing of the sender's file but the picture is kept."""

    vehicle = models.ForeignKey(
        "fleet.Vehicle", on_delete=models.CASCADE, null=True, blank=True, related_name="photos"
    )
    file = models.ImageField(upload_to="photos/%Y/%m/", width_field="width", height_field="height")
    small = models.ImageField(upload_to="photos/%Y/%m/", blank=True)
    width = models.PositiveIntegerField(editable=False, default=0)
    height = models.PositiveIntegerField(editable=False, default=0)
    sha256 = models.CharField(max_length=64, editable=False, db_index=True)
    shows = models.CharField("what it shows", max_length=160, blank=True)
    taken_at = models.DateTimeField()
    by = models.ForeignKey("fleet.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["taken_at", "pk"]

    def __str__(self) -> str:
        return self.shows or f"photograph {self.pk}"
