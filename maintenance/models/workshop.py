"""The workshop's places, ways in, and special tools."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from fleet.models import Person, Photo


class Place(models.Model):
    name = models.CharField(max_length=40, unique=True)
    capacity = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Access(models.Model):
    """What must be opened to reach the work, what that costs, and how often it shows more work."""

    name = models.CharField(max_length=40, unique=True)
    open_hours = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(0))
    close_hours = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(0))
    persons = models.PositiveSmallIntegerField(default=1)
    place = models.ForeignKey(
        Place, on_delete=models.SET_NULL, null=True, blank=True, related_name="accesses"
    )
    cooling_hours = models.PositiveSmallIntegerField("hours to cool before opening", default=0)
    discovery = models.DecimalField(
        "chance that opening shows more",
        max_digits=3,
        decimal_places=2,
        default=Decimal("0.10"),
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(1))],
    )
    hazards: models.JSONField[list[str], list[str]] = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "accesses"

    def __str__(self) -> str:
        return self.name

    @property
    def person_hours(self) -> Decimal:
        return self.persons * (self.open_hours + self.close_hours)


class SpecialTool(models.Model):
    name = models.CharField(max_length=80, unique=True)
    home = models.CharField(max_length=80, blank=True)
    keeper = models.ForeignKey(
        Person, on_delete=models.SET_NULL, null=True, blank=True, related_name="tools_kept"
    )
    on_loan_to = models.CharField(max_length=80, blank=True)
    back_on = models.DateField(null=True, blank=True)
    drawings = models.ManyToManyField(
        Photo, blank=True, related_name="tools", help_text="For a tool of our own making."
    )
    calibrated_until = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def is_away(self, day: dt.date) -> bool:
        return bool(self.on_loan_to) and (self.back_on is None or self.back_on > day)
