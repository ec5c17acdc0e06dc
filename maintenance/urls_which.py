"""Addresses of Which part: the sheet of one fault, its acts, its paper, and the sheets to start from."""

from __future__ import annotations

from django.urls import path

from maintenance.views import which_part, which_start, which_templates

urlpatterns = [
    path("which-part/", which_start.sheets, name="which_parts"),
    path("which-part/start/", which_start.start, name="which_start"),
    path("which-part/<int:pk>/", which_part.sheet, name="which_part"),
    path("which-part/<int:pk>/undo/", which_part.undo, name="which_undo"),
    path("which-part/<int:pk>/overrule/", which_part.overrule, name="which_overrule"),
    path("which-part/<int:pk>/finish/", which_part.finish, name="which_finish"),
    path("which-part/<int:pk>/reopen/", which_part.reopen, name="which_reopen"),
    path("which-part/<int:pk>/paper/", which_part.typed_back, name="which_paper"),
    path("which-part/<int:pk>/sheet.pdf", which_part.paper, name="which_print"),
    path("which-part/<int:pk>/reading/", which_part.reading, name="which_reading"),
    path("which-part/<int:pk>/settle/", which_part.settle, name="which_settle"),
    path("which-part/sheets/copy/", which_templates.copy, name="which_copy"),
    path("which-part/sheets/<int:pk>/", which_templates.edit, name="which_template"),
    path("which-part/sheets/<int:pk>/look/", which_templates.look, name="which_template_look"),
    path("which-part/sheets/<int:pk>/play/", which_templates.play, name="which_template_play"),
]
