"""Words of the workshop with a fixed set of values."""

from __future__ import annotations

from django.db import models


class Effect(models.TextChoices):
    LOST = "lost", "Lost"
    REDUCED = "reduced", "Reduced"
    WATCH = "watch", "Watch"


class DefectState(models.TextChoices):
    REPORTED = "reported", "Reported, not assessed"
    ASSESSED = "assessed", "Assessed"
    CLEARED = "cleared", "Cleared"
    SET_ASIDE = "set aside", "Set aside"
    MERGED = "merged", "Joined to another"


class DefectSource(models.TextChoices):
    SLIP = "slip", "Fault slip"
    PERSON = "person", "Found by one of us"
    INSPECTION = "inspection", "Found at an inspection"
    DISCOVERY = "discovery", "Found on opening"
    USE_CHECK = "use check", "Found at a use check"
    IMPORT = "import", "Brought in from a table"


class CardKind(models.TextChoices):
    DEFECT = "defect", "Defect"
    PERIODIC = "periodic", "Periodic"
    FABRIC = "fabric", "Fabric"


class CardState(models.TextChoices):
    NOT_DUE = "not due", "Not due"
    NOT_BOOKED = "not booked", "Not booked"
    ASSESSED = "assessed", "Assessed"
    BOOKED_IN = "booked in", "Booked in"
    IN_HAND = "in hand", "In hand"
    HELD = "held", "Held"
    REFIT_DONE = "refit done", "Refit done"
    TESTED = "tested", "Tested"
    PASSED = "passed", "Passed"
    CARRIED_FORWARD = "carried forward", "Carried forward"
    NO_FAULT_FOUND = "no fault found", "No fault found"
    NOT_NEEDED = "not needed", "Not needed"


OPEN_STATES = frozenset(
    {
        CardState.NOT_DUE,
        CardState.NOT_BOOKED,
        CardState.ASSESSED,
        CardState.BOOKED_IN,
        CardState.IN_HAND,
        CardState.HELD,
        CardState.REFIT_DONE,
        CardState.TESTED,
        CardState.CARRIED_FORWARD,
    }
)
ENDED_STATES = frozenset({CardState.PASSED, CardState.NO_FAULT_FOUND, CardState.NOT_NEEDED})


class HeldFor(models.TextChoices):
    PART = "part", "Part"
    TOOL = "tool", "Tool"
    PERSON = "person", "Person"
    ACCESS = "access", "Access"
    DECISION = "decision", "Decision"
    CURATOR = "curator", "Curator"
    OWNER_GONE = "owner of job gone", "Owner of job gone"


class Timing(models.TextChoices):
    BEFORE = "pre", "Before the event"
    AFTER = "post", "After the event"


class LimitKind(models.TextChoices):
    """What a vehicle may not do until a deferral ends. The first group is compared with the slot by machine."""

    STATIC_ONLY = "static only", "Static only"
    ARENA_ONLY = "arena only", "Arena only"
    NO_ARENA = "no arena", "No arena"
    NO_ROAD = "no road", "No road"
    MAX_SPEED = "max speed", "Not above, km/h"
    DAYLIGHT_ONLY = "daylight only", "Daylight only"
    NO_PASSENGERS = "no passengers", "No passengers"
    MAX_MINUTES_OUTING = "minutes per outing", "Minutes per outing"
    MAX_MINUTES_DAY = "minutes per day", "Minutes per day"
    MAX_KM_OUTING = "km per outing", "Kilometres per outing"
    MAX_KM_DAY = "km per day", "Kilometres per day"
    NAMED_DRIVER = "named driver", "Named driver only"
    EQUIPMENT_LOCKED = "equipment locked", "Equipment locked, pinned or strapped"
    FREE_TEXT = "free text", "In words; a person ticks it for each entry"


VALUED_LIMITS = frozenset(
    {
        LimitKind.MAX_SPEED,
        LimitKind.MAX_MINUTES_OUTING,
        LimitKind.MAX_MINUTES_DAY,
        LimitKind.MAX_KM_OUTING,
        LimitKind.MAX_KM_DAY,
    }
)


