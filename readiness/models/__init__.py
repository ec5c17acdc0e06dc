from readiness.models.assessments import Assessment, DayRecord, Digest, Done, Printout
from readiness.models.events import Crew, Entry, Event, EventDay, LimitTick, Rehearsal, RoleRule, Slot
from readiness.models.learnt import LearntKind, Overrule
from readiness.models.outcomes import Outcome, Ran

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
    "Outcome",
    "Overrule",
    "Printout",
    "Ran",
    "Rehearsal",
    "RoleRule",
    "Slot",
]
