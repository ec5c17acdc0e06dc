"""Middleware and context that every page shares: content policy, the museum's clock, who must sign in."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.core.cache import cache
from django.http import HttpRequest, HttpResponse
from django.urls import resolve
from django.utils import timezone

from fleet.models import Museum

type_of_next = Callable[[HttpRequest], HttpResponse]


class ContentPolicyMiddleware:
    """Adds the Content-Security-Policy header of `SECURE_CSP` to every answer, error pages included."""

    def __init__(self, get_response: type_of_next) -> None:
        self.get_response = get_response
        self.policy = "; ".join(f"{name} {' '.join(values)}" for name, values in settings.SECURE_CSP.items())

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", self.policy)
        response.headers.setdefault("Permissions-Policy", "camera=(self), microphone=(), geolocation=()")
        return response


def museum() -> Museum | None:
    """The museum's one row; kept for a minute so that pages do not ask for it each time."""
    row: Museum | None = cache.get("museum")
    if row is None:
        row = Museum.objects.first()
        if row is not None:
            cache.set("museum", row, 60)
    return row


def forget_museum() -> None:
    cache.delete("museum")


class MuseumClockMiddleware:
    """Shows and reads times in the museum's own zone."""

    def __init__(self, get_response: type_of_next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        row = museum()
        with timezone.override(ZoneInfo(row.time_zone) if row else timezone.get_default_timezone()):
            return self.get_response(request)


def open_to_all(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Mark a view that may be seen without signing in. Everything else asks for a sign-in."""
    view.open_to_all = True  # type: ignore[attr-defined]
    return view


class SignInRequiredMiddleware:
    """Closed unless marked open: a new page is never public by forgetting."""

    def __init__(self, get_response: type_of_next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., HttpResponse], args: Any, kwargs: Any
    ) -> HttpResponse | None:
        owner = request.headers.get("X-Person", "")
        if owner and owner != str(request.user.pk):
            # A phone sends what one person wrote as that person only, whoever has signed in on it since.
            return HttpResponse("Somebody else is signed in.", status=401, content_type="text/plain")
        if request.user.is_authenticated or getattr(view, "open_to_all", False):
            return None
        if resolve(request.path_info).route.startswith("admin/"):
            return None  # the admin site asks by itself
        if request.headers.get("HX-Request") or "application/json" in request.headers.get("Accept", ""):
            return HttpResponse(
                "Your sign-in has ended. Sign in again; nothing you typed is lost.", status=401
            )
        return redirect_to_login(request.get_full_path())


def look_context(request: HttpRequest) -> dict[str, object]:
    """Theme, museum and mark for the layouts."""
    theme = request.COOKIES.get("lamp", "")
    user = request.user if hasattr(request, "user") else None
    who = ""
    if user is not None and user.is_authenticated:
        role = next(
            (
                name
                for name in (
                    "coordinator",
                    "lead",
                    "manager",
                    "curator",
                    "administrator",
                    "mechanic",
                    "driver",
                )
                if user.has_role(name)
            ),
            "",
        )
        who = f"{role.capitalize()}: {user.name}" if role else user.name
    return {"theme": theme if theme in {"shed", "daylight"} else "", "museum": museum(), "who": who}