class TestKind(models.TextChoices):
    __test__ = False
    BENCH = "bench", "Bench test"
    FUNCTIONAL = "functional", "Functional test"
    ROAD = "road", "Road test"


class SignatureKind(models.TextChoices):
    DOER = "doer", "Done by"
    INSPECTOR = "inspector", "Checked by another"
    RETURN = "return to service", "Return to service"
    CURATOR = "curator", "Curator"


class InspectionKind(models.TextChoices):
    BRAKE_READING = "brake reading", "Brake performance reading"
    RUNNING_GEAR = "running gear", "Brake, steering and running-gear inspection"
    ANNUAL = "annual", "Yearly road or passenger inspection"
    LIFTING = "lifting", "Thorough examination of lifting gear"
    BOILER = "boiler", "Boiler certificate"
    CO = "co", "Carbon monoxide check"
    EXTINGUISHERS = "extinguishers", "Portable extinguishers"
    WEAPON = "weapon", "Deactivation check"
    WORK_GEAR = "work gear", "Demonstration gear test"
    SERVICE = "service", "Service by use or time"
    OTHER = "other", "Other"


class NeedState(models.TextChoices):
    ON_SHELF = "on shelf", "On the shelf, reserved"
    ON_ORDER = "on order", "On order"
    OUT_FOR_REPAIR = "out for repair", "Out for repair"
    NOT_ORDERED = "not ordered", "Not ordered"
    UNKNOWN = "need unknown", "Need not known yet"
    FITTED = "fitted", "Fitted"
    NOT_NEEDED = "not needed", "Not needed"


class UseCheckKind(models.TextChoices):
    EVENT = "event", "Event check"
    FIRST_PARADE = "first parade", "First parade"
    AFTER_USE = "after use", "After-use check"
    CONDITION_BEFORE = "condition before", "Condition check before"
    CONDITION_AFTER = "condition after", "Condition check after"


class Judgement(models.TextChoices):
    MIN = "min", "Least"
    MAX = "max", "Most"
    RANGE = "range", "Between"
    SPREAD = "spread", "Spread"
    DROP = "drop", "Drop since last"
    TREND = "trend", "Against its own history"
    LOOK = "look", "Look: named choices"


class HazardLevel(models.TextChoices):
    WARNING = "WARNING", "May hurt people"
    CAUTION = "CAUTION", "May hurt the vehicle"
    NOTE = "NOTE", "Useful"


class IncidentKind(models.TextChoices):
    ACCIDENT = "accident", "Accident"
    NEAR_MISS = "near miss", "Near miss"


class Hurt(models.TextChoices):
    NOBODY = "nobody", "Nobody"
    PLASTER = "first aid", "First aid was enough"
    DOCTOR = "doctor", "Doctor or hospital"
    UNKNOWN = "not known", "Not known yet"


class OutsideKind(models.TextChoices):
    EXAMINER = "examiner", "Examiner"
    SUPPLIER = "supplier", "Supplier or works"
    TYRE_FITTER = "tyre fitter", "Tyre fitter"
    FITTER = "borrowed fitter", "Borrowed fitter"
    OWNER = "owner", "Owner of a lent vehicle"
    OTHER = "other", "Somebody else"


class OutsideState(models.TextChoices):
    ASKED = "asked", "Asked, no answer yet"
    APPOINTED = "appointed", "Comes on a day"
    CAME = "came", "Has been"
    FELL_THROUGH = "off", "Came to nothing"


class FabricStanding(models.TextChoices):
    ORIGINAL = "original", "Original"
    PERIOD = "period", "Of the period"
    REPLACED = "replaced", "Replaced"
    COPY = "copy", "Copy"
    UNKNOWN = "unknown", "Not known"


class Reversible(models.TextChoices):
    YES = "yes", "Yes, without loss"
    PARTLY = "partly", "Partly"
    NO = "no", "No"
