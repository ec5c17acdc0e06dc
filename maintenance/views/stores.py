"""The stores: parts by where they stand, one part with its acts, special tools, suppliers."""

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
from fleet.views.access import answer, needs, page_or_act, person_of
from maintenance.enums import NeedState
from maintenance.forms.desk import DeskForm
from maintenance.forms.desk_acts import tool_set
from maintenance.forms.desk_stores import (
    OrderForm,
    PartForm,
    PromiseForm,
    ReceiveForm,
    ReserveForm,
    RobForm,
    SettleForm,
    ToolForm,
    supplier_names,
)
from maintenance.models import PartNeed, SpecialTool
from maintenance.queries.stores import lines, parts, stores_page, suppliers, tools
from maintenance.queries.workshop_page import freeze_after
from maintenance.services import parts as services

WAITING = frozenset({NeedState.NOT_ORDERED, NeedState.UNKNOWN})
COMING = frozenset({NeedState.ON_ORDER, NeedState.OUT_FOR_REPAIR})


@require_safe
def stores(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    freeze = freeze_after(today)
    words = {
        "sections": stores_page(today, freeze), "freeze": freeze, "today": today, "tools": tools(), "suppliers": suppliers(),
        "may": {act: rules.may(request.user, f"part.{act}") for act in ("need", "rob")}, "here": "stores",
        "may_tools": rules.may(request.user, "workshop.change"),
    }  # fmt: skip
    return render(request, "maintenance/stores.html", words)


def _part(pk: int) -> PartNeed:
    return get_object_or_404(parts(PartNeed.objects.all()), pk=pk)


def _settle(*, part: PartNeed, by: Any, answer: str, **words: Any) -> PartNeed:
    act = {
        "wanted": services.part_wanted,
        "unknown": services.part_unknown,
        "not needed": services.part_not_needed,
    }[answer]
    return act(part=part, by=by, **words)


ACTS: dict[str, tuple[str, frozenset[NeedState], type[DeskForm], Callable[..., Any], str, str]] = {
    "order": ("part.order", WAITING, OrderForm, services.part_ordered, "Order it", "It is ordered."),
    "promise": ("part.order", COMING, PromiseForm, services.part_promised, "Another day was promised", "The new day is written down."),
    "receive": ("part.receive", WAITING | COMING, ReceiveForm, services.part_received, "It has come in", "It is on the shelf."),
    "reserve": ("part.receive", frozenset({NeedState.ON_SHELF}), ReserveForm, services.part_reserve, "Keep it for a job", "It is kept for that job."),
    "settle": ("part.need", WAITING | COMING | {NeedState.ON_SHELF}, SettleForm, _settle, "Is it needed?", "Written down."),
}  # fmt: skip


def _forms(row: PartNeed, request: HttpRequest, only: str = "") -> dict[str, DeskForm]:
    """What this person may do with this part now; goods-in stands first, where the parcel is opened."""
    order = ("receive", "order", "promise", "reserve", "settle")
    return {
        name: ACTS[name][2](request.POST if name == only else None, row=row, auto_id=f"{name}-%s")
        for name in order
        if row.state in ACTS[name][1] and rules.may(request.user, ACTS[name][0])
    }


def _part_words(row: PartNeed, forms: dict[str, DeskForm]) -> dict[str, Any]:
    today = timezone.localdate()
    line = lines([row], today, freeze_after(today))[0]
    return {
        "part": row, "line": line, "here": "stores", "suppliers": supplier_names(),
        "acts": [(name, ACTS[name][4], form) for name, form in forms.items()],
    }  # fmt: skip


@require_safe
def part(request: HttpRequest, pk: int) -> HttpResponse:
    row = _part(pk)
    return render(request, "maintenance/part.html", _part_words(row, _forms(row, request)))


@require_POST
def part_act(request: HttpRequest, pk: int, act: str) -> HttpResponse:
    if act not in ACTS:
        raise Http404("There is no such act.")
    row, (rule, _, _, service, _, said) = _part(pk), ACTS[act]
    if not rules.may(request.user, rule):
        raise PermissionDenied(rules.refusal(rule))
    forms = _forms(row, request, act)
    if act not in forms:
        messages.warning(request, f"{row} is {row.get_state_display().lower()} now. Nothing was changed.")
        return redirect("maintenance:part", pk)
    if forms[act].done(service, by=person_of(request), part=row):
        messages.success(request, f"{row}: {said[:1].lower()}{said[1:]}")
        return redirect("maintenance:part", pk)
    return render(request, "maintenance/part.html", _part_words(row, forms), status=422)


@page_or_act
@needs("part.need")
def part_new(request: HttpRequest) -> HttpResponse:
    wanted = request.GET.get("card", "")
    start = {"card": int(wanted)} if wanted.isdecimal() else {}
    form = PartForm(request.POST if request.method == "POST" else None, initial=start)
    if form.is_bound and form.done_once(services.part_need_add, by=person_of(request)):
        messages.success(request, "The part is on the list.")
        return redirect("maintenance:part", form.result)
    return answer(
        request, "maintenance/part_new.html", form, {"here": "stores", "suppliers": supplier_names()}
    )


@page_or_act
@needs("part.rob")
def part_rob(request: HttpRequest) -> HttpResponse:
    form = RobForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.done_once(services.part_robbed, by=person_of(request)):
        messages.success(
            request, "Written on both: the part is kept for the job, and the other vehicle has a fault."
        )
        return redirect("maintenance:part", form.result)
    return answer(request, "maintenance/part_rob.html", form, {"here": "stores"})


@page_or_act
@needs("workshop.change")
def tool(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    row = get_object_or_404(SpecialTool, pk=pk) if pk is not None else None
    form = ToolForm(request.POST if request.method == "POST" else None, tool=row)
    if form.is_bound and form.done(tool_set, by=person_of(request), tool=row):
        messages.success(request, f"{form.result}: written down.")
        return redirect("maintenance:stores")
    return answer(request, "maintenance/stores_tool.html", form, {"tool": row, "here": "stores"})
