"""Vehicles and their systems."""

from __future__ import annotations

import datetime as dt
import secrets
from typing import ClassVar

from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.db import models

from fleet.enums import Function, VehicleStatus

NO_BREAK_SPACE = "\u00a0"


def new_tag_key() -> str:
    return secrets.token_urlsafe(9)


def check_functions(value: object) -> None:
    known = set(Function.values)
    if not isinstance(value, list) or any(item not in known for item in value):
        raise ValidationError(f"Functions must be a list of: {', '.join(Function.values)}.")


class VehicleKind(models.TextChoices):
    """The kind decides which systems a vehicle starts with (fleet/system_template.py)."""

    LORRY = "lorry", "Lorry"
    LIGHT = "light vehicle", "Light vehicle"
    ARMOURED = "armoured car", "Armoured car"
    HALF_TRACK = "half-track", "Half-track"
    TRACKED = "tracked", "Tracked vehicle"
    FIRE_ENGINE = "fire engine", "Fire engine"
    BUS = "bus", "Bus or coach"
    TRACTOR = "tractor", "Tractor"
    CRAWLER = "crawler tractor", "Crawler tractor"
    STEAM = "steam", "Steam vehicle"
    RECOVERY = "recovery", "Recovery vehicle"
    AMPHIBIAN = "amphibian", "Amphibian"
    AMBULANCE = "ambulance", "Ambulance"
    OTHER = "other", "Other"


class Vehicle(models.Model):
    code = models.CharField(
        max_length=20,
        unique=True,
        validators=[RegexValidator(r"^[A-Za-z0-9_-]+$", "Letters, digits, - and _ only.")],
        help_text="Short name used in tables, such as V04.",
    )
    number = models.CharField(max_length=12, unique=True, help_text="As painted on it.")
    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=20, choices=VehicleKind.choices, default=VehicleKind.OTHER)
    make = models.CharField("maker and type", max_length=120, blank=True)
    year = models.PositiveSmallIntegerField(null=True, blank=True)
    place = models.CharField("lives in", max_length=60, blank=True)
    notes = models.TextField("worth noting", blank=True)
    status = models.CharField(max_length=12, choices=VehicleStatus.choices, default=VehicleStatus.IN_SERVICE)
    status_since = models.DateField(null=True, blank=True)
    status_reason = models.CharField(max_length=200, blank=True)
    is_tracked = models.BooleanField("tracked: needs its commander", default=False)
    is_closed = models.BooleanField("closed crew space: carbon monoxide check", default=False)
    is_steam = models.BooleanField("steam", default=False)
    lifts = models.BooleanField("crane, winch or ladder under thorough examination", default=False)
    keeper = models.ForeignKey(
        "fleet.Person", on_delete=models.SET_NULL, null=True, blank=True, related_name="keeps"
    )
    owner = models.CharField("owner, when lent or visiting", max_length=120, blank=True)
    length_m = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    width_m = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    height_m = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    weight_kg = models.PositiveIntegerField(null=True, blank=True)
    seats = models.PositiveSmallIntegerField(null=True, blank=True)
    tag_key = models.CharField(max_length=20, default=new_tag_key, unique=True, editable=False)

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"{self.painted} {self.name}"

    @property
    def painted(self) -> str:
        """The number as painted, never broken over two lines."""
        return self.number.replace(" ", NO_BREAK_SPACE)

    def clean(self) -> None:
        if self.year is not None and not 1750 <= self.year <= dt.date.today().year + 1:  # noqa: DTZ011
            raise ValidationError({"year": "Write the year it was built, such as 1943."})


class Subsystem(models.Model):
    """A system of one vehicle, or a part of one. Serves functions: a fault in it touches these."""

    vehicle = models.ForeignKey(Vehicle, on_delete=models.CASCADE, related_name="subsystems")
    code = models.CharField(max_length=30, help_text="BRK, or BRK.parking for the second level.")
    name = models.CharField(max_length=80)
    parent = models.ForeignKey("self", on_delete=models.CASCADE, null=True, blank=True, related_name="parts")
    serves = models.JSONField(default=list, blank=True, validators=[check_functions])
    hazards: models.JSONField[list[str], list[str]] = models.JSONField(default=list, blank=True)
    order = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["order", "code"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["vehicle", "code"], name="one_system_code_a_vehicle")
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def group(self) -> str:
        """The first-level code: BRK for BRK.parking."""
        return self.code.split(".", 1)[0]


class Paper(models.Model):
    """A document the vehicle must have: its reference and the last day it is valid."""

    vehicle = models.ForeignKey(Vehicle, on_delete=models.CASCADE, related_name="papers")
    kind = models.CharField(max_length=24)
    reference = models.CharField(max_length=80, blank=True)
    valid_through = models.DateField(null=True, blank=True, help_text="Empty: no end.")
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["kind"]
        constraints = [models.UniqueConstraint(fields=["vehicle", "kind"], name="one_paper_of_a_kind")]

    def __str__(self) -> str:
        return f"{self.vehicle} {self.kind}"
