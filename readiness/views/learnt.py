"""What was learnt, with how much it rests on; and how often the forecasts came true."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from fleet.views.access import person_of
from readiness.models import LearntKind
from readiness.queries.track_record import track_record as record_of
from readiness.services.learnt import may_overrule, overrule_drop, overrule_set
from readiness.snapshot.learnt import learnt as learnt_of
from readiness.snapshot.rows import fetch


def _write(request: HttpRequest) -> str:
    """Do what was typed; the words of what is wrong, or nothing."""
    if not may_overrule(request.user):
        raise PermissionDenied(
            "The workshop lead or the coordinator overrules a learnt figure. Nothing was changed."
        )
    by, kind, key = person_of(request), request.POST.get("kind", ""), request.POST.get("key", "")
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
    found = learnt_of(fetch())
    groups = [(kind.label, [f for f in found.figures.values() if f.kind == kind]) for kind in LearntKind]
    context = {
        "groups": groups, "found": found, "wrong": wrong, "typed": request.POST, "may_overrule": may_overrule(request.user), "here": "record",
    }  # fmt: skip
    return render(request, "readiness/learnt.html", context, status=422 if wrong else 200)


@require_safe
def track_record(request: HttpRequest) -> HttpResponse:
    return render(request, "readiness/track_record.html", {"record": record_of(), "here": "record"})
