"""Drawings of tools that were made in the house, so that they can be made again."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from fleet.models import Person
from fleet.views.access import answer, needs, page_or_act, person_of
from maintenance.forms.desk_memory import DrawingForm, keep_photo
from maintenance.models import SpecialTool
from maintenance.services.workshop import tool_drawing_add


def _add(*, by: Person, tool: SpecialTool, photo: Any) -> SpecialTool:
    kept = keep_photo(photo, by=by, vehicle=None, shows=f"Drawing of {tool.name}"[:160])
    assert kept is not None  # the field is required
    return tool_drawing_add(by=by, tool=tool, photo=kept)


@page_or_act
@needs("workshop.change")
def tool_drawing(request: HttpRequest, pk: int) -> HttpResponse:
    tool = get_object_or_404(SpecialTool.objects.prefetch_related("drawings"), pk=pk)
    sent = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    form = DrawingForm(*sent)
    if form.is_bound and form.done(_add, by=person_of(request), tool=tool):
        messages.success(request, "The drawing is on file.")
        return redirect("maintenance:tool_drawing", pk)
    return answer(request, "maintenance/tool_drawing.html", form, {"tool": tool, "here": "stores"})
