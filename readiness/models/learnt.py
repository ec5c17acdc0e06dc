"""Where somebody knows better than the record: a figure set by hand over the learnt one, with who, when and why."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.core.validators import MinValueValidator
from django.db import models
from django.utils import timezone

from fleet.models import Person


class LearntKind(models.TextChoices):
    TURN_UP = "turn-up", "Turn-up"
    HOURS = "hours", "Hours against the estimate"
    DISCOVERY = "discovery", "Opening shows more"
    PROMISES = "promises", "Suppliers' promises"


class Overrule(models.Model):
    """One figure that a person set; taken away again, the record speaks."""

    kind = models.CharField(max_length=10, choices=LearntKind.choices)
    key = models.CharField(max_length=90)
    value = models.DecimalField(max_digits=5, decimal_places=2, validators=[MinValueValidator(Decimal(0))])
    reason = models.CharField(max_length=200)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["kind", "key"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["kind", "key"], name="one_overrule_a_figure")
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.key}"
