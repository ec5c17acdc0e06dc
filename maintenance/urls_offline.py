"""Addresses that a phone asks by itself, so that it works without signal."""

from __future__ import annotations

from django.urls import path

from maintenance.views import offline

urlpatterns = [
    path("sw.js", offline.service_worker, name="service_worker"),
    path("app.webmanifest", offline.web_manifest, name="web_manifest"),
    path("phone/token/", offline.token, name="phone_token"),
    path("phone/keep/", offline.to_keep, name="phone_keep"),
    path("phone/kept/", offline.kept, name="kept"),
]
