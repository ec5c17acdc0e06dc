"""The fault slip: from a scanned tag without a sign-in, or signed in from the vehicle's page."""

from __future__ import annotations

from typing import Any, cast

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_http_methods

from fleet.errors import Conflict
from fleet.http import open_to_all
from fleet.models import Person, Vehicle
from maintenance.forms.slip import MOVE, SlipForm
from maintenance.models import Defect
from maintenance.phone.applying import KEY
from maintenance.phone.entries import new_key
from maintenance.phone.slips import TooMany, slip_hand_in
from maintenance.phone.sync import refused, told, wants_answer
from maintenance.queries.defects import likely_duplicates
from maintenance.tags_link import receipt_of, receipt_token, vehicle_of

PAGE = "maintenance/slip.html"
TOO_MANY = (
    "Many slips came from this tag within the hour, so this one was not taken. What you wrote is still here: "
    "hand it in later, or tell somebody of the workshop now."
)


@open_to_all
@never_cache
@ensure_csrf_cookie
@require_http_methods(["GET", "HEAD", "POST"])
def slip(request: HttpRequest, token: str) -> HttpResponse:
    vehicle = vehicle_of(token)
    if vehicle is None:
        return render(request, "maintenance/slip_gone.html", status=404)
    if request.method != "POST":
        found = receipt_of(request.GET.get("slip", ""))
        row = Defect.objects.filter(pk=found, vehicle=vehicle).first() if found is not None else None
        return _receipt(request, vehicle, row) if row is not None else _ask(request, vehicle, SlipForm())
    return _taken(request, vehicle, None, reverse("maintenance:slip", args=[token]))


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def report(request: HttpRequest, code: str) -> HttpResponse:
    """The same four questions for somebody who is signed in; the slip then carries their name."""
    vehicle, person = get_object_or_404(Vehicle, code=code), cast("Person", request.user)
    if request.method == "POST":
        return _taken(request, vehicle, person, reverse("maintenance:report", args=[code]))
    found = receipt_of(request.GET.get("slip", ""))
    row = (
        Defect.objects.filter(pk=found, vehicle=vehicle, reported_by=person).first()
        if found is not None
        else None
    )
    return _receipt(request, vehicle, row) if row is not None else _ask(request, vehicle, SlipForm())


def _taken(request: HttpRequest, vehicle: Vehicle, by: Person | None, url: str) -> HttpResponse:
    form = SlipForm(request.POST, request.FILES)
    sent = request.POST.get("key", "")
    key = sent if KEY.fullmatch(sent) else new_key()
    if not form.is_valid():
        return _ask(request, vehicle, form, key=key, status=422)
    data = form.cleaned_data
    try:
        row = slip_hand_in(
            vehicle=vehicle,
            by=by,
            key=key,
            words=data["words"],
            answers=form.answers,
            name=data["name"],
            upload=data["photo"],
        )
    except TooMany:
        form.add_error(None, TOO_MANY)
        return _ask(request, vehicle, form, key=key, status=429)
    except Conflict as trouble:
        form.add_error(None, trouble.message)
        return _ask(request, vehicle, form, status=409)
    except ValidationError as trouble:
        form.refuse(trouble)
        return _ask(request, vehicle, form, key=key, status=422)
    there = f"{url}?slip={receipt_token(row.pk)}&taken={key}"
    if wants_answer(request):
        return told(taken=True, words=f"Handed in as slip {row.serial}.", next=there)
    return redirect(there)


def _ask(
    request: HttpRequest, vehicle: Vehicle, form: SlipForm, *, key: str = "", status: int = 200
) -> HttpResponse:
    if wants_answer(request):
        return refused(form, status)
    context: dict[str, Any] = {
        "vehicle": vehicle,
        "form": form,
        "key": key or new_key(),
        "signed_in": _by_page(request),
    }
    if context["signed_in"]:
        context["known"] = list(likely_duplicates(vehicle, None)[:5])
    return render(request, PAGE, context, status=status)


def _by_page(request: HttpRequest) -> bool:
    return request.resolver_match is not None and request.resolver_match.url_name == "report"


def _receipt(request: HttpRequest, vehicle: Vehicle, row: Defect) -> HttpResponse:
    context = {
        "vehicle": vehicle,
        "defect": row,
        "signed_in": _by_page(request),
        "again": request.path,
        "move": row.answers.get(MOVE, ""),
    }
    return render(request, "maintenance/slip_done.html", context)
