"""Something found not as it should be, and what it does to the vehicle."""

from __future__ import annotations

import datetime as dt
from typing import ClassVar

from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from fleet.enums import Function
from fleet.models import Fact, Person, Photo, Subsystem, Vehicle
from maintenance.enums import DefectSource, DefectState, Effect

SEVERITIES = [
    (1, "1 Somebody could be killed or crippled"),
    (2, "2 Somebody to hospital; vehicle out of control; historic part lost for good"),
    (3, "3 Time off work at worst; breakdown in public; costly damage"),
    (4, "4 Plaster, nuisance, looks"),
]
PROBABILITIES = [
    ("A", "A Nearly every outing"),
    ("B", "B Several times a season"),
    ("C", "C Once or so in a season"),
    ("D", "D Not expected, has been known here or elsewhere"),
    ("E", "E Never heard of"),
    ("F", "F Cannot happen: the hazard is physically removed"),
]


class Defect(models.Model):
    serial = models.CharField(max_length=12, unique=True)
    code = models.CharField(max_length=30, blank=True, help_text="Short name used in tables; may be empty.")
    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="defects")
    subsystem = models.ForeignKey(
        Subsystem,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="defects",
        help_text="Empty: not sure where.",
    )
    title = models.CharField(max_length=200)
    words = models.TextField("as reported", blank=True)
    answers: models.JSONField[dict[str, str], dict[str, str]] = models.JSONField(default=dict, blank=True)
    source = models.CharField(max_length=12, choices=DefectSource.choices, default=DefectSource.PERSON)
    reported_at = models.DateTimeField(default=timezone.now)
    reported_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    reporter_name = models.CharField(max_length=80, blank=True)
    state = models.CharField(max_length=12, choices=DefectState.choices, default=DefectState.REPORTED)
    severity = models.PositiveSmallIntegerField(choices=SEVERITIES, null=True, blank=True)
    probability = models.CharField(max_length=1, choices=PROBABILITIES, blank=True)
    assessed_at = models.DateTimeField(null=True, blank=True)
    assessed_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    end_reason = models.CharField(max_length=300, blank=True)
    joined_to = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="joined"
    )
    found_on = models.ForeignKey(
        "maintenance.JobCard", on_delete=models.SET_NULL, null=True, blank=True, related_name="found"
    )
    photos = models.ManyToManyField(Photo, blank=True, related_name="defects")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-reported_at", "-pk"]
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["vehicle", "state"])]

    def __str__(self) -> str:
        return f"{self.serial} {self.title}"

    @property
    def is_open(self) -> bool:
        return self.state in {DefectState.REPORTED, DefectState.ASSESSED}

    @property
    def rating(self) -> str:
        return f"{self.severity}{self.probability}" if self.severity and self.probability else ""


class DefectEffect(models.Model):
    defect = models.ForeignKey(Defect, on_delete=models.CASCADE, related_name="effects")
    function = models.CharField(max_length=10, choices=Function.choices)
    effect = models.CharField(max_length=8, choices=Effect.choices)

    class Meta:
        ordering = ["defect", "function"]
        constraints = [models.UniqueConstraint(fields=["defect", "function"], name="one_effect_a_function")]

    def __str__(self) -> str:
        return f"{self.function} {self.effect}"


class DefectNote(models.Model):
    """A dated addition; nothing said about a defect is ever rewritten."""

    defect = models.ForeignKey(Defect, on_delete=models.CASCADE, related_name="notes")
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    text = models.TextField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return self.text[:60]


class FactUse(models.Model):
    """Something that was built on a fact, or speaks against it; shown when the fact is corrected."""

    OWNERS = ("defect", "card", "deferral", "measure", "reading")

    fact = models.ForeignKey(Fact, on_delete=models.CASCADE, related_name="uses")
    defect = models.ForeignKey(
        Defect, on_delete=models.CASCADE, null=True, blank=True, related_name="fact_uses"
    )
    card = models.ForeignKey(
        "maintenance.JobCard", on_delete=models.CASCADE, null=True, blank=True, related_name="fact_uses"
    )
    deferral = models.ForeignKey(
        "maintenance.Deferral", on_delete=models.CASCADE, null=True, blank=True, related_name="fact_uses"
    )
    measure = models.ForeignKey(
        "maintenance.Measure", on_delete=models.CASCADE, null=True, blank=True, related_name="fact_uses"
    )
    reading = models.ForeignKey(
        "maintenance.Reading", on_delete=models.CASCADE, null=True, blank=True, related_name="fact_uses"
    )
    against = models.BooleanField("speaks against it", default=False)
    settled_on = models.DateField(null=True, blank=True)
    settled_how = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["fact", "pk"]

    def __str__(self) -> str:
        return f"{self.fact} used by {self.owner}"

    @property
    def owner(self) -> models.Model | None:
        """The one thing that is meant."""
        return next((row for name in self.OWNERS if (row := getattr(self, name)) is not None), None)

    def clean(self) -> None:
        if sum(getattr(self, name) is not None for name in self.OWNERS) != 1:
            raise ValidationError(
                "Name the one thing that was built on it: a fault, a job, a limit or a reading."
            )


class Tag(models.Model):
    """Hung on a vehicle. Do not run: not started or moved under power until the lead lifts it."""

    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="tags")
    reason = models.CharField(max_length=120)
    card = models.ForeignKey(
        "maintenance.JobCard", on_delete=models.PROTECT, null=True, blank=True, related_name="tags"
    )
    stub = models.CharField("stub number", max_length=12, unique=True)
    placed_at = models.DateTimeField(default=timezone.now)
    placed_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    lifted_stub = models.CharField("stub number entered on lifting", max_length=12, blank=True)

    class Meta:
        ordering = ["-placed_at"]

    def __str__(self) -> str:
        return f"Do not run: {self.vehicle}"

    @property
    def since(self) -> dt.date:
        return timezone.localdate(self.placed_at)
