"""The what-if sentence: asked in an address, answered with what moves; nothing is written."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from fleet.models import Person, Vehicle
from maintenance.enums import OPEN_STATES, LimitKind, NeedState
from maintenance.models import JobCard, PartNeed
from readiness.services import assessing
from readiness.services.what_if import NotUnderstood, what_if

VERBS = (
    ("away", "a person is away (that day, or altogether)"),
    ("in", "a person comes in on one more day"),
    ("part", "a part comes on that day"),
    ("order", "a part is ordered today"),
    ("book", "a job is booked"),
    ("drop", "a job is left for after the event"),
    ("put-off", "a job is put off under a limit"),
    ("stand-down", "a vehicle is stood down"),
    ("swap", "another vehicle takes its slots"),
    ("freeze", "the freeze is moved"),
)


def _named(rows: Any) -> list[Any]:
    """Rows with the short name that a what-if line uses for them."""
    found = list(rows)
    for row in found:
        row.what_if_name = row.code or getattr(row, "serial", "") or f"part-{row.pk}"
    return found


def _choices() -> dict[str, object]:
    return {
        "verbs": VERBS,
        "people": Person.objects.filter(is_active=True),
        "vehicles": Vehicle.objects.order_by("number"),
        "cards": _named(
            JobCard.objects.filter(state__in=OPEN_STATES).select_related("vehicle").order_by("serial")
        ),
        "parts": _named(
            PartNeed.objects.exclude(state__in=[NeedState.FITTED, NeedState.NOT_NEEDED]).order_by("name")
        ),
        "limits": LimitKind.choices,
        "events": assessing.coming_events(),
    }


def line_of(request: HttpRequest) -> str:
    """The what-if line that the filled-in sentence says; empty when nothing is asked."""
    if request.GET.get("line"):
        return request.GET["line"]
    verb = request.GET.get("verb", "")
    thing = {
        "away": "person",
        "in": "person",
        "part": "part",
        "order": "part",
        "drop": "card",
        "put-off": "card",
        "book": "card",
        "stand-down": "vehicle",
        "swap": "vehicle",
        "freeze": "event",
    }.get(verb)
    if thing is None or not request.GET.get(thing):
        return ""
    tail = {
        "swap": request.GET.get("taker", ""),
        "put-off": request.GET.get("limit", ""),
        "freeze": request.GET.get("moment", "").replace("T", " "),
    }.get(verb, request.GET.get("day", ""))
    tail = "" if verb in {"order", "drop", "book", "stand-down"} else tail
    return f"{verb} {request.GET[thing]}" + (f' "{tail}"' if tail else "")


@require_safe
def ask(request: HttpRequest) -> HttpResponse:
    line = line_of(request)
    context: dict[str, object] = {"line": line, "asked": request.GET, "here": "readiness"} | _choices()
    status = 200
    if line:
        try:
            context["answer"] = what_if([line])
        except NotUnderstood as error:
            context["wrong"], status = str(error), 422
    return render(request, "readiness/what_if.html", context, status=status)
