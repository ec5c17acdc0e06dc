"""The pre-event checklist as a PDF."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from fleet.models import Vehicle
from readiness.models import Event
from readiness.prints.checklist import checklist as render_checklist
from readiness.services import assessing


@require_safe
def checklist(request: HttpRequest, code: str, vehicle: str) -> HttpResponse:
    event = get_object_or_404(Event, code=code)
    row = get_object_or_404(Vehicle, code=vehicle)
    pdf = render_checklist(event, row, assessing.latest(event))
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="checklist-{event.code}-{row.code}.pdf"'
    return response
