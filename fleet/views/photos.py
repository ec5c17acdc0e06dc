"""Photographs: the page of a vehicle's, adding one, and the picture itself for those who are signed in."""

from __future__ import annotations

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_safe

from fleet import rules
from fleet.forms.vehicles import PhotoForm
from fleet.models import Photo, Vehicle
from fleet.services.photos import photo_add
from fleet.views.about import about
from fleet.views.access import answer, must, page_or_act, person_of

SIZES = {"small": "small", "large": "file"}


@page_or_act
def photos(request: HttpRequest, code: str) -> HttpResponse:
    must(request, "photo.add")
    vehicle = get_object_or_404(Vehicle, code=code)
    form = PhotoForm(request.POST, request.FILES) if request.method == "POST" else PhotoForm()
    if form.is_bound and form.done(photo_add, by=person_of(request), vehicle=vehicle):
        messages.success(request, "The photograph is on file.")
        return redirect("fleet:photos", code)
    on_file = vehicle.photos.select_related("by")
    words = about(request, vehicle, photos=on_file, may_add=rules.may(request.user, "photo.add"))
    return answer(request, "fleet/photos.html", form, words)


@require_safe
def photo(request: HttpRequest, pk: int, size: str) -> HttpResponseBase:
    """Streamed from the disk; kept by the reader's own browser only."""
    row = get_object_or_404(Photo, pk=pk)
    kept = getattr(row, SIZES[size]) or row.file
    try:
        page = FileResponse(kept.open("rb"), content_type="image/jpeg")
    except FileNotFoundError as trouble:
        raise Http404 from trouble
    page["Cache-Control"] = "private, max-age=86400"
    page["X-Content-Type-Options"] = "nosniff"
    page["Content-Disposition"] = f'inline; filename="photo-{pk}-{size}.jpg"'
    return page
