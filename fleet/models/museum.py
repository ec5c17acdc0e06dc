"""The museum itself: one row of what it has decided for itself."""

from __future__ import annotations

from decimal import Decimal
from zoneinfo import available_timezones

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

FRACTION = [MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(1))]


def check_time_zone(name: str) -> None:
    if name not in available_timezones():
        raise ValidationError(f"{name} is not a time zone. Write one such as Europe/London.")


class Museum(models.Model):
    name = models.CharField(max_length=120)
    time_zone = models.CharField(max_length=60, default="Europe/London", validators=[check_time_zone])
    distance_unit = models.CharField(
        max_length=5, choices=[("km", "kilometres"), ("mile", "miles")], default="km"
    )
    pressure_unit = models.CharField(max_length=5, choices=[("bar", "bar"), ("psi", "psi")], default="bar")
    likely_from = models.PositiveSmallIntegerField("Likely from, in 100", default=75)
    doubtful_from = models.PositiveSmallIntegerField("Doubtful from, in 100", default=25)
    thin_at = models.PositiveSmallIntegerField("Thin at, in 10", default=7)
    turn_up_volunteer = models.DecimalField(
        max_digits=3, decimal_places=2, default=Decimal("0.75"), validators=FRACTION
    )
    turn_up_staff = models.DecimalField(
        max_digits=3, decimal_places=2, default=Decimal("0.97"), validators=FRACTION
    )
    decision_days = models.PositiveSmallIntegerField("Days that a decision takes", default=7)
    spare_days = models.PositiveSmallIntegerField("Spare work days before the freeze", default=0)
    event_check_days = models.PositiveSmallIntegerField("Event checks asked for from, days before", default=7)
    change_over_minutes = models.PositiveSmallIntegerField(default=15)
    untouched_days = models.PositiveSmallIntegerField("An opened job speaks up after, days", default=21)
    keep_names_days = models.PositiveSmallIntegerField("Names on fault slips kept for, days", default=365)
    near_share = models.DecimalField(
        "Near a limit within this share of it",
        max_digits=3,
        decimal_places=2,
        default=Decimal("0.10"),
        validators=FRACTION,
    )
    slip_note = models.CharField(
        max_length=200, blank=True, help_text="Shown first on every fault slip, such as the yard telephone."
    )

    class Meta:
        verbose_name_plural = "museum"

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        if self.doubtful_from >= self.likely_from:
            raise ValidationError({"doubtful_from": "Doubtful must begin below Likely."})
        if Museum.objects.exclude(pk=self.pk).exists():
            raise ValidationError("There is one museum here already. Change that one.")
