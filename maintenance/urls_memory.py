"""Addresses of what the workshop must not forget."""

from __future__ import annotations

from django.urls import path

from maintenance.views import fabric, fact_uses, incidents, outside, papers, tool_drawings, vehicle_book

urlpatterns = [
    path("accidents/", incidents.incidents, name="incidents"),
    path("accidents/new/", incidents.incident_new, name="incident_new"),
    path("accidents/<int:pk>/", incidents.incident, name="incident"),
    path("accidents/<int:pk>/<str:act>/", incidents.incident_act, name="incident_act"),
    path("to-copy/", papers.papers, name="papers"),
    path("to-copy/<int:pk>/", papers.paper, name="paper"),
    path("to-copy/<int:pk>/copied/", papers.paper_end, name="paper_end"),
    path("vehicles/<str:code>/to-copy/", papers.paper_new, name="paper_new"),
    path("outside/", outside.outside, name="outside"),
    path("outside/new/", outside.outside_new, name="outside_new"),
    path("outside/<int:pk>/", outside.outside_hand, name="outside_hand"),
    path("outside/<int:pk>/<str:act>/", outside.outside_act, name="outside_act"),
    path("vehicles/<str:code>/fabric/", fabric.fabric, name="fabric"),
    path("vehicles/<str:code>/book.zip", vehicle_book.take, name="book_zip"),
    path("vehicles/<str:code>/book.pdf", vehicle_book.printed, name="book_pdf"),
    path("fabric/<int:pk>/", fabric.fabric_part, name="fabric_part"),
    path("fabric/<int:pk>/<str:act>/", fabric.fabric_act, name="fabric_act"),
    path("facts/<int:pk>/rests/", fact_uses.fact_use, name="fact_use"),
    path("facts/rests/<int:pk>/", fact_uses.fact_use_end, name="fact_use_end"),
    path("stores/tools/<int:pk>/drawing/", tool_drawings.tool_drawing, name="tool_drawing"),
]
