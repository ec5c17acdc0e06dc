"""Addresses of the board, the programme, the papers and the record."""

from __future__ import annotations

from django.urls import path

from readiness import urls_import
from readiness.views import (
    board,
    checklist,
    event_sheet,
    find,
    learnt,
    outcomes,
    programme,
    record_book,
    role_table,
    slots,
    vehicle,
    what_if,
)

app_name = "readiness"

event = "programme/<slug:code>"
slot = f"{event}/slots/<int:pk>"
entry = f"{event}/entries/<int:pk>"

urlpatterns = [
    path("", board.board, name="board"),
    path("board/rows/", board.rows, name="board_rows"),
    path("how/<str:code>/", board.how, name="how"),
    path("what-if/", what_if.ask, name="what_if"),
    path("record/learnt/", learnt.learnt, name="learnt"),
    path("record/came-true/", learnt.track_record, name="track_record"),
    path("role-table/", role_table.role_table, name="role_table"),
    path("vehicles/<str:code>/", vehicle.vehicle, name="vehicle"),
    path("events/<str:code>/vehicles/<str:vehicle>/checklist.pdf", checklist.checklist, name="checklist"),
    path("programme/", programme.programme, name="programme"),
    path("programme/new/", programme.event_new, name="event_new"),
    path(f"{event}/", programme.event, name="event"),
    path(f"{event}/change/", programme.event_change, name="event_change"),
    path(f"{event}/freeze/", programme.event_freeze, name="event_freeze"),
    path(f"{event}/daylight/", programme.event_light, name="event_light"),
    path(f"{event}/call-off/", programme.event_call_off, name="event_call_off"),
    path(f"{event}/over/", programme.event_over, name="event_over"),
    path(f"{event}/ran/", outcomes.ran, name="ran"),
    path(f"{event}/plan-again/", programme.event_plan_again, name="event_plan_again"),
    path(f"{event}/rehearsals/", programme.rehearsals, name="rehearsals"),
    path(f"{event}/rehearsals/<int:pk>/drop/", programme.rehearsal_drop, name="rehearsal_drop"),
    path(f"{event}/slots/new/", slots.slot_new, name="slot_new"),
    path(f"{slot}/", slots.slot_change, name="slot"),
    path(f"{slot}/copy/", slots.slot_copy, name="slot_copy"),
    path(f"{slot}/drop/", slots.slot_drop, name="slot_drop"),
    path(f"{slot}/people/", slots.slot_crew, name="slot_crew"),
    path(f"{slot}/enter/", slots.entry_new, name="entry_new"),
    path(f"{slot}/board-says/", slots.entry_preview, name="entry_preview"),
    path(f"{entry}/", slots.entry, name="entry"),
    path(f"{entry}/drop/", slots.entry_drop, name="entry_drop"),
    path(f"{event}/sheet.pdf", event_sheet.event_sheet, name="event_sheet"),
    path(f"{event}/track/", record_book.track, name="track"),
    path("record/", record_book.record_book, name="record_book"),
    path("record/reminders/<int:pk>/", record_book.reminder, name="reminder"),
    path("record/reminders/<int:pk>/seen/", record_book.reminder_seen, name="reminder_seen"),
    path("find/", find.find, name="find"),
]

urlpatterns += urls_import.urlpatterns
