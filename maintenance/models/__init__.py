from maintenance.models.copying import ToCopy
from maintenance.models.defects import Defect, DefectEffect, DefectNote, FactUse, Tag
from maintenance.models.deferrals import Deferral, DeferralLimit, DeferralSignature
from maintenance.models.fabric import FabricPart
from maintenance.models.incidents import Incident, IncidentNote
from maintenance.models.inspections import Inspection, InspectionResult, UseCheck
from maintenance.models.jobs import (
    CautionRead,
    JobCard,
    JobPhoto,
    JobSignature,
    JobStep,
    JobTest,
    LeaveSafe,
    StripItem,
    WorkLog,
)
from maintenance.models.outside import OutsideHand
from maintenance.models.parts import PartNeed, Supplier
from maintenance.models.readings import Measure, Reading
from maintenance.models.submissions import SlipPost, Submission
from maintenance.models.which_part import (
    WhichRehearsal,
    WhichResult,
    WhichSheet,
    WhichState,
    WhichTemplate,
)
from maintenance.models.workshop import Access, Place, SpecialTool

__all__ = [
    "Access",
    "CautionRead",
    "Defect",
    "DefectEffect",
    "DefectNote",
    "Deferral",
    "DeferralLimit",
    "DeferralSignature",
    "FabricPart",
    "FactUse",
    "Incident",
    "IncidentNote",
    "Inspection",
    "InspectionResult",
    "JobCard",
    "JobPhoto",
    "JobSignature",
    "JobStep",
    "JobTest",
    "LeaveSafe",
    "Measure",
    "OutsideHand",
    "PartNeed",
    "Place",
    "Reading",
    "SlipPost",
    "SpecialTool",
    "StripItem",
    "Submission",
    "Supplier",
    "Tag",
    "ToCopy",
    "UseCheck",
    "WhichRehearsal",
    "WhichResult",
    "WhichSheet",
    "WhichState",
    "WhichTemplate",
    "WorkLog",
]
