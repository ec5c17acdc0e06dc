"""Labels to print: tags with the fault-slip code, and the do-not-run label of a tag."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from fleet.enums import VehicleStatus
from fleet.models import Vehicle
from fleet.rules import may, refusal
from maintenance.models import Tag
from maintenance.prints.labels import do_not_run, tag_sheet


def _paper(data: bytes, name: str) -> HttpResponse:
    return HttpResponse(
        data,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}.pdf"', "Cache-Control": "no-store"},
    )


def _permit(request: HttpRequest) -> None:
    if not may(request.user, "print.papers"):
        raise PermissionDenied(refusal("print.papers"))


@require_safe
def labels(request: HttpRequest, code: str) -> HttpResponse:
    _permit(request)
    vehicle = get_object_or_404(Vehicle, code=code)
    return _paper(tag_sheet([vehicle], request), f"tags-{vehicle.code}")


@require_safe
def all_labels(request: HttpRequest) -> HttpResponse:
    _permit(request)
    return _paper(tag_sheet(list(Vehicle.objects.exclude(status=VehicleStatus.OUT_OF_USE)), request), "tags")


@require_safe
def tag_label(request: HttpRequest, pk: int) -> HttpResponse:
    _permit(request)
    tag = get_object_or_404(Tag.objects.select_related("vehicle", "card", "placed_by"), pk=pk)
    return _paper(do_not_run(tag, request), f"do-not-run-{tag.stub}")
