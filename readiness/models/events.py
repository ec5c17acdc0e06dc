"""Events: slots on days, vehicles entered in roles, their people, rehearsals, the freeze."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any, ClassVar

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator, RegexValidator
from django.db import models
from django.utils import timezone

from fleet.enums import Function
from fleet.models import Person, Vehicle
from maintenance.models import DeferralLimit
from readiness.enums import Duty, EventState, Role, RuleSubject

USE: dict[str, Any] = {"max_digits": 7, "decimal_places": 2, "validators": [MinValueValidator(Decimal(0))]}
CODE = RegexValidator(r"^[A-Za-z0-9_-]+$", "Letters, digits, - and _ only.")


class Event(models.Model):
    code = models.CharField(max_length=30, unique=True, validators=[CODE])
    name = models.CharField(max_length=120)
    place = models.CharField(max_length=120, blank=True)
    first_day = models.DateField()
    last_day = models.DateField()
    freeze_at = models.DateTimeField()
    weight = models.PositiveSmallIntegerField(
        default=1, help_text="Between events with the same freeze, the heavier goes first."
    )
    state = models.CharField(max_length=10, choices=EventState.choices, default=EventState.PLANNED)
    site_notes: models.JSONField[dict[str, str], dict[str, str]] = models.JSONField(
        default=dict,
        blank=True,
        help_text="Fire points, first aid, fuel, spill kit, radios, weather stop rules.",
    )
    wanted_at = models.DateTimeField("reassessment asked for", null=True, blank=True, editable=False)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["first_day", "pk"]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        if self.last_day < self.first_day:
            raise ValidationError({"last_day": "The last day lies before the first."})
        if self.freeze_at and timezone.localdate(self.freeze_at) > self.last_day:
            raise ValidationError({"freeze_at": "The freeze must come before the event ends."})

    @property
    def days(self) -> list[dt.date]:
        return [
            self.first_day + dt.timedelta(days=n) for n in range((self.last_day - self.first_day).days + 1)
        ]


class EventDay(models.Model):
    """Light on one day of the event; a daylight-only limit is compared with it."""

    event = models.ForeignKey(Event, on_delete=models.CASCADE, related_name="event_days")
    day = models.DateField()
    sunrise = models.TimeField(null=True, blank=True)
    sunset = models.TimeField(null=True, blank=True)

    class Meta:
        ordering = ["day"]
        constraints = [models.UniqueConstraint(fields=["event", "day"], name="one_row_a_day")]

    def __str__(self) -> str:
        return f"{self.event} {self.day:%d %b}"


def check_slot_functions(value: object) -> None:
    known = set(Function.values)
    if not isinstance(value, list) or any(item not in known for item in value):
        raise ValidationError(f"Write functions from: {', '.join(Function.values)}.")


class Slot(models.Model):
    event = models.ForeignKey(Event, on_delete=models.CASCADE, related_name="slots")
    code = models.CharField(max_length=20, validators=[CODE])
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=10, choices=Role.choices)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    place = models.CharField(max_length=80, blank=True)
    speed_kmh = models.DecimalField(
        max_digits=5,
        decimal_places=1,
        null=True,
        blank=True,
        help_text="Speed that the slot asks for; empty: none.",
    )
    distance_km = models.DecimalField(null=True, blank=True, **USE)
    hours = models.DecimalField(
        "engine hours",
        null=True,
        blank=True,
        help_text="Empty: the slot's length for running, arena, road and rides.",
        **USE,
    )
    runs = models.PositiveSmallIntegerField(null=True, blank=True)
    also_asks = models.JSONField(
        default=list,
        blank=True,
        validators=[check_slot_functions],
        help_text="Functions shown beyond the role, such as WORK for pumping.",
    )
    at_least = models.PositiveSmallIntegerField(
        "vehicles that must run", null=True, blank=True, help_text="Empty: all that are entered."
    )
    notes = models.CharField(max_length=200, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["starts_at", "code", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["event", "code", "starts_at"], name="one_slot_code_a_time")
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    def clean(self) -> None:
        if self.starts_at and self.ends_at and self.ends_at <= self.starts_at:
            raise ValidationError({"ends_at": "A slot must end after it starts."})

    @property
    def day(self) -> dt.date:
        return timezone.localdate(self.starts_at)


class Entry(models.Model):
    """A vehicle entered in a slot; on standby for another vehicle where `covers` is set."""

    slot = models.ForeignKey(Slot, on_delete=models.CASCADE, related_name="entries")
    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="entries")
    covers = models.ForeignKey(
        Vehicle, on_delete=models.PROTECT, null=True, blank=True, related_name="covered_by"
    )
    ready_minutes = models.PositiveSmallIntegerField("ready to move in, minutes", null=True, blank=True)
    distance_km = models.DecimalField("kilometres, when not the slot's", null=True, blank=True, **USE)
    hours = models.DecimalField("engine hours, when not the slot's", null=True, blank=True, **USE)
    crewed_inside = models.BooleanField("crew in a closed space", default=True)
    note = models.CharField(max_length=200, blank=True)
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["slot", "vehicle"]
        verbose_name_plural = "entries"
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["slot", "vehicle"], name="one_entry_a_vehicle_and_slot")
        ]

    def __str__(self) -> str:
        return f"{self.vehicle} in {self.slot}"


class Crew(models.Model):
    """A person (or a borrowed one) on a duty: of one entry, or of the whole slot."""

    slot = models.ForeignKey(Slot, on_delete=models.CASCADE, related_name="crew")
    entry = models.ForeignKey(Entry, on_delete=models.CASCADE, null=True, blank=True, related_name="crew")
    duty = models.CharField(max_length=12, choices=Duty.choices)
    person = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="crew_duties"
    )
    borrowed = models.CharField("borrowed person", max_length=80, blank=True)

    class Meta:
        ordering = ["slot", "entry", "duty", "pk"]
        verbose_name_plural = "crew"

    def __str__(self) -> str:
        return f"{self.person or self.borrowed}: {self.get_duty_display()}"

    def clean(self) -> None:
        if (self.person is None) == (not self.borrowed):
            raise ValidationError("Name one of our people, or write the name of a borrowed one.")


class Rehearsal(models.Model):
    """Use planned before the event; it counts in the meter forecast."""

    event = models.ForeignKey(Event, on_delete=models.CASCADE, related_name="rehearsals")
    vehicle = models.ForeignKey(Vehicle, on_delete=models.CASCADE, related_name="rehearsals")
    day = models.DateField()
    hours = models.DecimalField(default=Decimal(0), **USE)
    km = models.DecimalField(default=Decimal(0), **USE)
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["day"]

    def __str__(self) -> str:
        return f"{self.vehicle} {self.day:%d %b}"


class LimitTick(models.Model):
    """Somebody has read a limit in words and says that the slot obeys it."""

    entry = models.ForeignKey(Entry, on_delete=models.CASCADE, related_name="ticks")
    limit = models.ForeignKey(DeferralLimit, on_delete=models.CASCADE, related_name="ticks")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["entry", "limit"], name="one_tick_each")]

    def __str__(self) -> str:
        return f"{self.limit} ticked for {self.entry}"


class RoleRule(models.Model):
    """One cell of the role table: what a role asks of a function, inspection, crew, paper or check."""

    role = models.CharField(max_length=10, choices=Role.choices)
    subject = models.CharField(max_length=12, choices=RuleSubject.choices)
    code = models.CharField(max_length=30)
    demand = models.CharField(
        max_length=2,
        choices=[
            ("!", "! wholly fit, no limit accepted"),
            ("R", "R fit, or reduced under a signed limit"),
            ("n", "n noted"),
            ("-", "- not asked"),
        ],
    )
    count = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = ["subject", "code", "role"]
        constraints = [models.UniqueConstraint(fields=["role", "subject", "code"], name="one_rule_a_cell")]

    def __str__(self) -> str:
        return f"{self.role} {self.code} {self.demand}"
