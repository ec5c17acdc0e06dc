"""The whole-event sheet as a PDF, printed at the moment it is asked for and written down as printed."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from fleet.views.access import person_of
from readiness import rules
from readiness.prints.event_sheet import event_sheet as render_sheet
from readiness.queries.programme import event_rows
from readiness.services import assessing
from readiness.services.prints import printout_record

KIND = "event sheet"


@require_POST
def event_sheet(request: HttpRequest, code: str) -> HttpResponse:
    """A POST, because each printing is a line in the record book with its own version."""
    if not rules.may_print_sheet(request.user):
        raise PermissionDenied("Only the coordinator, the lead or the manager may print the event sheet.")
    event = event_rows(code)
    if event is None:
        raise Http404
    printout = printout_record(by=person_of(request), kind=KIND, event=event)
    response = HttpResponse(
        render_sheet(event, assessing.latest(event), printout), content_type="application/pdf"
    )
    response["Content-Disposition"] = f'inline; filename="event-sheet-{event.code}-{printout.version}.pdf"'
    return response
