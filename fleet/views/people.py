"""People: the list, adding, changing, codes, leaving, what they are checked for; and the door after too many tries."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet import rules
from fleet.forms.base import ActForm
from fleet.forms.people import CompetenceForm, LeaveForm, PersonForm
from fleet.models import Person
from fleet.models.people import ROLES
from fleet.queries.people import is_over, people_list, person_with_parts
from fleet.services.people import (
    CODE_DAYS,
    competence_set,
    one_time_code,
    person_add,
    person_change,
    person_leave,
)
from fleet.views.access import answer, needs, page_or_act, person_of

LOOK_AFTER = ("person.change", "days.others", "competence.set")
WHO_LOOKS = (
    "Only the workshop lead, the coordinator, the manager or the administrator may open the list of people. "
    "Your own page is under your name."
)


def locked_out(
    request: HttpRequest, original_response: HttpResponse | None = None, credentials: Any = None
) -> HttpResponse:
    """Shown after too many wrong passwords for one name from one place."""
    minutes = round(float(settings.AXES_COOLOFF_TIME) * 60)
    answer = render(
        request, "fleet/locked.html", {"tries": settings.AXES_FAILURE_LIMIT, "minutes": minutes}, status=429
    )
    answer["Retry-After"] = str(minutes * 60)
    return answer


@require_safe
@needs(*LOOK_AFTER, words=WHO_LOOKS)
def people(request: HttpRequest) -> HttpResponse:
    who, role = request.GET.get("who", "in"), request.GET.get("role", "")
    words = {
        "people": people_list(who=who, role=role), "roles": ROLES, "who_shown": who, "role_shown": role,
        "may_add": rules.may(request.user, "person.add"),
    }  # fmt: skip
    return render(request, "fleet/people.html", words)


@page_or_act
@needs("person.add")
def person_new(request: HttpRequest) -> HttpResponse:
    form = PersonForm(request.POST if request.method == "POST" else None, row=Person())
    if form.is_bound and form.done(person_add, by=person_of(request)):
        messages.success(
            request, f"{form.result.name} is added. Print a one-time code, so that they can sign in."
        )
        return redirect("fleet:person", form.result.pk)
    words = {"title": "Add a person", "button": "Add the person"}
    return answer(request, "fleet/person_form.html", form, words)


@require_safe
@needs(*LOOK_AFTER, words=WHO_LOOKS)
def person(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(person_with_parts(pk))
    today = timezone.localdate()
    checked = [(row, is_over(row.valid_through, today)) for row in shown.checked_for]  # type: ignore[attr-defined]
    hours = (Decimal(shown.worked_quarters) / 4).normalize()
    share = None if shown.turn_up is None else int(shown.turn_up * 100)
    words = {
        "shown": shown,
        "checked": checked,
        "bench_hours": hours,
        "turn_up": share,
        **_may(request, shown),
    }
    return render(request, "fleet/person.html", words)


def _may(request: HttpRequest, shown: Person) -> dict[str, bool]:
    here = shown.left_on is None
    return {
        "may_change": rules.may(request.user, "person.change"),
        "may_code": here and rules.may(request.user, "person.code"),
        "may_leave": here and rules.may(request.user, "person.leave"),
        "may_days": here and rules.may_set_days(request.user, shown.pk),
        "may_check": here and rules.may(request.user, "competence.set"),
    }


@page_or_act
@needs("person.change")
def person_edit(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Person, pk=pk)
    form = PersonForm(request.POST if request.method == "POST" else None, row=shown)
    if form.is_bound and form.done(person_change, by=person_of(request), person=shown):
        messages.success(request, f"{form.result.name}: written down.")
        return redirect("fleet:person", pk)
    words = {"title": f"Change {shown.name}", "button": "Write it down", "shown": shown}
    return answer(request, "fleet/person_form.html", form, words)


@page_or_act
@needs("person.leave")
def leave(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Person, pk=pk)
    form = LeaveForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.done(person_leave, by=person_of(request), person=shown):
        messages.success(
            request, f"{shown.name} has left. Their sign-in is shut and their jobs wait for somebody."
        )
        return redirect("fleet:person", pk)
    return answer(request, "fleet/person_leave.html", form, {"shown": shown})


@page_or_act
@never_cache
@needs("person.code")
def code(request: HttpRequest, pk: int) -> HttpResponse:
    """Asked for with GET, made with POST, shown once: only its hash is kept."""
    shown = get_object_or_404(Person, pk=pk)
    form = ActForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.done(one_time_code, by=person_of(request), person=shown):
        made = {"shown": shown, "code": form.result, "days": CODE_DAYS, "site": settings.SITE_ADDRESS}
        return render(request, "fleet/code_sheet.html", made)
    return answer(request, "fleet/person_code.html", form, {"shown": shown, "days": CODE_DAYS})


@page_or_act
@needs("competence.set")
def competence(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Person, pk=pk, left_on=None)
    begun = {name: request.GET.get(name, "") for name in ("kind", "vehicle", "area")}
    form = CompetenceForm(request.POST if request.method == "POST" else None, initial=begun)
    if form.is_bound and form.done(competence_set, by=person_of(request), person=shown):
        messages.success(request, f"Written down: {form.result}.")
        return redirect("fleet:person", pk)
    return answer(request, "fleet/competence.html", form, {"shown": shown})
