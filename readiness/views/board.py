"""The readiness board, its self-refreshing rows, and how it was worked out."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from maintenance.held import held_now
from maintenance.models import JobCard
from readiness.models import Event
from readiness.queries.board import ORDER, Board
from readiness.queries.board import board as board_of
from readiness.services import assessing
from readiness.services.working_out import WORDS


def takers() -> dict[str, tuple[str, str]]:
    """Who has each open card, or whom it suits, and its serial, by the name that the forecast uses."""
    cards = JobCard.objects.filter(ended_at=None).select_related("taken_by", "suits")
    return {c.code or c.serial: (str(c.taken_by or c.suits or ""), c.serial) for c in cards}


def _chosen(request: HttpRequest) -> tuple[Event | None, list[Event]]:
    events = assessing.coming_events()
    wanted = request.GET.get("event", "")
    return next((e for e in events if e.code == wanted), events[0] if events else None), events


def _board(request: HttpRequest, event: Event) -> Board:
    return board_of(event, assessing.latest(event), takers())


def _context(request: HttpRequest) -> dict[str, object]:
    event, events = _chosen(request)
    shown = [s for s in request.GET.getlist("show") if s in ORDER]
    return {
        "board": _board(request, event) if event else None,
        "held_as_found": held_now(),
        "events": events,
        "event": event,
        "shown": shown,
        "held_by": request.GET.get("held", ""),
        "here": "readiness",
        "query": request.GET.urlencode(),
    }


@require_safe
def board(request: HttpRequest) -> HttpResponse:
    return render(request, "readiness/board.html", _context(request))


@require_safe
def rows(request: HttpRequest) -> HttpResponse:
    """The board's changing part; 204 while the page already shows the newest assessment."""
    event, _ = _chosen(request)
    newest = assessing.latest(event) if event else None
    mark = f"{newest.pk if newest else 0}-{int(event.wanted_at is None) if event else 1}"
    if request.GET.get("seen") == mark:
        return HttpResponse(status=204)
    return render(request, "readiness/board.html#live", _context(request))


@require_safe
def how(request: HttpRequest, code: str) -> HttpResponse:
    """How this was worked out: every entry's reasons in plain words, with seed, version and hash."""
    event = get_object_or_404(Event, code=code)
    return render(
        request,
        "readiness/how.html",
        {"event": event, "assessment": assessing.latest(event), "words": WORDS, "here": "readiness"},
    )
