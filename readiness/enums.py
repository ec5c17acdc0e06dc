"""Words of events and standings."""

from __future__ import annotations

from django.db import models


class Role(models.TextChoices):
    """What a vehicle does in a slot. A standby is judged by the roles of the slots it covers."""

    STATIC = "static", "Static display"
    RUNNING = "running", "Engine-running display"
    ARENA = "arena", "Arena or track run"
    ROAD = "road", "Road run or parade"
    RIDES = "rides", "Passenger rides"
    RECOVERY = "recovery", "Recovery duty"
    STANDBY = "standby", "Standby"


class Duty(models.TextChoices):
    DRIVER = "driver", "Driver or operator"
    COMMANDER = "commander", "Vehicle commander"
    FIREMAN = "fireman", "Fireman (steam)"
    CREW = "crew", "Crew"
    CONDUCTOR = "conductor", "Conductor or steward"
    BANKSMAN = "banksman", "Banksman or slinger"
    MARSHAL = "marshal", "Marshal"
    FIRE_POINT = "fire point", "Fire point"
    STEWARD = "steward", "Steward"


class RuleSubject(models.TextChoices):
    FUNCTION = "function", "Function"
    INSPECTION = "inspection", "Inspection"
    CREW = "crew", "Crew"
    PAPER = "paper", "Paper"
    CHECK = "check", "Check of use"
    OTHER = "other", "Other rule"


class EventState(models.TextChoices):
    PLANNED = "planned", "Planned"
    OVER = "over", "Over"
    CALLED_OFF = "called off", "Called off"
