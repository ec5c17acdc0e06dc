"""One vehicle: its plate, its standing and why, its condition, defects, limits, facts and what is coming up."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from fleet.models import Vehicle
from readiness.queries.vehicle_page import page
from readiness.services import assessing


@require_safe
def vehicle(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Vehicle.objects.select_related("keeper"), code=code)
    events = assessing.coming_events()
    wanted = request.GET.get("event", "")
    event = next((e for e in events if e.code == wanted), events[0] if events else None)
    found = page(row, event, assessing.latest(event) if event else None)
    return render(
        request, "readiness/vehicle.html", {"page": found, "vehicle": row, "event": event, "here": "vehicles"}
    )
