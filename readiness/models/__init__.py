from readiness.models.assessments import Assessment, DayRecord, Digest, Done, Printout
from readiness.models.events import Crew, Entry, Event, EventDay, LimitTick, Rehearsal, RoleRule, Slot
from readiness.models.learnt import LearntKind, Overrule

__all__ = [
    "Assessment",
    "Crew",
    "DayRecord",
    "Digest",
    "Done",
    "Entry",
    "Event",
    "EventDay",
    "LearntKind",
    "LimitTick",
    "Overrule",
    "Printout",
    "Rehearsal",
    "RoleRule",
    "Slot",
]
