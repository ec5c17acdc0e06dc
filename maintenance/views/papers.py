"""Readings on cardboard: photographed, copied in one by one beside the picture, and asked for until it is done."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from fleet import rules
from fleet.models import Person, Vehicle
from fleet.views.access import answer, needs, page_or_act, person_of, vehicle_page
from maintenance.forms.desk_looks import ReadingForm
from maintenance.forms.desk_memory import CopiedForm, PaperPhotoForm, keep_photo
from maintenance.models import Reading, ToCopy
from maintenance.services.copying import paper_copy, paper_done, paper_keep, papers_open


@require_safe
def papers(request: HttpRequest) -> HttpResponse:
    done = ToCopy.objects.exclude(done_at=None).select_related("vehicle", "done_by").order_by("-done_at")[:20]
    return render(
        request, "maintenance/papers.html", {"waiting": papers_open(), "done": done, "here": "workshop"}
    )


def _keep(*, by: Person, vehicle: Vehicle, photo: Any, words: str, card: Any) -> ToCopy:
    kept = keep_photo(photo, by=by, vehicle=vehicle, shows=words or "Readings on paper")
    assert kept is not None  # the field is required
    return paper_keep(by=by, vehicle=vehicle, photo=kept, card=card, words=words)


@page_or_act
@needs("reading.add")
def paper_new(request: HttpRequest, code: str) -> HttpResponse:
    vehicle = get_object_or_404(Vehicle, code=code)
    card = request.GET.get("card", "")
    sent = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    form = PaperPhotoForm(*sent, vehicle=vehicle, initial={"card": int(card)} if card.isdecimal() else {})
    if form.is_bound and form.done_once(_keep, by=person_of(request), vehicle=vehicle):
        messages.success(request, "The photograph is kept, and asks to be copied until it is.")
        return redirect("maintenance:paper", form.result)
    words = {"vehicle": vehicle, "back": vehicle_page(code), "here": "vehicles"}
    return answer(request, "maintenance/paper_new.html", form, words)


def _row(pk: int) -> ToCopy:
    rows = ToCopy.objects.select_related("vehicle", "photo", "card", "by", "done_by")
    return get_object_or_404(rows.prefetch_related("readings__measure"), pk=pk)


@page_or_act
def paper(request: HttpRequest, pk: int) -> HttpResponse:
    """The picture, what was copied from it, and with `?measure=` the form of one reading."""
    row, by = _row(pk), person_of(request)
    may_copy = rules.may(by, "reading.copy") and row.done_at is None
    if request.method == "POST" and not rules.may(by, "reading.copy"):
        raise PermissionDenied(rules.refusal("reading.copy"))
    wanted = request.GET.get("measure", "")
    measure = get_object_or_404(row.vehicle.measures, pk=int(wanted)) if wanted.isdecimal() else None
    form = None
    if measure is not None and may_copy:
        form = ReadingForm(request.POST if request.method == "POST" else None, measure=measure)
        form.act = "desk.paper_reading"
        form.fields.pop("card", None)
        if form.is_bound and form.done_once(paper_copy, by=by, paper=row, measure=measure):
            copied = Reading.objects.get(pk=form.result)
            messages.success(request, f"{measure.name}: {copied.verdict_words or copied.verdict}")
            return redirect("maintenance:paper", pk)
    words = {
        "paper": row, "measure": measure, "measures": list(row.vehicle.measures.all()), "may_copy": may_copy,
        "finish": CopiedForm(auto_id="done-%s"), "vehicle": row.vehicle, "here": "workshop",
    }  # fmt: skip
    return answer(request, "maintenance/paper.html", form, words)


@require_POST
@needs("reading.copy")
def paper_end(request: HttpRequest, pk: int) -> HttpResponse:
    row = _row(pk)
    form = CopiedForm(request.POST, auto_id="done-%s")
    if form.done(paper_done, by=person_of(request), paper=row):
        messages.success(request, "Copied. The photograph stays on file.")
        return redirect("maintenance:papers")
    words = {
        "paper": row, "measures": list(row.vehicle.measures.all()), "may_copy": row.done_at is None,
        "finish": form, "form": None, "vehicle": row.vehicle, "here": "workshop",
    }  # fmt: skip
    return render(request, "maintenance/paper.html", words, status=422)
