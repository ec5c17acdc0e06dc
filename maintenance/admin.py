"""The administrator's own view of the workshop's tables. What is only ever added to is only ever looked at here."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.db import models

from fleet.admin import Kept, ReadOnly
from maintenance.models import (
    Access,
    CautionRead,
    Defect,
    DefectEffect,
    DefectNote,
    Deferral,
    DeferralLimit,
    DeferralSignature,
    FabricPart,
    FactUse,
    Incident,
    IncidentNote,
    Inspection,
    InspectionResult,
    JobCard,
    JobPhoto,
    JobSignature,
    JobStep,
    JobTest,
    LeaveSafe,
    Measure,
    OutsideHand,
    PartNeed,
    Place,
    Reading,
    SlipPost,
    SpecialTool,
    StripItem,
    Submission,
    Supplier,
    Tag,
    ToCopy,
    UseCheck,
    WhichRehearsal,
    WhichResult,
    WhichSheet,
    WhichTemplate,
    WorkLog,
)


def _listed(*columns: str, find: tuple[str, ...] = ()) -> dict[str, Any]:
    return {"list_display": columns, "search_fields": find, "list_select_related": True}


CHANGED: dict[type[models.Model], dict[str, Any]] = {
    Access: _listed("name", "persons", "open_hours", "close_hours", "discovery", find=("name",)),
    Place: _listed("name", "capacity", find=("name",)),
    SpecialTool: _listed("name", "home", "keeper", "on_loan_to", "back_on", find=("name",)),
    Supplier: _listed("name", "contact", find=("name",)),
}
READ: dict[type[models.Model], dict[str, Any]] = {
    Defect: _listed("serial", "vehicle", "title", "state", "reported_at", find=("serial", "title")),
    DefectEffect: _listed("defect", "function", "effect"),
    DefectNote: _listed("defect", "at", "by", "text"),
    FactUse: _listed("fact", "defect", "card", "against", "settled_on"),
    Tag: _listed("stub", "vehicle", "reason", "placed_at", "lifted_at", find=("stub", "reason")),
    Deferral: _listed("defect", "signed_on", "ends_on", "withdrawn_at"),
    DeferralLimit: _listed("deferral", "kind", "value", "text"),
    DeferralSignature: _listed("deferral", "person", "role", "at"),
    JobCard: _listed("serial", "vehicle", "title", "state", "taken_by", find=("serial", "title")),
    JobStep: _listed("card", "order", "text", "done_at"),
    StripItem: _listed("card", "number", "what", "tray", "back_at"),
    JobPhoto: _listed("card", "moment", "photo"),
    JobTest: _listed("card", "kind", "passed", "at", "by"),
    JobSignature: _listed("card", "kind", "person", "area", "at"),
    WorkLog: _listed("card", "person", "day", "hours"),
    LeaveSafe: _listed("card", "by", "at", "next_step"),
    CautionRead: _listed("card", "person", "day"),
    PartNeed: _listed("name", "vehicle", "card", "state", "promised_on", find=("name", "code")),
    Measure: _listed("name", "vehicle", "system", "judgement", "source", find=("name",)),
    Reading: _listed("measure", "values", "verdict", "at", "by"),
    Inspection: _listed("name", "vehicle", "kind", "due_on", "voided_at", find=("name",)),
    InspectionResult: _listed("inspection", "done_on", "passed", "reference"),
    Incident: _listed(
        "serial", "kind", "vehicle", "happened_at", "released_at", "closed_at", find=("serial",)
    ),
    IncidentNote: _listed("incident", "at", "by", "text"),
    OutsideHand: _listed("who", "about", "vehicle", "state", "comes_on", find=("who", "about")),
    FabricPart: _listed("name", "vehicle", "standing", "label", "shelf", find=("name", "label")),
    ToCopy: _listed("vehicle", "words", "at", "by", "done_at"),
    WhichTemplate: _listed("name", "kind", "based_on", "changed_at", "retired", find=("name",)),
    WhichRehearsal: _listed("template", "plays", "asked_at", "done_at"),
    WhichSheet: _listed("name", "vehicle", "card", "based_on", find=("name",)),
    WhichResult: _listed("sheet", "test", "result", "at", "by"),
    UseCheck: _listed("vehicle", "kind", "for_day", "done_at", "nil_defect"),
    Submission: _listed("key", "person", "act", "at", find=("key",)),
    SlipPost: _listed("tag_key", "at"),
}
for table, shown in CHANGED.items():
    admin.site.register(table, type(f"{table.__name__}Admin", (Kept,), shown))
for table, shown in READ.items():
    admin.site.register(table, type(f"{table.__name__}Admin", (ReadOnly,), shown))
