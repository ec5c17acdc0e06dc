"""Meters and outings. Both are only ever added to."""

from __future__ import annotations

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models

from fleet.enums import MeterKind


class Meter(models.Model):
    vehicle = models.ForeignKey("fleet.Vehicle", on_delete=models.CASCADE, related_name="meters")
    kind = models.CharField(max_length=14, choices=MeterKind.choices)

    class Meta:
        ordering = ["vehicle", "kind"]
        constraints = [models.UniqueConstraint(fields=["vehicle", "kind"], name="one_meter_of_a_kind")]

    def __str__(self) -> str:
        return f"{self.vehicle} {self.get_kind_display()}"


class MeterReading(models.Model):
    """What the meter showed. `total` is the true running total, which goes on when a meter is changed."""

    meter = models.ForeignKey(Meter, on_delete=models.CASCADE, related_name="readings")
    shown = models.DecimalField(max_digits=12, decimal_places=2, validators=[MinValueValidator(Decimal(0))])
    total = models.DecimalField(max_digits=12, decimal_places=2, validators=[MinValueValidator(Decimal(0))])
    read_at = models.DateTimeField()
    by = models.ForeignKey("fleet.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    meter_changed = models.BooleanField(default=False)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["meter", "read_at", "pk"]

    def __str__(self) -> str:
        return f"{self.meter}: {self.shown}"

    def save(self, *args: object, **kwargs: object) -> None:
        if self.pk is not None and not self._state.adding:
            raise ValidationError("A meter reading is never changed. Add a later one and say why.")
        super().save(*args, **kwargs)  # type: ignore[arg-type]


class Outing(models.Model):
    """One time out: how far, how long, who drove. The rate of use is estimated from these."""

    vehicle = models.ForeignKey("fleet.Vehicle", on_delete=models.CASCADE, related_name="outings")
    day = models.DateField()
    hours = models.DecimalField(
        max_digits=7, decimal_places=2, default=Decimal(0), validators=[MinValueValidator(Decimal(0))]
    )
    km = models.DecimalField(
        max_digits=8, decimal_places=2, default=Decimal(0), validators=[MinValueValidator(Decimal(0))]
    )
    purpose = models.CharField(max_length=120, blank=True)
    driver = models.ForeignKey(
        "fleet.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="outings"
    )
    stopped_by_fault = models.BooleanField("a fault ended it early", default=False)

    class Meta:
        ordering = ["vehicle", "day"]

    def __str__(self) -> str:
        return f"{self.vehicle} {self.day:%d %b %Y}"
