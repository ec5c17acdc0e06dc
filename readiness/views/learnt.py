"""What was learnt, with how much it rests on; and how often the forecasts came true."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from fleet.views.access import person_of
from maintenance.enums import CardKind
from readiness.models import LearntKind
from readiness.queries.track_record import track_record as record_of
from readiness.services.learnt import may_overrule, overrule_drop, overrule_set
from readiness.snapshot.learnt import learnt as learnt_of
from readiness.snapshot.learnt import systems
from readiness.snapshot.rows import fetch

NOTES = {
    LearntKind.HOURS: "Times the estimate: 1.2 means that such work takes a fifth longer than said. Where a person has no record of such work, the whole workshop's figure is used.",
    LearntKind.PROMISES: "Days taken over days promised. Without a record half come as promised, three in ten take a third longer, two in ten twice as long: 1.29 on average, an assumption.",
}


def _write(request: HttpRequest) -> str:
    """Do what was typed; the words of what is wrong, or nothing."""
    if not may_overrule(request.user):
        raise PermissionDenied(
            "The workshop lead or the coordinator overrules a learnt figure. Nothing was changed."
        )
    by, kind, key = person_of(request), request.POST.get("kind", ""), request.POST.get("key", "")
    if not key:
        key = ":".join(request.POST.get(part, "") for part in ("person", "system", "work"))
    if "drop" in request.POST:
        overrule_drop(by=by, kind=kind, key=key)
        return ""
    try:
        value = Decimal(request.POST.get("value", "").replace(",", "."))
    except InvalidOperation:
        return "Write the figure as a number, such as 0.8."
    try:
        overrule_set(by=by, kind=kind, key=key, value=value, reason=request.POST.get("reason", "").strip())
    except ValidationError as error:
        return " ".join(error.messages)
    return ""


@require_http_methods(["GET", "HEAD", "POST"])
def learnt(request: HttpRequest) -> HttpResponse:
    wrong = _write(request) if request.method == "POST" else ""
    if request.method == "POST" and not wrong:
        messages.success(request, "Written down. The board is worked out anew.")
        return redirect("readiness:learnt")
    rows = fetch()
    found = learnt_of(rows)
    groups = [
        (kind.label, NOTES.get(kind, ""), [f for f in found.figures.values() if f.kind == kind])
        for kind in LearntKind
    ]
    context = {
        "groups": groups, "found": found, "wrong": wrong, "typed": request.POST, "may_overrule": may_overrule(request.user), "here": "record",
        "people": [p for p in rows.people if p.is_active], "systems": systems(), "works": CardKind.choices, "hours": LearntKind.HOURS,
    }  # fmt: skip
    return render(request, "readiness/learnt.html", context, status=422 if wrong else 200)


@require_safe
def track_record(request: HttpRequest) -> HttpResponse:
    found = record_of(all_evenings=request.GET.get("evenings") == "all")
    return render(request, "readiness/track_record.html", {"record": found, "here": "record"})
