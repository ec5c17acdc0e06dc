"""Parts: what a card needs, what is on the shelf, what is on order and for when it was promised."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models

from fleet.models import Vehicle
from maintenance.enums import NeedState
from maintenance.models.jobs import JobCard


class Supplier(models.Model):
    name = models.CharField(max_length=80, unique=True)
    contact = models.CharField(max_length=160, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class PartNeed(models.Model):
    """One thing that one card needs. Reserved for this card when on the shelf."""

    code = models.CharField(max_length=30, blank=True)
    name = models.CharField(max_length=120)
    vehicle = models.ForeignKey(
        Vehicle, on_delete=models.CASCADE, null=True, blank=True, related_name="part_needs"
    )
    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, null=True, blank=True, related_name="parts")
    quantity = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    state = models.CharField(max_length=14, choices=NeedState.choices, default=NeedState.NOT_ORDERED)
    supplier = models.ForeignKey(
        Supplier, on_delete=models.SET_NULL, null=True, blank=True, related_name="needs"
    )
    ordered_on = models.DateField(null=True, blank=True)
    promised_on = models.DateField(null=True, blank=True)
    lead_days = models.PositiveSmallIntegerField(null=True, blank=True)
    received_on = models.DateField(null=True, blank=True)
    bin = models.CharField(max_length=40, blank=True)
    note = models.CharField(max_length=200, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["promised_on", "name"]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        if self.state in {NeedState.ON_ORDER, NeedState.OUT_FOR_REPAIR} and self.promised_on is None:
            raise ValidationError({"promised_on": "Write the promised date, or mark it not ordered."})
        if self.ordered_on and self.promised_on and self.promised_on < self.ordered_on:
            raise ValidationError({"promised_on": "Promised before it was ordered."})
