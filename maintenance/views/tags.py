"""Do-not-run tags: hung by anybody of the house, lifted by the lead with the number of the paper stub."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from fleet import rules
from fleet.models import Vehicle
from fleet.views.access import answer, needs, page_or_act, person_of, vehicle_page
from maintenance.forms.desk_looks import HangForm, LiftForm
from maintenance.models import Tag
from maintenance.services.tags import tag_hang as hang
from maintenance.services.tags import tag_lift


@page_or_act
@needs("tag.hang")
def tag_hang(request: HttpRequest, code: str) -> HttpResponse:
    vehicle = get_object_or_404(Vehicle, code=code)
    wanted = request.GET.get("card", "")
    start = {"card": int(wanted)} if wanted.isdecimal() else {}
    form = HangForm(request.POST if request.method == "POST" else None, vehicle=vehicle, initial=start)
    if form.is_bound and form.done_once(hang, by=person_of(request), vehicle=vehicle):
        messages.warning(
            request, f"{vehicle} must not run. Hang the paper tag on it now, and bring the stub to the board."
        )
        return redirect("maintenance:tag", form.result)
    hung = vehicle.tags.filter(lifted_at=None).select_related("placed_by")
    return answer(
        request,
        "maintenance/tag_hang.html",
        form,
        {"vehicle": vehicle, "hung": hung, "back": vehicle_page(code), "here": "vehicles"},
    )


@page_or_act
def tag(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Tag.objects.select_related("vehicle", "card", "placed_by", "lifted_by"), pk=pk)
    may_lift = rules.may(request.user, "tag.lift")
    if request.method == "POST" and not may_lift:
        raise PermissionDenied(rules.refusal("tag.lift"))
    form = LiftForm(request.POST if request.method == "POST" else None) if may_lift else None
    if form is not None and form.is_bound and form.done(tag_lift, by=person_of(request), tag=row):
        messages.success(request, f"The tag is lifted from {row.vehicle}.")
        return redirect("maintenance:tag", pk)
    return answer(
        request,
        "maintenance/tag.html",
        form,
        {"tag": row, "vehicle": row.vehicle, "back": vehicle_page(row.vehicle.code), "here": "vehicles"},
    )
