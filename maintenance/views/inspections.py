"""Inspections by what falls due first, one of them with its acts, and the checks that go with use."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet import rules
from fleet.models import Vehicle
from fleet.views.access import answer, needs, page_or_act, person_of, vehicle_page
from maintenance.forms.desk import DeskForm
from maintenance.forms.desk_acts import inspection_card
from maintenance.forms.desk_looks import (
    BookForm,
    InspectionForm,
    RecordForm,
    UseCheckForm,
    VoidForm,
    check_with_photos,
)
from maintenance.forms.desk_memory import UsualForm
from maintenance.models import Inspection
from maintenance.phone.sync import refused, told, wants_answer
from maintenance.queries.inspections_page import inspection_page, inspections_page
from maintenance.rules import CHECK_ACTS
from maintenance.services.inspections import (
    inspection_add,
    inspection_book,
    inspection_change,
    inspection_record,
    inspection_void,
)
from maintenance.services.inspections import inspections_usual as usual_set
from maintenance.services.use_checks import overdue

CHECKS_SHOWN = 20
ACTS: dict[str, tuple[str, type[DeskForm], Callable[..., Any], str, str]] = {
    "record": (
        "inspection.record",
        RecordForm,
        inspection_record,
        "Record a result",
        "The result is recorded.",
    ),
    "book": ("inspection.plan", BookForm, inspection_book, "Book the visit or the work", "Written down."),
    "void": (
        "inspection.record",
        VoidForm,
        inspection_void,
        "Make it void",
        "It is void until it is done again.",
    ),
    "card": ("card.open", DeskForm, inspection_card, "Make a job of it", "The job is opened."),
}


@require_safe
def inspections(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    words = {
        "lines": inspections_page(today),
        "today": today,
        "may_plan": rules.may(request.user, "inspection.plan"),
        "here": "workshop",
    }
    return render(request, "maintenance/inspections.html", words)


def _form(name: str, row: Inspection, data: Any) -> DeskForm:
    make = ACTS[name][1]
    more: dict[str, Any] = {"inspection": row} if make is RecordForm else {}
    return make(data, auto_id=f"{name}-%s", **more)


def _page(request: HttpRequest, pk: int, only: str = "", refused: DeskForm | None = None) -> HttpResponse:
    try:
        due, results = inspection_page(pk, timezone.localdate())
    except Inspection.DoesNotExist as nothing:
        raise Http404("There is no such inspection.") from nothing
    row = due.inspection
    if row.vehicle is not None:
        row.vehicle.back = vehicle_page(row.vehicle.code)  # type: ignore[attr-defined]
    offered = {name: rules.may(request.user, rule) for name, (rule, *_) in ACTS.items()}
    offered["card"] = offered["card"] and row.vehicle is not None and due.card is None
    acts = [
        (name, ACTS[name][3], refused if name == only and refused else _form(name, row, None))
        for name in ACTS
        if offered[name] or (name == only and refused)
    ]
    words = {
        "due": due,
        "row": row,
        "results": results,
        "acts": acts,
        "may_plan": rules.may(request.user, "inspection.plan"),
        "here": "workshop",
    }
    return render(request, "maintenance/inspection.html", words, status=422 if refused else 200)


@require_safe
def inspection(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, pk)


@require_POST
def inspection_act(request: HttpRequest, pk: int, act: str) -> HttpResponse:
    if act not in ACTS:
        raise Http404("There is no such act.")
    row, (rule, _, service, _, said) = get_object_or_404(Inspection, pk=pk), ACTS[act]
    if not rules.may(request.user, rule):
        raise PermissionDenied(rules.refusal(rule))
    form = _form(act, row, request.POST)
    form.act = f"desk.inspection_{act}"
    if form.done_once(service, by=person_of(request), inspection=row):
        messages.success(request, f"{row}: {said[:1].lower()}{said[1:]}")
        return redirect("maintenance:inspection", pk)
    return _page(request, pk, act, form)


@page_or_act
@needs("inspection.plan")
def inspection_new(request: HttpRequest) -> HttpResponse:
    vehicle = Vehicle.objects.filter(code=request.GET.get("vehicle", "")).first()
    form = InspectionForm(request.POST if request.method == "POST" else None, initial={"vehicle": vehicle})
    if form.is_bound and form.done_once(inspection_add, by=person_of(request)):
        messages.success(request, "The inspection is set up.")
        return redirect("maintenance:inspection", form.result)
    return answer(request, "maintenance/inspection_form.html", form, {"row": None, "here": "workshop"})


@page_or_act
@needs("inspection.plan")
def inspection_edit(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Inspection.objects.select_related("vehicle"), pk=pk)
    form = InspectionForm(request.POST if request.method == "POST" else None, inspection=row)
    if form.is_bound and form.done(inspection_change, by=person_of(request), inspection=row):
        messages.success(request, f"{row}: written down.")
        return redirect("maintenance:inspection", pk)
    return answer(request, "maintenance/inspection_form.html", form, {"row": row, "here": "workshop"})


@page_or_act
@needs("inspection.plan")
def inspections_usual(request: HttpRequest, code: str) -> HttpResponse:
    """What a vehicle of this kind usually has, to be ticked."""
    vehicle = get_object_or_404(Vehicle, code=code)
    form = UsualForm(request.POST if request.method == "POST" else None, vehicle=vehicle)
    if form.is_bound and form.done(usual_set, by=person_of(request), vehicle=vehicle):
        messages.success(request, f"Set up: {len(form.result)}. Enter the last result of each.")
        return redirect("maintenance:inspections")
    words = {"vehicle": vehicle, "back": vehicle_page(code), "here": "workshop"}
    return answer(request, "maintenance/inspections_usual.html", form, words)


@page_or_act
def use_check(request: HttpRequest, code: str) -> HttpResponse:
    vehicle, by = get_object_or_404(Vehicle, code=code), person_of(request)
    may_check = any(rules.may(by, act) for act in CHECK_ACTS.values())
    if request.method == "POST" and not may_check:
        raise PermissionDenied(rules.refusal("check.after_use"))
    sent = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    form = UseCheckForm(*sent, vehicle=vehicle, by=by) if may_check else None
    if form is not None and form.is_bound and form.done_once(check_with_photos, by=by, vehicle=vehicle):
        if wants_answer(request):
            return told(taken=True, words="The check is written down. Thank you.", next=request.path)
        messages.success(request, "The check is written down. Thank you.")
        return redirect("maintenance:use_check", code)
    if form is not None and form.is_bound and wants_answer(request):
        return refused(form, 422)
    rows = (
        vehicle.use_checks.select_related("by")
        .prefetch_related("photos")
        .order_by("-for_day", "kind")[:CHECKS_SHOWN]
    )
    words = {
        "vehicle": vehicle,
        "rows": rows,
        "overdue": overdue(vehicle),
        "today": timezone.localdate(),
        "back": vehicle_page(code),
        "here": "vehicles",
    }
    return answer(request, "maintenance/use_check.html", form, words)
