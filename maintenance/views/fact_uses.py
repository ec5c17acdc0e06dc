"""What rests on a fact, and what was done about it after the fact was corrected."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from fleet.models import Fact
from fleet.views.access import answer, needs, page_or_act, person_of
from maintenance.forms.desk_memory import FactUseForm, SettleUseForm
from maintenance.models import FactUse
from maintenance.services.facts import fact_use_add, fact_use_settle


@page_or_act
@needs("fact.add")
def fact_use(request: HttpRequest, pk: int) -> HttpResponse:
    fact = get_object_or_404(Fact.objects.select_related("vehicle"), pk=pk)
    form = FactUseForm(request.POST if request.method == "POST" else None, fact=fact)
    if form.is_bound and form.done_once(fact_use_add, by=person_of(request), fact=fact):
        messages.success(request, "Written down. A correction of the fact will ask for it.")
        return redirect("fleet:fact", fact.vehicle.code, fact.pk)
    words = {"fact": fact, "vehicle": fact.vehicle, "here": "vehicles"}
    return answer(request, "maintenance/fact_use.html", form, words)


@page_or_act
@needs("fact.correct")
def fact_use_end(request: HttpRequest, pk: int) -> HttpResponse:
    use = get_object_or_404(FactUse.objects.select_related("fact__vehicle", *FactUse.OWNERS), pk=pk)
    form = SettleUseForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.done(fact_use_settle, by=person_of(request), use=use):
        messages.success(request, "Settled.")
        return redirect("fleet:fact", use.fact.vehicle.code, use.fact.pk)
    words = {"use": use, "fact": use.fact, "vehicle": use.fact.vehicle, "here": "vehicles"}
    return answer(request, "maintenance/fact_use_end.html", form, words)
