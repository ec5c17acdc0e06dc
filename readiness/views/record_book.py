"""The record book, the reminders in it, and the chance day by day."""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from fleet import mail
from fleet.models import Person, Vehicle
from fleet.views.access import person_of
from readiness import rules
from readiness.models import Digest, Event
from readiness.queries import record_book as queries
from readiness.queries.track import HEIGHT, WIDTH, tracks
from readiness.services import digests


def _day(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None


@require_safe
def record_book(request: HttpRequest) -> HttpResponse:
    vehicle, person = request.GET.get("vehicle", ""), request.GET.get("person", "")
    day, page = _day(request.GET.get("day", "")), request.GET.get("page", "1")
    found = queries.book(vehicle=vehicle, person=person, day=day, page=int(page) if page.isdigit() else 1)
    asked = request.GET.copy()
    asked.pop("page", None)
    return render(
        request,
        "readiness/record_book.html",
        {
            "book": found,
            "vehicles": Vehicle.objects.order_by("number").only("code", "number", "name"),
            "people": Person.objects.order_by("name").only("code", "name"),
            "vehicle": vehicle,
            "person": person,
            "day": day.isoformat() if day else "",
            "is_filtered": bool(vehicle or person or day),
            "asked": asked.urlencode(),
            "reminders": queries.reminders_for(person_of(request)),
            "can_send": mail.can_send(),
        },
    )


def _reminder(request: HttpRequest, pk: int) -> Digest:
    row = get_object_or_404(Digest.objects.select_related("person"), pk=pk)
    if not rules.may_read_digest(person_of(request), row):
        raise PermissionDenied(f"That reminder is for {row.person}.")
    return row


@require_safe
def reminder(request: HttpRequest, pk: int) -> HttpResponse:
    row = _reminder(request, pk)
    own = row.person_id == person_of(request).pk
    return render(
        request, "readiness/record_reminder.html", {"reminder": row, "own": own, "can_send": mail.can_send()}
    )


@require_POST
def reminder_seen(request: HttpRequest, pk: int) -> HttpResponse:
    digests.digest_seen(by=person_of(request), digest=_reminder(request, pk))
    return redirect("readiness:reminder", pk)


@require_safe
def track(request: HttpRequest, code: str) -> HttpResponse:
    """The chance of each entry, evening by evening."""
    event = get_object_or_404(Event, code=code)
    context = {"event": event, "vehicles": tracks(event), "width": str(WIDTH), "height": str(HEIGHT)}
    return render(request, "readiness/programme_track.html", {**context, "here": "programme"})
