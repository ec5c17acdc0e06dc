"""My jobs, on a phone."""

from __future__ import annotations

from typing import cast

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.models import Person
from maintenance.phone.mine import my_jobs as jobs_of


@never_cache
@require_safe
def my_jobs(request: HttpRequest) -> HttpResponse:
    person = cast("Person", request.user)
    return render(request, "maintenance/my_jobs.html", {"mine": jobs_of(person), "here": "jobs"})
