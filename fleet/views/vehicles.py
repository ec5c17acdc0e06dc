"""Vehicles: the list, adding and changing, standing down, systems, papers and the printed code."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet import rules
from fleet.enums import Function, VehicleStatus
from fleet.forms.base import ActForm
from fleet.forms.vehicles import (
    PaperForm,
    StatusForm,
    SystemAddForm,
    SystemForm,
    VehicleAddForm,
    VehicleForm,
)
from fleet.hazards import HAZARDS
from fleet.models import Subsystem, Vehicle, VehicleKind
from fleet.queries.people import is_over
from fleet.queries.vehicles import vehicle_list
from fleet.services.vehicles import (
    paper_set,
    subsystem_add,
    subsystem_change,
    tag_key_renew,
    vehicle_add,
    vehicle_change,
    vehicle_status_set,
)
from fleet.views.about import about
from fleet.views.access import answer, must, needs, page_or_act, person_of, vehicle_page

standing_of: list[Callable[[], Mapping[int, tuple[str, str]]]] = []
"""Filled by the app above when it starts: gives for each vehicle's id its standing code and the words beside it."""


def standings() -> dict[int, tuple[str, str]]:
    found: dict[int, tuple[str, str]] = {}
    for ask in standing_of:
        found.update(ask())
    return found


@require_safe
def vehicles(request: HttpRequest) -> HttpResponse:
    status, kind = request.GET.get("status", ""), request.GET.get("kind", "")
    known = standings()
    words = {
        "lines": [_line(vehicle, known) for vehicle in vehicle_list(status=status, kind=kind)],
        "statuses": VehicleStatus.choices, "kinds": VehicleKind.choices, "status_shown": status, "kind_shown": kind,
        "may_add": rules.may(request.user, "vehicle.add"),
    }  # fmt: skip
    return render(request, "fleet/vehicles.html", words)


def _line(vehicle: Vehicle, known: Mapping[int, tuple[str, str]]) -> dict[str, Any]:
    """A vehicle that is not in service says so itself; one that nobody judged yet is Not judged."""
    if vehicle.status != VehicleStatus.IN_SERVICE:
        code, words = "down", f"{vehicle.get_status_display()}: {vehicle.status_reason}".rstrip(": ")
    else:
        code, words = known.get(vehicle.pk, ("unjudged", ""))
    return {"vehicle": vehicle, "code": code, "words": words, "url": vehicle_page(vehicle.code)}


@page_or_act
@needs("vehicle.add")
def vehicle_new(request: HttpRequest) -> HttpResponse:
    form = VehicleAddForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.done(vehicle_add, by=person_of(request)):
        messages.success(request, f"{form.result} is added, with the systems of its kind. Look them through.")
        return redirect("fleet:systems", form.result.code)
    return answer(request, "fleet/vehicle_new.html", form)


@page_or_act
@needs("vehicle.change")
def vehicle_edit(request: HttpRequest, code: str) -> HttpResponse:
    vehicle = get_object_or_404(Vehicle, code=code)
    form = VehicleForm(request.POST if request.method == "POST" else None, row=vehicle)
    if form.is_bound and form.done(vehicle_change, by=person_of(request), vehicle=vehicle):
        messages.success(request, f"{form.result}: written down.")
        return redirect(vehicle_page(form.result.code))
    return answer(
        request,
        "fleet/vehicle_form.html",
        form,
        about(request, vehicle, title="What is written", button="Write it down"),
    )


@page_or_act
@needs("vehicle.status")
def vehicle_status(request: HttpRequest, code: str) -> HttpResponse:
    vehicle = get_object_or_404(Vehicle, code=code)
    form = StatusForm(request.POST if request.method == "POST" else None, initial={"status": vehicle.status})
    if form.is_bound and form.done(vehicle_status_set, by=person_of(request), vehicle=vehicle):
        messages.success(request, f"{vehicle}: {form.result.get_status_display().lower()}.")
        return redirect(vehicle_page(code))
    lede = "A vehicle that is not in service is left out of the plan and of every event."
    words = about(request, vehicle, title="In service or not", button="Write it down", lede=lede)
    return answer(request, "fleet/vehicle_form.html", form, words)


@page_or_act
@needs("vehicle.tag_key")
def tag_key(request: HttpRequest, code: str) -> HttpResponse:
    vehicle = get_object_or_404(Vehicle, code=code)
    form = ActForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.done(tag_key_renew, by=person_of(request), vehicle=vehicle):
        messages.success(
            request, f"{vehicle} has a new fault-slip code. Print its tag again and take the old ones down."
        )
        return redirect(vehicle_page(code))
    lede = "Every tag printed until now opens nothing from then on. Do it when a code was copied or misused."
    words = about(request, vehicle, title="A new fault-slip code", button="Renew the code", lede=lede)
    return answer(request, "fleet/vehicle_form.html", form, words)


@page_or_act
def papers(request: HttpRequest, code: str) -> HttpResponse:
    must(request, "paper.set")
    vehicle, today = get_object_or_404(Vehicle, code=code), timezone.localdate()
    form = PaperForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.done(paper_set, by=person_of(request), vehicle=vehicle):
        messages.success(request, f"{form.result.kind.capitalize()}: filed.")
        return redirect("fleet:papers", code)
    filed = [(row, is_over(row.valid_through, today)) for row in vehicle.papers.all()]
    words = about(request, vehicle, filed=filed, may_file=rules.may(request.user, "paper.set"))
    return answer(request, "fleet/papers.html", form, words)


@page_or_act
def systems(request: HttpRequest, code: str) -> HttpResponse:
    must(request, "vehicle.change")
    vehicle = get_object_or_404(Vehicle, code=code)
    form = SystemAddForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.done(subsystem_add, by=person_of(request), vehicle=vehicle):
        messages.success(request, f"{form.result.name}: added.")
        return redirect("fleet:systems", code)
    asked = request.GET.get("of", "")
    of = next((row for row in vehicle.subsystems.filter(parent=None) if row.code == asked), None)
    may_change = rules.may(request.user, "vehicle.change")
    words = about(request, vehicle, of=of, rows=_system_rows(vehicle, of), may_change=may_change)
    return answer(request, "fleet/systems.html", form, words)


def _system_rows(vehicle: Vehicle, of: Subsystem | None) -> list[dict[str, Any]]:
    """The first level with how many parts each has, or one system and its parts."""
    functions, titles = dict(Function.choices), {code: hazard.title for code, hazard in HAZARDS.items()}
    rows = vehicle.subsystems.annotate(parts_count=Count("parts")).order_by("order", "code")
    rows = rows.filter(parent=None) if of is None else rows.filter(Q(pk=of.pk) | Q(parent=of))
    return [
        {
            "row": row, "parts": row.parts_count,
            "serves": ", ".join(str(functions.get(code, code)) for code in row.serves),
            "hazards": "; ".join(titles.get(code, code) for code in row.hazards),
        }
        for row in rows
    ]  # fmt: skip


@page_or_act
@needs("vehicle.change")
def system(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    row = get_object_or_404(Subsystem.objects.select_related("vehicle"), pk=pk, vehicle__code=code)
    form = SystemForm(request.POST if request.method == "POST" else None, row=row)
    if form.is_bound and form.done(subsystem_change, by=person_of(request), subsystem=row):
        messages.success(request, f"{form.result.name}: written down.")
        return redirect("fleet:systems", code)
    words = about(request, row.vehicle, title=row.name, button="Write it down")
    return answer(request, "fleet/vehicle_form.html", form, words)
