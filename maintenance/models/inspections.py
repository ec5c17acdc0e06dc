"""Inspections by date and meter, whichever comes first, and what each one found."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models
from django.utils import timezone

from fleet.enums import MeterKind
from fleet.models import Person, Photo, Skill, Vehicle
from maintenance.enums import InspectionKind, UseCheckKind


class Inspection(models.Model):
    """A recurring look. `due_on` is the last valid day; `due_at_meter` the last valid meter total."""

    code = models.CharField(max_length=30, blank=True)
    vehicle = models.ForeignKey(
        Vehicle,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="inspections",
        help_text="Empty: of the site.",
    )
    kind = models.CharField(max_length=14, choices=InspectionKind.choices)
    name = models.CharField(max_length=120)
    interval_days = models.PositiveIntegerField(null=True, blank=True)
    interval_meter = models.CharField(max_length=14, choices=MeterKind.choices, blank=True)
    interval_amount = models.DecimalField(
        max_digits=9, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(Decimal(0))]
    )
    last_on = models.DateField(null=True, blank=True)
    last_meter = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    due_on = models.DateField("valid through", null=True, blank=True)
    due_at_meter = models.DecimalField(
        "valid through, meter", max_digits=12, decimal_places=2, null=True, blank=True
    )
    never_done = models.BooleanField("no result on file", default=False)
    once_for = models.ForeignKey(
        "maintenance.JobCard", on_delete=models.SET_NULL, null=True, blank=True, related_name="rechecks",
        help_text="A re-check that this job asks for: once done it asks no more.",
    )  # fmt: skip
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_why = models.CharField(max_length=200, blank=True)
    hours = models.DecimalField("usual hours to do it", max_digits=5, decimal_places=2, default=Decimal(1))
    persons = models.PositiveSmallIntegerField(default=1)
    skills = models.ManyToManyField(Skill, blank=True, related_name="inspections")
    outside = models.BooleanField("by an outside examiner", default=False)
    booked_on = models.DateField("visit or work booked for", null=True, blank=True)
    after_cards = models.ManyToManyField(
        "maintenance.JobCard",
        blank=True,
        related_name="inspections_after",
        help_text="Needs these done first.",
    )
    after_inspections = models.ManyToManyField(
        "self", symmetrical=False, blank=True, related_name="inspections_before"
    )

    class Meta:
        ordering = ["vehicle", "due_on", "pk"]

    def __str__(self) -> str:
        return f"{self.vehicle or 'Site'}: {self.name}"


class InspectionResult(models.Model):
    inspection = models.ForeignKey(Inspection, on_delete=models.CASCADE, related_name="results")
    done_on = models.DateField()
    done_at = models.DateTimeField(default=timezone.now)
    meter = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    passed = models.BooleanField(default=True)
    words = models.CharField(max_length=300, blank=True)
    reference = models.CharField(max_length=80, blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    by_name = models.CharField("outside examiner", max_length=80, blank=True)

    class Meta:
        ordering = ["-done_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.inspection} {self.done_on:%d %b %Y}"


class UseCheck(models.Model):
    """A check that goes with use: before an event, on the day, after use, and the curator's condition check."""

    vehicle = models.ForeignKey(Vehicle, on_delete=models.CASCADE, related_name="use_checks")
    kind = models.CharField(max_length=18, choices=UseCheckKind.choices)
    for_day = models.DateField(help_text="The day of use; for an event check the first day.")
    due_by = models.DateField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    nil_defect = models.BooleanField(default=False)
    words = models.TextField(blank=True)
    photos = models.ManyToManyField(Photo, blank=True, related_name="use_checks")

    class Meta:
        ordering = ["vehicle", "for_day", "kind"]
        constraints = [models.UniqueConstraint(fields=["vehicle", "kind", "for_day"], name="one_check_a_day")]

    def __str__(self) -> str:
        return f"{self.vehicle} {self.get_kind_display()} {self.for_day:%d %b}"
