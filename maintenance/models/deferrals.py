"""A defect put off for now: in writing, with limits, signers and an end."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from fleet.models import Person
from maintenance.enums import VALUED_LIMITS, LimitKind
from maintenance.models.defects import PROBABILITIES, SEVERITIES, Defect


class Deferral(models.Model):
    code = models.CharField(max_length=30, blank=True, help_text="Short name used in tables; may be empty.")
    defect = models.ForeignKey(Defect, on_delete=models.PROTECT, related_name="deferrals")
    severity_without = models.PositiveSmallIntegerField(choices=SEVERITIES)
    probability_without = models.CharField(max_length=1, choices=PROBABILITIES)
    severity_with = models.PositiveSmallIntegerField(choices=SEVERITIES)
    probability_with = models.CharField(max_length=1, choices=PROBABILITIES)
    reason = models.CharField(max_length=300)
    signed_on = models.DateField()
    ends_on = models.DateField("valid through")
    renews = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="renewed_by"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_reason = models.CharField(max_length=200, blank=True)
    created_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-signed_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.defect.title} put off to {self.ends_on:%d %b %Y}"

    @property
    def rating_without(self) -> str:
        return f"{self.severity_without}{self.probability_without}"

    @property
    def rating_with(self) -> str:
        return f"{self.severity_with}{self.probability_with}"


class DeferralLimit(models.Model):
    deferral = models.ForeignKey(Deferral, on_delete=models.CASCADE, related_name="limits")
    kind = models.CharField(max_length=20, choices=LimitKind.choices)
    value = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    text = models.CharField(max_length=200, blank=True)
    driver = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["deferral", "pk"]

    def __str__(self) -> str:
        return self.words

    def clean(self) -> None:
        if self.kind in VALUED_LIMITS and self.value is None:
            raise ValidationError({"value": f"{self.get_kind_display()} needs a figure."})
        if self.kind == LimitKind.FREE_TEXT and not self.text:
            raise ValidationError({"text": "Write the limit in words."})
        if self.kind == LimitKind.NAMED_DRIVER and self.driver is None:
            raise ValidationError({"driver": "Name the driver."})

    @property
    def words(self) -> str:
        figure = f"{self.value.normalize():f}" if self.value is not None else ""
        return {
            LimitKind.MAX_SPEED: f"not above {figure} km/h",
            LimitKind.MAX_MINUTES_OUTING: f"{figure} min per outing",
            LimitKind.MAX_MINUTES_DAY: f"{figure} min a day",
            LimitKind.MAX_KM_OUTING: f"{figure} km per outing",
            LimitKind.MAX_KM_DAY: f"{figure} km a day",
            LimitKind.NAMED_DRIVER: f"driven by {self.driver} only"
            if self.driver_id
            else "named driver only",
            LimitKind.FREE_TEXT: self.text,
            LimitKind.EQUIPMENT_LOCKED: self.text or "equipment locked",
        }.get(LimitKind(self.kind), LimitKind(self.kind).label.lower())


class DeferralSignature(models.Model):
    deferral = models.ForeignKey(Deferral, on_delete=models.CASCADE, related_name="signatures")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=14)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [models.UniqueConstraint(fields=["deferral", "role"], name="one_signature_a_role")]

    def __str__(self) -> str:
        return f"{self.person} as {self.role}"
