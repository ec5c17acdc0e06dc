"""What a phone asks for to work without signal: its worker, what to keep, a fresh token, and the page of what is kept."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import cache_control, never_cache
from django.views.decorators.http import require_safe

from fleet.http import open_to_all
from fleet.views.access import person_of
from maintenance.phone.manifest import pages_of, worker


@open_to_all
@require_safe
@cache_control(no_cache=True)
def service_worker(request: HttpRequest) -> HttpResponse:
    answer = HttpResponse(worker(), content_type="text/javascript; charset=utf-8")
    answer.headers["Service-Worker-Allowed"] = "/"
    return answer


@open_to_all
@require_safe
@cache_control(max_age=3600)
def web_manifest(request: HttpRequest) -> HttpResponse:
    icons = [
        {"src": static(f"icons/{name}.png"), "sizes": f"{size}x{size}", "type": "image/png", "purpose": purpose}
        for name, size, purpose in (
            ("mark-192", 192, "any"), ("mark-512", 512, "any"), ("mark-maskable-512", 512, "maskable"),
        )
    ]  # fmt: skip
    words = {
        "name": "Running Order", "short_name": "Running Order", "id": "/", "start_url": reverse("maintenance:my_jobs"),
        "scope": "/", "display": "standalone", "theme_color": "#1d3a2c", "background_color": "#f1efe6", "icons": icons,
    }  # fmt: skip
    return JsonResponse(words, content_type="application/manifest+json")


def _clock() -> int:
    """Our clock in milliseconds: a phone notes it, and no entry is believed to be older than the contact before it."""
    return int(timezone.now().timestamp() * 1000)


@open_to_all
@require_safe
@never_cache
def token(request: HttpRequest) -> HttpResponse:
    """Who is signed in on this phone, the token with which their entries are sent, and our clock in milliseconds."""
    return JsonResponse({"person": request.user.pk, "token": get_token(request), "now": _clock()})


@require_safe
@never_cache
def to_keep(request: HttpRequest) -> HttpResponse:
    return JsonResponse({**pages_of(person_of(request)), "now": _clock()})


@open_to_all
@require_safe
@cache_control(no_cache=True)
def kept(request: HttpRequest) -> HttpResponse:
    """Says nothing of anybody by itself: what the phone keeps is filled in there."""
    return render(request, "phone/offline.html", {"here": "jobs"})
