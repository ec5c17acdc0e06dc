"""Reckoning: small sums of the workshop. Opened with its inputs in the address it works them out and writes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from fleet import rules
from fleet.models import Person, Vehicle
from fleet.views.access import must, page_or_act, person_of
from maintenance.forms.desk import vehicles
from maintenance.forms.reckoning import KeepForm, ReckoningForm
from maintenance.models import Measure, Reading
from maintenance.phone.manifest import also_keep
from maintenance.queries.reckoning import card_of, choices_of, figures_of, starts_of
from maintenance.reckoning.pages import GROUPS, OFFLINE, RECKONINGS
from maintenance.reckoning.pages.base import Reckoning, Result, units_of
from maintenance.services.reckoning import reckoning_keep


def _with(request: HttpRequest) -> str:
    """The vehicle and the job go along from page to page."""
    there = {name: request.GET[name][:40] for name in ("vehicle", "card") if request.GET.get(name)}
    return f"?{urlencode(there)}" if there else ""


@also_keep
def kept_reckonings(person: Person) -> Iterator[tuple[str, str]]:
    """Those that the phone works out by itself, and the list of all; they change only with the program."""
    yield reverse("maintenance:reckonings"), "reckoning"
    for slug in OFFLINE:
        yield reverse("maintenance:reckoning", args=[slug]), "reckoning"


@require_safe
def reckonings(request: HttpRequest) -> HttpResponse:
    vehicle = Vehicle.objects.filter(code=request.GET.get("vehicle", "")).first()
    words = {
        "groups": GROUPS,
        "vehicle": vehicle,
        "with": _with(request) if vehicle else "",
        "here": "workshop",
    }
    return render(request, "maintenance/reckonings.html", words)


def _form(request: HttpRequest, page: Reckoning) -> ReckoningForm:
    """Bound when an input came, else with what the page starts from."""
    data: Any = request.POST if request.method == "POST" else request.GET
    asked = any(one.name in data for one in page.inputs)
    if request.method == "POST" or asked:
        data = data.copy()
        for one in page.inputs:
            if one.start and one.name not in data:
                data[one.name] = one.start
        return ReckoningForm(data, page=page, vehicles=list(vehicles()))
    start = {name: request.GET.get(name, "") for name in ("vehicle", "card")}
    return ReckoningForm(page=page, vehicles=list(vehicles()), initial=start)


def _take(request: HttpRequest, form: ReckoningForm, starts: list[Any]) -> None:
    """An input filled from a reading that somebody pointed at."""
    for one in starts:
        if str(one.reading.pk) == request.GET.get("take"):
            form.initial[one.into.name] = one.text
            form.initial["origin"] = f"{one.reading.measure.name} of {one.reading.at:%-d %B %Y}"[:80]


@page_or_act
def reckoning(request: HttpRequest, slug: str) -> HttpResponse:
    page = RECKONINGS.get(slug)
    if page is None:
        raise Http404("There is no such reckoning.")
    must(request, "reading.add")
    form = _form(request, page)
    vehicle = Vehicle.objects.filter(code=str(form["vehicle"].value() or "")).first()
    measures = figures_of(vehicle) if vehicle else []
    starts = starts_of(page, measures)
    worked = form.result if form.is_bound and form.is_valid() else None
    keep = _keep_form(request, form, measures, worked)
    if not form.is_bound:
        _take(request, form, starts)
    if keep is not None and vehicle is not None and _keep(request, form, keep, vehicle):
        return redirect("maintenance:reading_history", Reading.objects.get(pk=keep.result).measure_id)
    words = {
        "page": page, "form": form, "worked": worked, "keep": keep, "vehicle": vehicle, "starts": starts,
        "may_keep": rules.may(request.user, "reading.add"), "may_set": rules.may(request.user, "measure.add"),
        "draw": {**page.idle, **(worked.draw if worked else {})}, "drawing": f"maintenance/reckoning/{page.drawing}.html",
        "with": _with(request) if vehicle else "", "here": "workshop", "offline": units_of() if slug in OFFLINE else None,
    }  # fmt: skip
    return render(
        request, "maintenance/reckoning.html", words, status=422 if request.method == "POST" else 200
    )


def _keep_form(
    request: HttpRequest, form: ReckoningForm, measures: list[Measure], worked: Result | None
) -> KeepForm | None:
    """Where the result can be kept, and by this person; handed in without a place for it, it is told so."""
    if worked is None or not rules.may(request.user, "reading.add"):
        return None
    choices = choices_of(worked.keeps, measures)
    if choices:
        return KeepForm(request.POST if request.method == "POST" else None, choices=choices)
    if request.method == "POST":
        form.add_error("vehicle", "Choose a vehicle on which this is read; then it can be kept.")
    return None


def _keep(request: HttpRequest, form: ReckoningForm, keep: KeepForm, vehicle: Vehicle) -> bool:
    """Whether the chosen result was written down as a reading."""
    if not keep.is_bound or not keep.is_valid() or form.result is None:
        return False
    name, pk = keep.cleaned_data["keep_as"].split(":")
    wanted = next(one for one in form.result.keeps if one.name == name)
    measure = vehicle.measures.get(pk=int(pk))

    def write(*, by: Any, moment_of: str, **_: Any) -> Reading:
        return reckoning_keep(
            by=by,
            measure=measure,
            values=wanted.in_unit(measure.unit),
            reckoning=form.page.name,
            inputs=form.inputs_words(),
            origin=form.cleaned_data["origin"],
            card=card_of(form.cleaned_data["card"], vehicle),
            moment_of=moment_of,
        )

    if not keep.done_once(write, by=person_of(request)):
        return False
    row = Reading.objects.select_related("measure").get(pk=keep.result)
    say = messages.success if row.verdict == "within" else messages.warning
    say(request, f"{row.measure.name}: {row.verdict_words or row.verdict}.")
    return True
