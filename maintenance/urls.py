"""Addresses of the workshop: the phone's, the desk's, fault finding's and the reckoning's."""

from __future__ import annotations

from importlib import import_module
from importlib.util import find_spec

from django.urls import URLPattern, URLResolver

app_name = "maintenance"
urlpatterns: list[URLPattern | URLResolver] = []
for name in (
    "maintenance.urls_phone",
    "maintenance.urls_offline",
    "maintenance.urls_desk",
    "maintenance.urls_memory",
    "maintenance.urls_which",
    "maintenance.urls_reckoning",
):
    if find_spec(name) is not None:
        urlpatterns += import_module(name).urlpatterns
