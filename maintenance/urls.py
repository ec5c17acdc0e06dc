"""Addresses of the workshop: the phone's and the desk's."""

from __future__ import annotations

from importlib import import_module
from importlib.util import find_spec

from django.urls import URLPattern, URLResolver

app_name = "maintenance"
urlpatterns: list[URLPattern | URLResolver] = []
for name in ("maintenance.urls_phone", "maintenance.urls_desk"):
    if find_spec(name) is not None:
        try:
            urlpatterns += import_module(name).urlpatterns
        except ImportError:
            pass
