"""What is original on a vehicle, what may not be done to it, and where a part lies that came off."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from fleet import rules
from fleet.models import Act, Vehicle
from fleet.services.acts import words_of
from fleet.views.access import answer, page_or_act, person_of, vehicle_page
from maintenance.forms.desk import DeskForm
from maintenance.forms.desk_memory import BackForm, FabricForm, KeepForm, PartWithForm, ShelfForm
from maintenance.models import FabricPart
from maintenance.services import fabric as services

FIELDS = ("name", "standing", "hands_off", "hazard", "note")


@page_or_act
def fabric(request: HttpRequest, code: str) -> HttpResponse:
    vehicle = get_object_or_404(Vehicle, code=code)
    may_write = rules.may(request.user, "fabric.part")
    if request.method == "POST" and not may_write:
        raise PermissionDenied(rules.refusal("fabric.part"))
    form = (
        FabricForm(request.POST if request.method == "POST" else None, vehicle=vehicle) if may_write else None
    )
    if (
        form is not None
        and form.is_bound
        and form.done_once(services.fabric_part_set, by=person_of(request), vehicle=vehicle)
    ):
        messages.success(request, "Written down.")
        return redirect("maintenance:fabric", code)
    rows = list(vehicle.fabric_parts.select_related("subsystem"))
    words = {
        "vehicle": vehicle, "back": vehicle_page(code), "here": "vehicles",
        "fitted": [row for row in rows if row.is_fitted],
        "kept": [row for row in rows if not row.is_fitted and row.disposed_on is None],
        "gone": [row for row in rows if row.disposed_on is not None],
    }  # fmt: skip
    return answer(request, "maintenance/fabric.html", form, words)


def _where(shelf: str | list[str]) -> str:
    """A shelf, or from which to which."""
    return " to ".join(shelf) if isinstance(shelf, list) else shelf


Maker = Callable[[FabricPart, Any], DeskForm]


def _change(row: FabricPart, data: Any) -> DeskForm:
    shown = {name: getattr(row, name) for name in FIELDS} | {"subsystem": row.subsystem_id}
    return FabricForm(data, vehicle=row.vehicle, initial=shown, auto_id="change-%s")


def _set(*, part: FabricPart, by: Any, **fields: Any) -> FabricPart:
    return services.fabric_part_set(by=by, vehicle=part.vehicle, part=part, **fields)


ACTS: dict[str, tuple[str, Maker, Callable[..., Any], str, Callable[[FabricPart], bool]]] = {
    "off": ("fabric.off", lambda row, data: KeepForm(data, vehicle=row.vehicle, auto_id="off-%s"), services.fabric_part_off, "It came off: keep it", lambda row: row.is_fitted),
    "move": ("fabric.off", lambda _, data: ShelfForm(data, auto_id="move-%s"), services.fabric_part_move, "It lies elsewhere now", lambda row: not row.is_fitted and row.disposed_on is None),
    "back": ("fabric.off", lambda _, data: BackForm(data, auto_id="back-%s"), services.fabric_part_back, "It is on the vehicle again", lambda row: not row.is_fitted and row.disposed_on is None),
    "part": ("fabric.dispose", lambda _, data: PartWithForm(data, auto_id="part-%s"), services.fabric_part_dispose, "Part with it", lambda row: not row.is_fitted and row.disposed_on is None),
    "change": ("fabric.part", _change, _set, "Write it anew", lambda row: row.disposed_on is None),
}  # fmt: skip


def _row(pk: int) -> FabricPart:
    return get_object_or_404(FabricPart.objects.select_related("vehicle", "subsystem", "off_card"), pk=pk)


def _words(request: HttpRequest, row: FabricPart, only: str = "") -> tuple[dict[str, Any], DeskForm | None]:
    acts = [
        (name, title, make(row, request.POST if name == only else None))
        for name, (rule, make, _, title, open_now) in ACTS.items()
        if open_now(row) and rules.may(request.user, rule)
    ]
    book = Act.objects.filter(subject_kind="maintenance.fabricpart", subject_id=str(row.pk)).order_by("-pk")[
        :30
    ]
    words = {
        "part": row, "vehicle": row.vehicle, "acts": acts, "here": "vehicles",
        "book": [(line, words_of(line.act), _where(line.detail.get("shelf", ""))) for line in book],
    }  # fmt: skip
    return words, next((form for name, _, form in acts if name == only), None)


@page_or_act
def fabric_part(request: HttpRequest, pk: int) -> HttpResponse:
    if request.method == "POST":
        return HttpResponse(status=405)
    return render(request, "maintenance/fabric_part.html", _words(request, _row(pk))[0])


@require_POST
def fabric_act(request: HttpRequest, pk: int, act: str) -> HttpResponse:
    if act not in ACTS:
        raise Http404("There is no such act.")
    rule, _, service, _, _ = ACTS[act]
    if not rules.may(request.user, rule):
        raise PermissionDenied(rules.refusal(rule))
    row = _row(pk)
    words, form = _words(request, row, act)
    if form is None:
        messages.warning(request, "It stands otherwise by now. Nothing was changed.")
        return redirect("maintenance:fabric_part", pk)
    if form.done(service, by=person_of(request), part=row):
        messages.success(request, f"{row.name}: written down.")
        return redirect("maintenance:fabric_part", pk)
    return render(request, "maintenance/fabric_part.html", words, status=422)
