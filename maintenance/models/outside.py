"""Hands from outside: who was asked for what, whether they answered, when they come, and what waits for them."""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from fleet.models import Person, Vehicle
from maintenance.enums import OutsideKind, OutsideState
from maintenance.models.inspections import Inspection
from maintenance.models.jobs import JobCard
from maintenance.models.parts import PartNeed


class OutsideHand(models.Model):
    """One asking of one person from outside, for a job, an inspection, a part, or a vehicle."""

    kind = models.CharField(max_length=16, choices=OutsideKind.choices)
    who = models.CharField(max_length=120)
    contact = models.CharField("telephone or address", max_length=160, blank=True)
    about = models.CharField("what is asked of them", max_length=200)
    vehicle = models.ForeignKey(
        Vehicle, on_delete=models.PROTECT, null=True, blank=True, related_name="outside_hands"
    )
    card = models.ForeignKey(
        JobCard, on_delete=models.PROTECT, null=True, blank=True, related_name="outside_hands"
    )
    inspection = models.ForeignKey(
        Inspection, on_delete=models.PROTECT, null=True, blank=True, related_name="outside_hands"
    )
    part = models.ForeignKey(
        PartNeed, on_delete=models.PROTECT, null=True, blank=True, related_name="outside_hands"
    )
    state = models.CharField(max_length=12, choices=OutsideState.choices, default=OutsideState.ASKED)
    asked_on = models.DateField(default=timezone.localdate)
    answer_by = models.DateField("ask again if no answer by", null=True, blank=True)
    comes_on = models.DateField("comes on", null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["comes_on", "answer_by", "asked_on", "pk"]

    def __str__(self) -> str:
        return f"{self.who}: {self.about}"

    def clean(self) -> None:
        if self.state == OutsideState.APPOINTED and self.comes_on is None:
            raise ValidationError({"comes_on": "Write the day on which they come."})
        if self.comes_on and self.comes_on < self.asked_on:
            raise ValidationError({"comes_on": "That day is before they were asked."})

    def is_overdue(self, today: dt.date) -> bool:
        """No answer by the day on which one was wanted; without such a day after a week."""
        if self.state != OutsideState.ASKED:
            return False
        return (self.answer_by or self.asked_on + dt.timedelta(days=7)) < today
