"""What the museum has decided for itself."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from fleet.forms.museum import MuseumForm
from fleet.models import Museum
from fleet.services.museum import museum_change
from fleet.views.access import answer, needs, page_or_act, person_of


@page_or_act
@needs("museum.change")
def settings(request: HttpRequest) -> HttpResponse:
    row = Museum.objects.first() or Museum()
    form = MuseumForm(request.POST if request.method == "POST" else None, row=row)
    if form.is_bound and form.done(museum_change, by=person_of(request)):
        messages.success(request, "The settings are written down. The board is worked out again with them.")
        return redirect("fleet:settings")
    return answer(request, "fleet/settings.html", form)
