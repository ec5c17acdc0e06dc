"""Addresses of the reckoning: the list, and one page each."""

from __future__ import annotations

from django.urls import path

from maintenance.views import reckoning

urlpatterns = [
    path("reckoning/", reckoning.reckonings, name="reckonings"),
    path("reckoning/<slug:slug>/", reckoning.reckoning, name="reckoning"),
]
