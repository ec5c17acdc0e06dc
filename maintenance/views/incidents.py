"""Accidents and near misses: written down plainly, held as found, released, closed with what was learnt."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import F
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from fleet import rules
from fleet.models import Person, Vehicle
from fleet.views.access import answer, needs, page_or_act, person_of
from maintenance.forms.desk import DeskForm
from maintenance.forms.desk_memory import IncidentForm, LearntForm, NoteForm, ReleaseForm, keep_photo
from maintenance.models import Incident
from maintenance.services import incidents as services


@require_safe
def incidents(request: HttpRequest) -> HttpResponse:
    rows = Incident.objects.select_related("vehicle", "reported_by").order_by(
        F("closed_at").asc(nulls_first=True), "-happened_at"
    )
    return render(request, "maintenance/incidents.html", {"rows": rows, "here": "workshop"})


def _report(*, by: Person, photo: Any = None, **words: Any) -> Incident:
    kept = keep_photo(photo, by=by, vehicle=words.get("vehicle"), shows="As it was found")
    return services.incident_report(by=by, photos=[kept] if kept else [], **words)


@page_or_act
@needs("incident.report")
def incident_new(request: HttpRequest) -> HttpResponse:
    vehicle = Vehicle.objects.filter(code=request.GET.get("vehicle", "")).first()
    sent = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    form = IncidentForm(*sent, initial={"vehicle": vehicle})
    if form.is_bound and form.done_once(_report, by=person_of(request)):
        messages.warning(request, "Written down. The lead and the manager are told at once.")
        return redirect("maintenance:incident", form.result)
    return answer(request, "maintenance/incident_new.html", form, {"here": "workshop"})


def _note(*, by: Person, incident: Incident, photo: Any = None, text: str) -> Any:
    kept = keep_photo(photo, by=by, vehicle=incident.vehicle, shows=text[:120])
    return services.incident_note(by=by, incident=incident, text=text, photos=[kept] if kept else [])


ACTS: dict[str, tuple[str, type[DeskForm], Callable[..., Any], str, str]] = {
    "release": ("incident.release", ReleaseForm, services.incident_release, "Release the vehicle", "It is released. The tag stays until the lead lifts it."),
    "note": ("incident.note", NoteForm, _note, "Add to it", "It is added."),
    "close": ("incident.close", LearntForm, services.incident_close, "Close it", "It is closed."),
}  # fmt: skip


def _open(row: Incident, act: str) -> bool:
    return {"release": row.holds, "note": True, "close": row.closed_at is None and not row.holds}[act]


def _forms(request: HttpRequest, row: Incident, only: str = "") -> list[tuple[str, str, DeskForm]]:
    made = []
    for name, (rule, kind, _, title, _) in ACTS.items():
        if _open(row, name) and rules.may(request.user, rule):
            sent = (request.POST, request.FILES) if name == only else (None, None)
            made.append((name, title, kind(*sent, auto_id=f"{name}-%s")))
    return made


def _words(request: HttpRequest, row: Incident, acts: list[tuple[str, str, DeskForm]]) -> dict[str, Any]:
    by = person_of(request)
    return {
        "incident": row, "acts": acts, "here": "workshop", "vehicle": row.vehicle,
        "may_know": by.has_role("lead", "manager") or by.pk == row.reported_by_id,
    }  # fmt: skip


def _row(pk: int) -> Incident:
    rows = Incident.objects.select_related("vehicle", "tag", "reported_by", "released_by", "closed_by")
    return get_object_or_404(rows.prefetch_related("photos", "notes__by"), pk=pk)


@require_safe
def incident(request: HttpRequest, pk: int) -> HttpResponse:
    row = _row(pk)
    return render(request, "maintenance/incident.html", _words(request, row, _forms(request, row)))


@require_POST
def incident_act(request: HttpRequest, pk: int, act: str) -> HttpResponse:
    if act not in ACTS:
        raise Http404("There is no such act.")
    row, (rule, _, service, _, said) = _row(pk), ACTS[act]
    if not rules.may(request.user, rule):
        raise PermissionDenied(rules.refusal(rule))
    acts = _forms(request, row, act)
    form = next((one for name, _, one in acts if name == act), None)
    if form is None:
        messages.warning(request, "It has moved on since this page was shown. Nothing was changed.")
        return redirect("maintenance:incident", pk)
    done = form.done_once if form.act else form.done
    if done(service, by=person_of(request), incident=row):
        messages.success(request, said)
        return redirect("maintenance:incident", pk)
    return render(request, "maintenance/incident.html", _words(request, row, acts), status=422)
