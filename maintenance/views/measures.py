"""Readings of a vehicle: written down and judged, shown as a line with its limit, and the limit changed."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from fleet import rules
from fleet.http import museum
from fleet.models import Vehicle
from fleet.views.access import answer, needs, page_or_act, person_of, vehicle_page
from maintenance.enums import Judgement
from maintenance.forms.desk_looks import MeasureForm, ReadingForm
from maintenance.judging import judge_values, limit_of, limit_row
from maintenance.models import Measure, Reading
from maintenance.preferred import in_ours
from maintenance.services.readings import measure_add
from maintenance.services.readings import measure_change as change_measure
from maintenance.services.readings import reading_add as add_reading
from maintenance.services.readings import reading_replace as replace_reading
from maintenance.views.measures_chart import chart_of, limit_words

KINDS = {"within": "within", "near": "near", "past": "past", "not sure": "unsure"}


def _measures(vehicle: Vehicle) -> list[dict[str, Any]]:
    newest = Reading.objects.filter(replaced_by=None).order_by("-at", "-pk")
    rows = vehicle.measures.prefetch_related(Prefetch("readings", newest, to_attr="live"))
    return [
        {"row": row, "last": row.live[0] if row.live else None, "limit": limit_words(row, in_ours)}
        for row in rows
    ]


@page_or_act
def reading_add(request: HttpRequest, code: str) -> HttpResponse:
    """All readings of a vehicle; with `?measure=`, the form of one."""
    vehicle, by = get_object_or_404(Vehicle, code=code), person_of(request)
    wanted = request.GET.get("measure", "")
    measure = get_object_or_404(vehicle.measures, pk=int(wanted)) if wanted.isdecimal() else None
    form = None
    if measure is not None and rules.may(by, "reading.add"):
        form = ReadingForm(
            request.POST if request.method == "POST" else None, measure=measure, initial=_on_card(request)
        )
        if form.is_bound and form.done_once(add_reading, by=by, measure=measure):
            return _told(request, form.result)
    elif request.method == "POST":
        raise_refusal("reading.add")
    words = {
        "vehicle": vehicle, "measure": measure, "limit": limit_words(measure, in_ours) if measure else "", "rows": _measures(vehicle),
        "back": vehicle_page(code), "may_add": rules.may(by, "measure.add"), "may_read": rules.may(by, "reading.add"), "here": "vehicles",
    }  # fmt: skip
    return answer(request, "maintenance/reading_add.html", form, words)


def raise_refusal(act: str) -> None:
    from django.core.exceptions import PermissionDenied

    raise PermissionDenied(rules.refusal(act))


def _on_card(request: HttpRequest) -> dict[str, Any]:
    card = request.GET.get("card", "")
    return {"card": int(card)} if card.isdecimal() else {}


def _told(request: HttpRequest, pk: int) -> HttpResponse:
    """Say the verdict, and go to the history."""
    row = Reading.objects.select_related("measure").get(pk=pk)
    say = messages.success if row.verdict == "within" else messages.warning
    say(request, f"{row.measure.name}: {row.verdict_words or row.verdict}.")
    return redirect("maintenance:reading_history", row.measure_id)


def _measure(pk: int) -> Measure:
    return get_object_or_404(Measure.objects.select_related("vehicle"), pk=pk)


@page_or_act
def reading_history(request: HttpRequest, pk: int) -> HttpResponse:
    measure = _measure(pk)
    rows = list(measure.readings.select_related("by", "card", "replaced_by").order_by("-at", "-pk"))
    live = [row for row in reversed(rows) if not hasattr(row, "replaced_by")]
    words = {
        "measure": measure, "vehicle": measure.vehicle, "rows": [(row, KINDS.get(row.verdict, "unsure"), hasattr(row, "replaced_by")) for row in rows],
        "chart": chart_of(measure, live, timezone.localdate()), "limit": limit_words(measure, in_ours), "back": vehicle_page(measure.vehicle.code),
        "may_read": rules.may(request.user, "reading.add"), "may_limit": rules.may(request.user, "measure.limit"), "here": "vehicles",
    }  # fmt: skip
    return answer(request, "maintenance/reading_history.html", None, words)


@page_or_act
@needs("reading.add")
def reading_replace(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Reading.objects.select_related("measure__vehicle"), pk=pk)
    start = {f"value-{number}": value for number, value in enumerate(row.values)}
    form = ReadingForm(
        request.POST if request.method == "POST" else None, measure=row.measure, replaces=True, initial=start
    )
    form.act = "desk.reading_replace"
    if form.is_bound and form.done_once(replace_reading, by=person_of(request), reading=row):
        return _told(request, form.result)
    words = {"reading": row, "measure": row.measure, "vehicle": row.measure.vehicle, "here": "vehicles"}
    return answer(request, "maintenance/reading_correct.html", form, words)


@page_or_act
@needs("measure.add")
def measure_new(request: HttpRequest, code: str) -> HttpResponse:
    vehicle = get_object_or_404(Vehicle, code=code)
    form = MeasureForm(request.POST if request.method == "POST" else None, vehicle=vehicle)
    if form.is_bound and form.done_once(measure_add, by=person_of(request), vehicle=vehicle):
        messages.success(request, "The reading is set up.")
        return redirect("maintenance:reading_history", form.result)
    return answer(
        request,
        "maintenance/measure_form.html",
        form,
        {"vehicle": vehicle, "measure": None, "here": "vehicles"},
    )


@page_or_act
@needs("measure.limit")
def measure_change(request: HttpRequest, pk: int) -> HttpResponse:
    """First what would differ is shown, and nothing is written; then the limit is changed."""
    measure = _measure(pk)
    form = MeasureForm(
        request.POST if request.method == "POST" else None, vehicle=measure.vehicle, measure=measure
    )
    words: dict[str, Any] = {
        "vehicle": measure.vehicle,
        "measure": measure,
        "limit": limit_words(measure, in_ours),
        "here": "vehicles",
    }
    if form.is_bound and "look" in request.POST:
        if form.is_valid():
            words["differ"] = _differing(form, measure)
        return answer(request, "maintenance/measure_form.html", form, words)
    if form.is_bound and form.done(change_measure, by=person_of(request), measure=measure):
        messages.success(
            request, "The limit is changed. Old readings keep the limit that they were judged by."
        )
        return redirect("maintenance:reading_history", pk)
    return answer(request, "maintenance/measure_form.html", form, words)


def _differing(form: MeasureForm, measure: Measure) -> list[dict[str, Any]]:
    """The readings whose verdict the new limit would have made another. Told only; they keep theirs."""
    row = museum()
    share = row.near_share if row else Decimal(0)
    try:
        would_be = Measure(unit=measure.unit, positions=measure.positions, **form.words())
        limit_of(limit_row(would_be))
        return compare(would_be, list(measure.readings.filter(replaced_by=None).order_by("at", "pk")), share)
    except ValidationError as trouble:
        form.refuse(trouble)
    except ValueError as trouble:
        form.add_error("low" if form.cleaned_data.get("judgement") == Judgement.MIN else "high", str(trouble))
    return []


def compare(would_be: Measure, readings: list[Reading], share: Decimal) -> list[dict[str, Any]]:
    """Each reading whose verdict differs under another limit, oldest first."""
    found: list[dict[str, Any]] = []
    earlier: list[Reading] = []
    for reading in readings:
        before = earlier[-1] if earlier else None
        minutes = Decimal(int((reading.at - before.at).total_seconds())) / 60 if before else None
        try:
            word = judge_values(
                would_be, reading.values, near_share=share, before=before.values if before else None,
                history=[one.values for one in reversed(earlier)], minutes=minutes,
            )[0].word  # fmt: skip
        except ValueError:
            word = "not sure"
        if word != reading.verdict:
            found.append({"row": reading, "was": reading.verdict, "would": word, "kind": KINDS[word]})
        earlier.append(reading)
    return found
