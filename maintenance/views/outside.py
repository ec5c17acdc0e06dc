"""Hands from outside: whose answer is awaited, who comes when, and what waits for them."""

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
from maintenance.enums import OutsideState
from maintenance.forms.desk import DeskForm
from maintenance.forms.desk_memory import AppointForm, CameForm, OffForm, OutsideForm
from maintenance.models import OutsideHand
from maintenance.queries.outside import outside_page
from maintenance.services import outside as services


@require_safe
def outside(request: HttpRequest) -> HttpResponse:
    words = {
        "page": outside_page(timezone.localdate()), "may_ask": rules.may(request.user, "outside.ask"), "here": "workshop",
    }  # fmt: skip
    return render(request, "maintenance/outside.html", words)


@page_or_act
@needs("outside.ask")
def outside_new(request: HttpRequest) -> HttpResponse:
    start = {
        name: int(request.GET[name])
        for name in ("vehicle", "card", "inspection", "part")
        if request.GET.get(name, "").isdecimal()
    }
    form = OutsideForm(request.POST if request.method == "POST" else None, initial=start)
    if form.is_bound and form.done_once(services.outside_ask, by=person_of(request)):
        messages.success(request, "Written down. If no answer comes it speaks up.")
        return redirect("maintenance:outside_hand", form.result)
    return answer(request, "maintenance/outside_new.html", form, {"here": "workshop"})


ACTS: dict[str, tuple[frozenset[str], type[DeskForm], Callable[..., Any], str, str]] = {
    "appoint": (services.OPEN, AppointForm, services.outside_appoint, "They come on a day", "The day is written down, and what waits for them counts on it."),
    "came": (services.OPEN, CameForm, services.outside_came, "They have been", "Written down."),
    "off": (services.OPEN, OffForm, services.outside_off, "It came to nothing", "Written down. What waited for them waits again."),
}  # fmt: skip


def _words(request: HttpRequest, row: OutsideHand, only: str = "") -> tuple[dict[str, Any], DeskForm | None]:
    may = rules.may(request.user, "outside.ask")
    acts = [
        (name, title, kind(request.POST if name == only else None, auto_id=f"{name}-%s"))
        for name, (states, kind, _, title, _) in ACTS.items()
        if may and row.state in states
    ]
    words = {
        "hand": row, "acts": acts, "here": "workshop", "late": row.is_overdue(timezone.localdate()),
        "appointed": row.state == OutsideState.APPOINTED,
    }  # fmt: skip
    return words, next((form for name, _, form in acts if name == only), None)


def _row(pk: int) -> OutsideHand:
    return get_object_or_404(
        OutsideHand.objects.select_related("vehicle", "card", "inspection", "part", "by"), pk=pk
    )


@require_safe
def outside_hand(request: HttpRequest, pk: int) -> HttpResponse:
    return render(request, "maintenance/outside_hand.html", _words(request, _row(pk))[0])


@require_POST
def outside_act(request: HttpRequest, pk: int, act: str) -> HttpResponse:
    if act not in ACTS:
        raise Http404("There is no such act.")
    if not rules.may(request.user, "outside.ask"):
        raise PermissionDenied(rules.refusal("outside.ask"))
    row = _row(pk)
    words, form = _words(request, row, act)
    if form is None:
        messages.warning(request, f"{row.get_state_display()} already. Nothing was changed.")
        return redirect("maintenance:outside_hand", pk)
    if form.done(ACTS[act][2], by=person_of(request), hand=row):
        messages.success(request, ACTS[act][4])
        return redirect("maintenance:outside_hand", pk)
    return render(request, "maintenance/outside_hand.html", words, status=422)
