"""Every part of the look in all its cases, for whoever builds pages."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from fleet.models import Person


@require_safe
def kit(request: HttpRequest) -> HttpResponse:
    if not (isinstance(request.user, Person) and request.user.has_role("administrator")):
        raise PermissionDenied("The kit page is the administrator's.")
    return render(request, "kit.html")
