"""Scan a tag: the camera where the phone can read codes, else the number typed."""

from __future__ import annotations

import re

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.models import Vehicle
from maintenance.tags_link import vehicle_of

TAG = re.compile(r"/t/([A-Za-z0-9_.-]{10,120})/?$")
PAGE = re.compile(r"/vehicles/([A-Za-z0-9_-]{1,20})/")


@never_cache
@require_safe
def scan(request: HttpRequest) -> HttpResponse:
    said = request.GET.get("text", "").strip()[:300]
    vehicle = vehicle_said(said) if said else None
    if vehicle is None:
        return render(
            request, "maintenance/scan.html", {"said": said, "here": "scan"}, status=404 if said else 200
        )
    if request.GET.get("to") == "report":
        return redirect("maintenance:report", code=vehicle.code)
    return redirect(_page_of(vehicle))


def vehicle_said(said: str) -> Vehicle | None:
    """From what a code held or a person typed: a tag's link, a vehicle's page, its number or its code."""
    tag, page = TAG.search(said), PAGE.search(said)
    if tag is not None:
        return vehicle_of(tag.group(1))
    if page is not None:
        return Vehicle.objects.filter(code=page.group(1)).first()
    plain = re.sub(r"[\s\u00a0]+", "", said).upper()
    rows = Vehicle.objects.only("code", "number").order_by("pk")
    return next(
        (one for one in rows if plain in {re.sub(r"\s+", "", one.number).upper(), one.code.upper()}), None
    )


def _page_of(vehicle: Vehicle) -> str:
    for name in ("readiness:vehicle", "fleet:vehicle"):
        try:
            return reverse(name, args=[vehicle.code])
        except NoReverseMatch:
            continue
    return reverse("maintenance:report", args=[vehicle.code])
