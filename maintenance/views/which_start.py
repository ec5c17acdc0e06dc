"""Which part: the sheets that are being worked, those that ended, and opening one for a fault, a job or a vehicle."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from fleet import rules
from fleet.models import Vehicle, VehicleKind
from fleet.views.access import answer, needs, page_or_act, person_of
from maintenance.forms.which_part import StartForm
from maintenance.models import Defect, JobCard
from maintenance.queries.which_part import (
    open_card_of,
    sheets_ended,
    sheets_of,
    sheets_open,
    starts_for,
    templates_listed,
    unsettled,
)
from maintenance.services.which_part import which_open
from maintenance.sheets import SHEETS


@require_safe
def sheets(request: HttpRequest) -> HttpResponse:
    words = {
        "open": sheets_open(), "ended": sheets_ended(), "starts": starts_for(), "own": templates_listed(), "to_settle": list(unsettled()),
        "shipped": [(key, sheet.name) for key, sheet in SHEETS.items()],
        "kinds": VehicleKind.choices, "may_edit": rules.may(request.user, "which.edit"),
        "may_fill": rules.may(request.user, "which.fill"), "here": "workshop",
    }  # fmt: skip
    return render(request, "maintenance/which_parts.html", words)


def _asked(request: HttpRequest) -> dict[str, Any]:
    """What the sheet is for: a job, a fault, or a vehicle alone."""
    key = {name: request.GET.get(name, "") for name in ("card", "defect", "vehicle")}
    card = JobCard.objects.filter(pk=int(key["card"])).first() if key["card"].isdecimal() else None
    defect = Defect.objects.filter(pk=int(key["defect"])).first() if key["defect"].isdecimal() else None
    if card is not None:
        return {"vehicle": card.vehicle, "card": card, "defect": card.defects.first()}
    if defect is not None:
        return {"vehicle": defect.vehicle, "card": open_card_of(defect), "defect": defect}
    vehicle = Vehicle.objects.filter(code=key["vehicle"]).first()
    if vehicle is None:
        raise Http404("Which part is opened from a fault, a job or a vehicle.")
    return {"vehicle": vehicle, "card": None, "defect": None}


@page_or_act
@needs("which.fill")
def start(request: HttpRequest) -> HttpResponse:
    owner = _asked(request)
    form = StartForm(request.POST if request.method == "POST" else None, starts=starts_for(owner["vehicle"]))
    if form.is_bound and form.done_once(which_open, by=person_of(request), **owner):
        messages.success(request, "The sheet is open.")
        return redirect("maintenance:which_part", form.result)
    there = sheets_of(**owner)
    return answer(
        request, "maintenance/which_start.html", form, {**owner, "there": there, "here": "workshop"}
    )
