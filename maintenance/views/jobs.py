"""My jobs, on a phone."""

from __future__ import annotations

from typing import cast

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from fleet.models import Person
from fleet.views.access import needs, person_of
from maintenance.models import JobCard
from maintenance.phone.mine import my_jobs as jobs_of
from maintenance.services.together import cards_take_together


@never_cache
@require_safe
def my_jobs(request: HttpRequest) -> HttpResponse:
    person = cast("Person", request.user)
    return render(request, "maintenance/my_jobs.html", {"mine": jobs_of(person), "here": "jobs"})


@require_POST
@needs("card.take")
def take_together(request: HttpRequest, pk: int) -> HttpResponse:
    """This job and those behind the same way in, in one's own name."""
    card = get_object_or_404(JobCard.objects.select_related("access", "vehicle"), pk=pk)
    try:
        taken, left = cards_take_together(card=card, by=person_of(request))
    except ValidationError as trouble:
        messages.error(request, " ".join(trouble.messages))
    else:
        messages.success(
            request, f"You have {len(taken)} job{'' if len(taken) == 1 else 's'} behind one opening."
        )
        for one, said in left:
            messages.warning(request, f"{one.serial} was left: {said}")
    return redirect("maintenance:card", pk)
