"""Error pages: what happened, what is safe, what to do."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render


def _page(
    request: HttpRequest, *, status: int, title: str, words: str, act: str, retry: str = ""
) -> HttpResponse:
    """The page; for a phone that sends what it kept, the same words as an answer. `retry`: what to fetch anew first."""
    if request.method == "POST" and "application/json" in request.headers.get("Accept", ""):
        told = {"taken": False, "words": f"{title}. {words}", **({"retry": retry} if retry else {})}
        return JsonResponse(told, status=status)
    return render(request, "errors/plain.html", {"title": title, "words": words, "act": act}, status=status)


def csrf_failed(request: HttpRequest, reason: str = "") -> HttpResponse:
    return _page(
        request,
        status=403,
        title="This page was open too long",
        words="Nothing was written. What you typed is still on the page before this one.",
        act="Go back, copy what you typed, open the page again and hand it in.",
        retry="token",
    )


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _page(
        request,
        status=404,
        title="Nothing is kept under this address",
        words="Nothing was changed.",
        act="Look for the vehicle, job or part in the find box.",
    )


def refused(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    words = str(exception) if exception and str(exception) else "Your roles do not allow this act."
    return _page(
        request,
        status=403,
        title="Not yours to do",
        words=words if "Nothing" in words else f"{words} Nothing was changed.",
        act="Ask the workshop lead or the administrator.",
    )


def broken(request: HttpRequest) -> HttpResponse:
    return _page(
        request,
        status=500,
        title="Something broke here",
        words="The fault is on our side. What you handed in was either kept whole or not at all.",
        act="Look whether it is there. If not, do it again; tell the administrator the time.",
    )
