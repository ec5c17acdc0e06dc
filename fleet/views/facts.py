"""What we know about a vehicle: added, corrected with a reason, never rubbed out."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from fleet import rules
from fleet.forms.vehicles import CorrectForm, FactForm
from fleet.models import Fact, Vehicle
from fleet.queries.vehicles import known_facts
from fleet.services.facts import fact_add, fact_correct
from fleet.views.about import about
from fleet.views.access import answer, must, needs, page_or_act, person_of

USES = ("uses__defect", "uses__card", "uses__deferral__defect", "uses__measure", "uses__reading__measure")


@page_or_act
def facts(request: HttpRequest, code: str) -> HttpResponse:
    must(request, "fact.add")
    vehicle = get_object_or_404(Vehicle, code=code)
    form = FactForm(request.POST if request.method == "POST" else None, vehicle=vehicle)
    if form.is_bound and form.done(fact_add, by=person_of(request), vehicle=vehicle):
        messages.success(request, f"Written down: {form.result}.")
        return redirect("fleet:facts", code)
    words = about(
        request, vehicle, known=known_facts(vehicle),
        may_add=rules.may(request.user, "fact.add"), may_correct=rules.may(request.user, "fact.correct"),
    )  # fmt: skip
    return answer(request, "fleet/facts.html", form, words)


@page_or_act
@needs("fact.correct")
def correct(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    fact = get_object_or_404(Fact.objects.select_related("vehicle"), pk=pk, vehicle__code=code)
    form = CorrectForm(request.POST if request.method == "POST" else None, initial={"value": fact.value})
    if form.is_bound and form.done(fact_correct, by=person_of(request), fact=fact):
        newer, uses = form.result
        messages.success(
            request,
            f"Corrected. {len(uses) or 'No'} use{'' if len(uses) == 1 else 's'} of the old one to look at.",
        )
        return redirect("fleet:fact", code, newer.pk)
    return answer(request, "fleet/fact_correct.html", form, about(request, fact.vehicle, fact=fact))


@require_safe
def fact(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """One fact: what it was before, and each job and fault that was built on what is ruled through."""
    vehicle = get_object_or_404(Vehicle, code=code)
    known = next((row for row in known_facts(vehicle) if pk in row.ids), None)
    if known is None:
        raise Http404
    rows = list(vehicle.facts.filter(pk__in=known.ids).prefetch_related(*USES))
    words = about(
        request, vehicle, known=known,
        uses=[(row, use) for row in rows if row.pk != known.fact.pk for use in row.uses.all()],
        rests=[use for row in rows if row.pk == known.fact.pk for use in row.uses.all()],
        may_correct=rules.may(request.user, "fact.correct"), may_add=rules.may(request.user, "fact.add"),
    )  # fmt: skip
    return render(request, "fleet/fact.html", words)
