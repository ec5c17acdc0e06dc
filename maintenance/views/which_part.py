"""Which part: one sheet on its page, filled in, taken back, overruled, ended, typed back from paper."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from fleet import rules
from fleet.errors import Conflict
from fleet.models import Person
from fleet.views.access import answer, must, needs, page_or_act, person_of, vehicle_page
from maintenance.forms.which_part import (
    FinishForm,
    PaperForm,
    ReopenForm,
    ResultForm,
    SettleForm,
    result_with_photo,
)
from maintenance.models import Reading, WhichResult, WhichSheet
from maintenance.phone.manifest import also_keep
from maintenance.phone.sync import made_at, told, wants_answer
from maintenance.prints.which_part import which_pdf
from maintenance.queries.which_part import meanwhile, readings_for, sheet_versions, which_detail
from maintenance.queries.which_part_page import SheetPage, which_page
from maintenance.rules import may_end_which
from maintenance.services.which_part import (
    which_finish,
    which_from_reading,
    which_overrule,
    which_reopen,
    which_settle,
    which_typed_back,
    which_undo,
)
from maintenance.which_sheet import test_row


def found(pk: int) -> WhichSheet:
    try:
        return which_detail(pk)
    except WhichSheet.DoesNotExist as nothing:
        raise Http404("There is no such sheet.") from nothing


def _rows(row: WhichSheet, key: str) -> dict[str, Any]:
    try:
        return dict(test_row(row.definition, key))
    except ValueError as nothing:
        raise Http404(str(nothing)) from nothing


@also_keep
def open_sheets(person: Person) -> Iterator[tuple[str, str]]:
    """Open sheets are on the phone of whoever may fill them in; each is fetched anew when it has moved on."""
    if rules.may(person, "which.fill"):
        for pk, version in sheet_versions():
            yield reverse("maintenance:which_part", args=[pk]), f"which-{version}"


@never_cache
@page_or_act
def sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """The sheet; a POST is what one test gave, by key once however often it is sent."""
    must(request, "which.fill")
    row = found(pk)
    return _write(request, row) if request.method == "POST" else _shown(request, row)


def _shown(request: HttpRequest, row: WhichSheet, refused: ResultForm | None = None) -> HttpResponse:
    page, may_fill = which_page(row), rules.may(request.user, "which.fill") and row.is_open
    taken = readings_for(row) if may_fill else {}
    cards = [
        (test, _form(row, test.key, refused), taken.get(test.key, ()))
        if may_fill and test.taken is None
        else (test, None, ())
        for test in page.tests
    ]
    words = {
        "page": page, "sheet": row, "cards": cards, "may_fill": may_fill, "may_end": may_end_which(person_of(request)),
        "refused": refused, "back": vehicle_page(row.vehicle.code), "here": "workshop", "data": phone_data(page),
        "settling": SettleForm() if page.unsettled and rules.may(request.user, "fact.correct") else None,
        "reopening": ReopenForm() if rules.may(request.user, "which.fill") and not row.is_open else None,
    }  # fmt: skip
    return render(request, "maintenance/which_part.html", words, status=422 if refused else 200)


def phone_data(page: SheetPage) -> dict[str, Any]:
    """What the phone needs to work the chances out by itself."""
    return {"sheet": page.sheet.pk, "version": page.sheet.version, **page.figures}


def _form(row: WhichSheet, key: str, refused: ResultForm | None) -> ResultForm:
    if refused is not None and refused.test["key"] == key:
        return refused
    return ResultForm(test=_rows(row, key), row=row)


def _write(request: HttpRequest, row: WhichSheet) -> HttpResponse:
    by, key = person_of(request), request.POST.get("test", "")
    form = ResultForm(request.POST, request.FILES, test=_rows(row, key), row=row)
    taken = form.done_once(result_with_photo, by=by, sheet=row, test=key, at=made_at(request))
    others = meanwhile(row, form.seen_version, by) if taken else []
    if wants_answer(request):
        return _told(form, taken, others, request.path)
    if not taken:
        return _shown(request, row, form)
    messages.success(request, "Written down.")
    for line in others:
        messages.info(request, line)
    return redirect(f"{reverse('maintenance:which_part', args=[row.pk])}#told")


def _told(form: ResultForm, taken: bool, others: list[str], here: str) -> JsonResponse:
    if taken:
        return told(taken=True, words=" ".join(["Written down.", *others]), next=here)
    lines = dict.fromkeys(str(one) for errors in form.errors.values() for one in errors)
    return told(taken=False, words=" ".join(lines), status=409 if form.was_second else 422)


@require_POST
@needs("which.fill")
def undo(request: HttpRequest, pk: int) -> HttpResponse:
    asked = request.POST.get("result", "")
    result = get_object_or_404(WhichResult, pk=int(asked) if asked.isdecimal() else 0, sheet=pk)
    return _act(request, pk, lambda: which_undo(by=person_of(request), result=result), "Taken back.")


@require_POST
@needs("which.fill")
def overrule(request: HttpRequest, pk: int) -> HttpResponse:
    lifts, lean = request.POST.get("lifts", ""), request.POST.get("lean", "")
    return _act(
        request, pk,
        lambda: which_overrule(
            by=person_of(request), sheet=found(pk), lifts=lifts == "yes" if lifts else None,
            lean=int(lean) if lean.isdecimal() else None,
        ),
        "Worked out anew.",
    )  # fmt: skip


def _act(request: HttpRequest, pk: int, do: Any, said: str) -> HttpResponse:
    """A press of one button: done and said, or refused and said."""
    taken, words = True, said
    try:
        do()
    except Conflict as trouble:
        taken, words = False, str(trouble)
    except ValidationError as trouble:
        taken, words = False, " ".join(trouble.messages)
    if wants_answer(request):
        return told(taken=taken, words=words, status=200 if taken else 409)
    (messages.success if taken else messages.warning)(request, words)
    return redirect("maintenance:which_part", pk)


@page_or_act
@needs("which.fill")
def finish(request: HttpRequest, pk: int) -> HttpResponse:
    row = found(pk)
    page = which_page(row)
    form = FinishForm(
        request.POST if request.method == "POST" else None, sheet=row, row=row, likeliest=page.offered
    )
    if form.is_bound and form.done_once(which_finish, by=person_of(request), sheet=row):
        messages.success(request, "The sheet is ended.")
        return redirect("maintenance:which_part", pk)
    words = {"sheet": row, "page": page, "here": "workshop", "may_end": may_end_which(person_of(request))}
    return answer(request, "maintenance/which_finish.html", form, words)


@require_POST
@needs("which.fill")
def reopen(request: HttpRequest, pk: int) -> HttpResponse:
    row, form = found(pk), ReopenForm(request.POST)
    if form.done_once(which_reopen, by=person_of(request), sheet=row):
        messages.success(request, "The sheet is open again.")
    else:
        messages.warning(request, "Write why it is opened again.")
    return redirect("maintenance:which_part", pk)


@require_POST
@needs("fact.correct")
def settle(request: HttpRequest, pk: int) -> HttpResponse:
    form = SettleForm(request.POST)
    if form.done_once(which_settle, by=person_of(request), sheet=found(pk)):
        messages.success(request, "Settled.")
    else:
        messages.warning(request, "Write what was done about it, or why nothing needs to be.")
    return redirect("maintenance:which_part", pk)


@require_POST
@needs("which.fill")
def reading(request: HttpRequest, pk: int) -> HttpResponse:
    """A reading of this vehicle becomes what a test gave, by its limit."""
    row, asked = found(pk), request.POST.get("reading", "")
    taken = get_object_or_404(
        Reading.objects.select_related("measure"), pk=int(asked) if asked.isdecimal() else 0,
        measure__vehicle=row.vehicle_id,
    )  # fmt: skip
    by, test = person_of(request), request.POST.get("test", "")
    return _act(
        request, pk, lambda: which_from_reading(by=by, sheet=row, test=test, reading=taken),
        "The reading decides: written down.",
    )  # fmt: skip


@page_or_act
@needs("which.fill")
def typed_back(request: HttpRequest, pk: int) -> HttpResponse:
    """What was written on paper, all tests in one pass."""
    row = found(pk)
    page = which_page(row)
    open_tests = [_rows(row, test.key) for test in page.tests if test.taken is None]
    form = PaperForm(request.POST if request.method == "POST" else None, tests=open_tests, row=row)
    if form.is_bound and form.done_once(which_typed_back, by=person_of(request), sheet=row):
        messages.success(request, "All of it is written down.")
        return redirect("maintenance:which_part", pk)
    numbers = {test.key: test.number for test in page.tests}
    lines = [(numbers[rows["key"]], rows, *fields) for rows, *fields in form.rows()]
    words = {"sheet": row, "page": page, "lines": lines, "here": "workshop"}
    return answer(request, "maintenance/which_paper.html", form, words)


@require_safe
@needs("print.papers")
def paper(request: HttpRequest, pk: int) -> HttpResponse:
    row = found(pk)
    name = f"which-part-{row.vehicle.code}-{row.pk}"
    return HttpResponse(
        which_pdf(row, timezone.localtime()),
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}.pdf"', "Cache-Control": "no-store"},
    )
