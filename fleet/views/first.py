"""The page before there is anybody: the museum and its first administrator. Shut once there is one."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import login
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from fleet.forms.museum import FirstForm
from fleet.http import open_to_all
from fleet.services.first import first_administrator, nobody_yet
from fleet.views.access import answer, home, page_or_act
from fleet.views.account import BACKEND


@open_to_all
@sensitive_post_parameters("new", "again")
@never_cache
@page_or_act
def first(request: HttpRequest) -> HttpResponse:
    if not nobody_yet():
        raise Http404
    form = FirstForm(request.POST or None)
    if request.method == "POST" and form.done(first_administrator):
        login(request, form.result, backend=BACKEND)
        messages.success(request, "The museum is set up. Add the vehicles and the people next.")
        return redirect(home())
    return answer(request, "fleet/first.html", form)
