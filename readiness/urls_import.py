"""Addresses of the pages where tables come in and go out; part of the namespace of readiness/urls.py."""

from __future__ import annotations

from django.urls import path

from readiness.views import import_pages

urlpatterns = [
    path("import/", import_pages.tables_in, name="import"),
    path("import/write/", import_pages.bring_in, name="import_write"),
    path("import/templates/<slug:name>.csv", import_pages.import_template, name="import_template"),
    path("export/museum.xlsx", import_pages.tables_out, name="export"),
]
