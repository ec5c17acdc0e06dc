"""The book of one vehicle to take away: text, pictures and a PDF in one ZIP, or the PDF alone."""

from __future__ import annotations

import tempfile

from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.models import Vehicle
from fleet.views.access import needs
from maintenance.prints.vehicle_book import book_pdf, book_zip
from maintenance.queries.vehicle_book import vehicle_book

IN_MEMORY = 8 * 1024 * 1024
"""A larger book goes through a file on the disk."""


def _name(vehicle: Vehicle, ending: str) -> str:
    return f"record-book-{vehicle.code}-{timezone.localdate():%Y-%m-%d}.{ending}"


def _vehicle(code: str) -> Vehicle:
    return get_object_or_404(Vehicle.objects.select_related("keeper"), code=code)


@require_safe
@needs("book.take")
def take(request: HttpRequest, code: str) -> HttpResponse:
    vehicle = _vehicle(code)
    kept = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115 - the answer closes it
    book_zip(vehicle_book(vehicle), kept)
    kept.seek(0)
    return FileResponse(  # type: ignore[return-value]  # `needs` wraps views of one kind
        kept, as_attachment=True, filename=_name(vehicle, "zip"), content_type="application/zip"
    )


@require_safe
@needs("book.take")
def printed(request: HttpRequest, code: str) -> HttpResponse:
    vehicle = _vehicle(code)
    answer = HttpResponse(book_pdf(vehicle_book(vehicle)), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{_name(vehicle, "pdf")}"'
    return answer
