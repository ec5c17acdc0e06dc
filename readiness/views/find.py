"""Find a vehicle, job, fault, part, person or fact by words."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from readiness.queries.find import LONGEST
from readiness.queries.find import find as look_for


@require_safe
def find(request: HttpRequest) -> HttpResponse:
    text = request.GET.get("q", "")[:LONGEST].strip()
    return render(request, "readiness/find.html", {"find_text": text, "kinds": look_for(text)})
