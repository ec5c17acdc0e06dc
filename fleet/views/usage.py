"""Meters and outings of a vehicle."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from fleet import rules
from fleet.forms.vehicles import MeterAddForm, MeterReadForm, OutingForm
from fleet.models import Vehicle
from fleet.queries.vehicles import meters_with_last, readings_of
from fleet.services.meters import meter_add, meter_read, outing_add
from fleet.views.about import about
from fleet.views.access import answer, must, needs, page_or_act, person_of

OUTINGS_SHOWN = 30


def _meter_page(
    request: HttpRequest, vehicle: Vehicle, *, reading: BaseForm | None = None, adding: BaseForm | None = None
) -> HttpResponse:
    meters = list(meters_with_last(vehicle))
    words: dict[str, Any] = {
        "meters": meters, "readings": readings_of(vehicle),
        "reading": reading or MeterReadForm(meters=meters), "adding": adding or MeterAddForm(),
        "may_read": rules.may(request.user, "meter.read"), "may_add": rules.may(request.user, "vehicle.change"),
    }  # fmt: skip
    return answer(request, "fleet/meters.html", reading or adding, about(request, vehicle, **words))


@page_or_act
def meters(request: HttpRequest, code: str) -> HttpResponse:
    must(request, "meter.read")
    vehicle = get_object_or_404(Vehicle, code=code)
    if request.method != "POST":
        return _meter_page(request, vehicle)
    form = MeterReadForm(request.POST, meters=vehicle.meters.all())
    if form.done(meter_read, by=person_of(request)):
        messages.success(
            request, f"{form.result.meter.get_kind_display()}: {form.result.shown} written down."
        )
        return redirect("fleet:meters", code)
    return _meter_page(request, vehicle, reading=form)


@require_POST
@needs("vehicle.change")
def meter_new(request: HttpRequest, code: str) -> HttpResponse:
    vehicle, form = get_object_or_404(Vehicle, code=code), MeterAddForm(request.POST)
    if form.done(meter_add, by=person_of(request), vehicle=vehicle):
        messages.success(request, f"{form.result.get_kind_display()}: the meter is added. Read it once now.")
        return redirect("fleet:meters", code)
    return _meter_page(request, vehicle, adding=form)


@page_or_act
def outings(request: HttpRequest, code: str) -> HttpResponse:
    must(request, "outing.add")
    vehicle = get_object_or_404(Vehicle, code=code)
    form = OutingForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.done(outing_add, by=person_of(request), vehicle=vehicle):
        messages.success(request, "The outing is written down.")
        return redirect("fleet:outings", code)
    rows = vehicle.outings.select_related("driver").order_by("-day", "-pk")[:OUTINGS_SHOWN]
    words = about(request, vehicle, rows=rows, may_add=rules.may(request.user, "outing.add"))
    return answer(request, "fleet/outings.html", form, words)
