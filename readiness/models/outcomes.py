"""What became of an entry on the day: written down afterwards by a person, beside what the forecasts had said."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from fleet.models import Person
from readiness.models.events import Entry


class Ran(models.TextChoices):
    AS_ENTERED = "as entered", "Ran as entered"
    STANDBY = "standby", "Another ran in its place"
    NOT = "not", "Did not run"


class Outcome(models.Model):
    """One entry, after its slot."""

    entry = models.OneToOneField(Entry, on_delete=models.CASCADE, related_name="outcome")
    ran = models.CharField(max_length=10, choices=Ran.choices)
    words = models.CharField("why", max_length=200, blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["entry"]

    def __str__(self) -> str:
        return f"{self.entry}: {self.get_ran_display().lower()}"

    def clean(self) -> None:
        if self.ran and self.ran != Ran.AS_ENTERED and not self.words.strip():
            raise ValidationError({"words": "Say in a few words why."})
