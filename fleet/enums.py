"""Words with a fixed set of values, shared by every app. The words are the trade's (docs/glossary.md)."""

from __future__ import annotations

from django.db import models


class Function(models.TextChoices):
    """What a vehicle must be able to do; a role asks for some of these."""

    START = "START", "start and run"
    STOP = "STOP", "service brake"
    HOLD = "HOLD", "parking brake"
    STEER = "STEER", "steer"
    DRIVE = "DRIVE", "drive"
    ROLL = "ROLL", "wheels or tracks"
    COOL = "COOL", "cooling"
    LUBE = "LUBE", "lubrication"
    FUEL = "FUEL", "fuel without leaks"
    BREATHE = "BREATHE", "gas kept from people"
    POWER = "POWER", "electrics"
    SEE = "SEE", "sight"
    SHOW = "SHOW", "lamps, horn, plate"
    STAND = "STAND", "structure"
    CARRY = "CARRY", "seats, steps, doors"
    PULL = "PULL", "winch, crane, tow"
    WORK = "WORK", "demonstration gear"
    QUENCH = "QUENCH", "fire"
    TELL = "TELL", "gauges and speech"
    SAFE = "SAFE", "made-safe items"
    STEAM = "STEAM", "steam"
    LOOK = "LOOK", "presentation"


class VehicleStatus(models.TextChoices):
    IN_SERVICE = "in service", "In service"
    STOOD_DOWN = "stood down", "Stood down"
    LAID_UP = "laid up", "Laid up"
    OUT_OF_USE = "out of use", "Out of use"


class MeterKind(models.TextChoices):
    HOURS = "hours", "Engine hours"
    KM = "km", "Kilometres"
    STARTS = "starts", "Starts"
    PUMP_HOURS = "pump hours", "Pump hours"
    LADDER_HOURS = "ladder hours", "Ladder hours"
    CRANE_HOURS = "crane hours", "Crane hours"
    STEAM_HOURS = "steam hours", "Steam hours"
    STEAMINGS = "steamings", "Steamings"


class Engagement(models.TextChoices):
    VOLUNTEER = "volunteer", "Volunteer"
    STAFF = "staff", "Staff"


class CompetenceKind(models.TextChoices):
    """What a person has been checked for. `drive` and `fireman` name a vehicle; `inspect` names an area."""

    DRIVE = "drive", "Driver, current on"
    PASSENGER = "passenger", "Passenger-service driver"
    COMMAND = "command", "Vehicle commander"
    INSPECT = "inspect", "Independent inspector"
    OPERATE = "operate", "Operator of a crane, winch or ladder"
    FIREMAN = "fireman", "Fireman on a steam vehicle"
    BANKSMAN = "banksman", "Banksman or slinger"
    MARSHAL = "marshal", "Marshal"
    LIFTING = "lifting", "Lifting supervisor"
    ASSESS_DRIVER = "assess driver", "Assesses drivers"


class InspectArea(models.TextChoices):
    """Areas in which the second signature is given by another authorised person."""

    BRAKES = "brakes", "Brakes"
    STEERING = "steering", "Steering"
    LIFTING = "lifting", "Lifting gear"
    RUNNING_GEAR = "running gear", "Running gear"
    PRESSURE = "pressure", "Boiler and pressure"
    ANY = "any", "Any area"


class Sureness(models.TextChoices):
    MEASURED = "measured", "Measured"
    READ = "read", "Read in the manual or on the part"
    TOLD = "told", "Told by somebody"
    GUESSED = "guessed", "Guessed"


class PaperKind(models.TextChoices):
    INSURANCE = "insurance", "Insurance"
    REGISTRATION = "registration", "Registration or tax"
    RISK = "risk assessment", "Risk assessment"
    LABEL = "label", "Label and hazard sheet"
    DRIVER_CARD = "driver card", "Driver's card"
    ROUTE = "route", "Route and limits"
    PASSENGER_INSURANCE = "passenger insurance", "Passenger insurance"
    LIFT_PLAN = "lift plan", "Lift or tow plan"
    GEAR_LIST = "gear list", "Gear list with rated loads"
    OWNER_CONSENT = "owner consent", "Owner's consent"
    WEAPON = "weapon certificate", "Certificate of a made-safe weapon"
