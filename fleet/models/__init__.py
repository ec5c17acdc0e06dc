from fleet.models.audit import Act, Serial
from fleet.models.facts import Fact, Photo
from fleet.models.museum import Museum
from fleet.models.people import Competence, DayException, Person, SignIn, Skill, WorkPattern
from fleet.models.usage import Meter, MeterReading, Outing
from fleet.models.vehicles import Paper, Subsystem, Vehicle, VehicleKind

__all__ = [
    "Act",
    "Competence",
    "DayException",
    "Fact",
    "Meter",
    "MeterReading",
    "Museum",
    "Outing",
    "Paper",
    "Person",
    "Photo",
    "Serial",
    "SignIn",
    "Skill",
    "Subsystem",
    "Vehicle",
    "VehicleKind",
    "WorkPattern",
]
