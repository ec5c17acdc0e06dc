"""The administrator's look behind the pages. Events change on their own pages; what was worked out or sent is only shown."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.db.models import Model
from django.http import HttpRequest

from fleet.admin import Kept, ReadOnly
from readiness.models import (
    Assessment,
    DayRecord,
    Digest,
    Done,
    Entry,
    Event,
    EventDay,
    Printout,
    Rehearsal,
    RoleRule,
    Slot,
)
from readiness.receivers import request_assessment


@admin.register(Event)
class EventAdmin(ReadOnly):
    list_display = ("code", "name", "first_day", "last_day", "freeze_at", "state")
    list_filter = ("state",)
    search_fields = ("code", "name")


@admin.register(EventDay)
class EventDayAdmin(ReadOnly):
    list_display = ("event", "day", "sunrise", "sunset")
    list_select_related = ("event",)


@admin.register(Slot)
class SlotAdmin(ReadOnly):
    list_display = ("event", "code", "name", "role", "starts_at", "ends_at")
    list_filter = ("event", "role")
    list_select_related = ("event",)
    search_fields = ("code", "name")


@admin.register(Entry)
class EntryAdmin(ReadOnly):
    list_display = ("slot", "vehicle", "covers", "entered_by")
    list_select_related = ("slot", "vehicle", "covers", "entered_by")
    search_fields = ("vehicle__number", "vehicle__name", "slot__code")


@admin.register(Rehearsal)
class RehearsalAdmin(ReadOnly):
    list_display = ("event", "vehicle", "day", "hours", "km")
    list_select_related = ("event", "vehicle")


@admin.register(RoleRule)
class RoleRuleAdmin(Kept):
    """The museum's own role table; a changed cell has every coming event judged anew."""

    list_display = ("role", "subject", "code", "demand", "count")
    list_filter = ("role", "subject")

    def save_model(self, request: HttpRequest, obj: Model, form: Any, change: bool) -> None:
        super().save_model(request, obj, form, change)
        request_assessment()


@admin.register(Assessment)
class AssessmentAdmin(ReadOnly):
    list_display = ("event", "made_at", "samples", "seed", "engine_version", "is_latest", "is_evening")
    list_select_related = ("event",)
    list_filter = ("event", "is_latest", "is_evening")


@admin.register(DayRecord)
class DayRecordAdmin(ReadOnly):
    list_display = ("event", "vehicle_code", "slot_code", "day", "standing", "percent", "came_true")
    list_select_related = ("event",)
    list_filter = ("event", "day")


@admin.register(Digest)
class DigestAdmin(ReadOnly):
    list_display = ("person", "kind", "period", "subject", "made_at", "sent_at", "seen_at", "trouble")
    list_select_related = ("person",)
    list_filter = ("kind",)


@admin.register(Done)
class DoneAdmin(ReadOnly):
    list_display = ("job", "period", "at")
    list_filter = ("job",)


@admin.register(Printout)
class PrintoutAdmin(ReadOnly):
    list_display = ("code", "kind", "event", "vehicle", "printed_at", "printed_by", "version")
    list_select_related = ("event", "vehicle", "printed_by")
    search_fields = ("code",)
