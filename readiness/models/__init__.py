from readiness.models.assessments import Assessment, DayRecord, Digest, Done, Printout
from readiness.models.events import Crew, Entry, Event, EventDay, LimitTick, Rehearsal, RoleRule, Slot

__all__ = [
    "Assessment",
    "Crew",
    "DayRecord",
    "Digest",
    "Done",
    "Entry",
    "Event",
    "EventDay",
    "LimitTick",
    "Printout",
    "Rehearsal",
    "RoleRule",
    "Slot",
]
