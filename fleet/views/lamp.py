"""The lamp: shed light or daylight, kept in a cookie so that the page comes in the right light at once."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from fleet.http import open_to_all
from fleet.views.access import safe_next

LIGHTS = frozenset({"shed", "daylight"})
A_YEAR = 365 * 24 * 60 * 60


@open_to_all
@require_POST
def lamp(request: HttpRequest) -> HttpResponse:
    answer = redirect(safe_next(request))
    theme = request.POST.get("theme", "")
    if theme in LIGHTS:
        answer.set_cookie(
            "lamp", theme, max_age=A_YEAR, httponly=True, samesite="Lax", secure=request.is_secure()
        )
    return answer
