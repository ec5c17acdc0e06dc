"""Which part: the sheet of one fault, what was found on it, and the sheets to start from."""

from __future__ import annotations

from typing import Any, ClassVar

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import models
from django.utils import timezone

from fleet.models import Fact, Person, Photo, Vehicle
from maintenance.models.defects import Defect
from maintenance.models.jobs import JobCard
from maintenance.models.readings import Reading
from maintenance.which_sheet import sheet_of

Rows = dict[str, Any]


def check_definition(value: object) -> None:
    """The rows of a sheet must make a sheet."""
    try:
        sheet_of(value)  # type: ignore[arg-type]
    except (ValueError, KeyError, TypeError) as trouble:
        raise ValidationError(f"Not a whole sheet: {trouble}") from trouble


class WhichTemplate(models.Model):
    """A sheet to start from: one of the museum's own, copied from one that ships with the program."""

    key = models.SlugField(max_length=60, unique=True)
    based_on = models.CharField(
        max_length=40, help_text="The shipped sheet it came from; findings are counted by it."
    )
    name = models.CharField(max_length=120)
    kind = models.CharField("for vehicles of the kind", max_length=20, blank=True, help_text="Empty: any.")
    definition: models.JSONField[Rows, Rows] = models.JSONField(validators=[check_definition])
    retired = models.BooleanField("no longer offered", default=False)
    changed_at = models.DateTimeField(default=timezone.now)
    changed_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return f"{self.name}, {self.kind}" if self.kind else self.name


class WhichRehearsal(models.Model):
    """A sheet to start from, played with each of its causes as the true one. Asked for, then filled in by a worker."""

    template = models.ForeignKey(WhichTemplate, on_delete=models.CASCADE, related_name="rehearsals")
    template_version = models.PositiveIntegerField()
    plays = models.PositiveIntegerField(default=2000)
    seed = models.PositiveIntegerField(default=1)
    asked_at = models.DateTimeField(default=timezone.now)
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    done_at = models.DateTimeField(null=True, blank=True)
    result: models.JSONField[Rows, Rows] = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["-asked_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.template} played"


class WhichState(models.TextChoices):
    OPEN = "open", "Being worked"
    FOUND = "found", "Cause found"
    ENDED = "ended", "Ended without a cause"


class WhichSheet(models.Model):
    """The sheet of one fault. It holds its own copy of the causes and tests."""

    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="which_sheets")
    defect = models.ForeignKey(
        Defect, on_delete=models.PROTECT, null=True, blank=True, related_name="which_sheets"
    )
    card = models.ForeignKey(
        JobCard, on_delete=models.PROTECT, null=True, blank=True, related_name="which_sheets"
    )
    based_on = models.CharField(max_length=40)
    name = models.CharField(max_length=120)
    definition: models.JSONField[Rows, Rows] = models.JSONField(validators=[check_definition])
    lifts: models.JSONField[list[Rows], list[Rows]] = models.JSONField(default=list, blank=True)
    lifts_used = models.BooleanField("counts earlier findings", default=True)
    leans: models.JSONField[list[Rows], list[Rows]] = models.JSONField(
        default=list, blank=True, help_text="What of it leans on which fact, and whether that is let count."
    )
    facts = models.ManyToManyField(Fact, blank=True, related_name="which_sheets")
    state = models.CharField(max_length=8, choices=WhichState.choices, default=WhichState.OPEN)
    cause = models.CharField("key of the cause found", max_length=40, blank=True)
    words = models.TextField("how it ended", blank=True)
    opened_at = models.DateTimeField(default=timezone.now)
    opened_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    settled_at = models.DateTimeField("looked at after a correction", null=True, blank=True)
    settled_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    settled_how = models.CharField(max_length=300, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-opened_at", "-pk"]
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["based_on", "state"])]

    def __str__(self) -> str:
        return f"{self.name}, {self.vehicle}"

    @property
    def is_open(self) -> bool:
        return self.state == WhichState.OPEN

    @property
    def cause_name(self) -> str:
        return next((one["name"] for one in self.definition["causes"] if one["key"] == self.cause), "")

    def clean(self) -> None:
        for what, row in (("defect", self.defect), ("card", self.card)):
            if row is not None and row.vehicle_id != self.vehicle_id:
                raise ValidationError({what: f"{row} is of another vehicle."})


class WhichResult(models.Model):
    """What one test gave. Only ever added to: one that was wrong is taken back, and stays readable."""

    sheet = models.ForeignKey(WhichSheet, on_delete=models.CASCADE, related_name="results")
    test = models.CharField(max_length=40)
    result = models.CharField(max_length=160)
    raw = models.CharField("figure as read", max_length=20, blank=True)
    unit = models.CharField(max_length=16, blank=True)
    words = models.CharField(max_length=300, blank=True)
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    reading = models.ForeignKey(
        Reading, on_delete=models.PROTECT, null=True, blank=True, related_name="which_results"
    )
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    in_version = models.PositiveIntegerField("version of the sheet that brought it")
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    out_version = models.PositiveIntegerField("version that took it back", null=True, blank=True)

    class Meta:
        ordering = ["at", "pk"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["sheet", "test"],
                condition=models.Q(undone_at__isnull=True),
                name="one_standing_result_a_test",
            )
        ]

    def __str__(self) -> str:
        return f"{self.test}: {self.result}"

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise PermissionDenied("A result is taken back, never rubbed out.")
