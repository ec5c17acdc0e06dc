"""Faults: those that wait, one of them with its acts, and the assessment."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet import rules
from fleet.enums import Function
from fleet.views.access import answer, needs, page_or_act, person_of, vehicle_page
from maintenance.defaults import card_defaults
from maintenance.enums import DefectState, Effect
from maintenance.forms.desk_acts import assess_and_plan
from maintenance.forms.desk_faults import AssessForm, JoinForm, NoteForm, ReasonForm
from maintenance.models import Defect
from maintenance.queries.defects import (
    defect_detail,
    likely_duplicates,
    open_defects,
    same_fault_again,
    unassessed,
)
from maintenance.queries.deferrals import is_signed
from maintenance.queries.which_part import sheets_of
from maintenance.risk import LADDER, Level, TermKind, level
from maintenance.services.defects import defect_merge, defect_note, defect_reopen, defect_set_aside
from maintenance.views.deferrals import line_of, missing, wait_for

AGAIN_DAYS = 730
DEEPER_FROM = 3
MARKS = {Effect.LOST: "stops", Effect.REDUCED: "limits", Effect.WATCH: "watch"}


def found(pk: int) -> Defect:
    try:
        return defect_detail(pk)
    except Defect.DoesNotExist as nothing:
        raise Http404("There is no such fault.") from nothing


def mark_of(defect: Defect) -> str:
    """The tie-on label: how much of the vehicle it stops."""
    if not defect.rating:
        return "unknown"
    effects = {row.effect for row in defect.effects.all()}
    return next((mark for effect, mark in MARKS.items() if effect in effects), "none")


def stand_of(defect: Defect, today: dt.date) -> str:
    """What answers it: a job, a limit in force, or nothing yet."""
    words = [f"job {card.serial}, {card.get_state_display().lower()}" for card in defect.open_cards]  # type: ignore[attr-defined]
    for row in defect.deferrals.all():
        if row.withdrawn_at is None and row.signed_on <= today <= row.ends_on:
            words.append(
                f"put off to {row.ends_on.day} {row.ends_on:%B}"
                if is_signed(row)
                else "put off, not in force yet"
            )
    return "; ".join(words)


@require_safe
def defects(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    rows = [
        (row, mark_of(row), stand_of(row, today))
        for row in open_defects()
        if row.state == DefectState.ASSESSED
    ]
    words = {
        "waiting": list(unassessed()), "unanswered": [line for line in rows if not line[2]],
        "answered": [line for line in rows if line[2]], "may_assess": rules.may(request.user, "defect.assess"),
        "to_sign": wait_for(person_of(request)), "now": timezone.now(), "here": "workshop",
    }  # fmt: skip
    return render(request, "maintenance/defects.html", words)


def _page(request: HttpRequest, row: Defect, forms: Mapping[str, BaseForm] | None = None) -> HttpResponse:
    """The fault with its acts; `forms` holds the one that was refused."""
    person, today = person_of(request), timezone.localdate()
    twins = (
        list(likely_duplicates(row.vehicle, row.subsystem, at=row.reported_at, leave_out=row.pk))
        if row.is_open
        else []
    )
    before = (
        list(same_fault_again(row.vehicle, row.subsystem, timezone.now() - dt.timedelta(days=AGAIN_DAYS)))
        if row.subsystem
        else []
    )
    refused = dict(forms or {})
    words = {
        "defect": row, "mark": mark_of(row), "rated": level(row.severity, row.probability) if row.severity and row.probability else "",
        "effects": [(dict(Function.choices)[one.function], one.get_effect_display()) for one in row.effects.all()],
        "put_off": [line_of(one, today, person) for one in row.deferrals.all()], "twins": twins, "before": before,
        "deeper": len(before) >= DEEPER_FROM, "back": vehicle_page(row.vehicle.code), "here": "workshop",
        "may": {act: rules.may(person, f"defect.{act}") for act in ("assess", "set_aside", "merge", "reopen", "note")},
        "may_put_off": any(rules.may(person, f"deferral.{one}") for one in ("serious", "medium", "low")),
        "sheets": sheets_of(vehicle=row.vehicle, defect=row), "may_which": rules.may(person, "which.fill"),
        "may_open": rules.may(person, "card.open"), "noting": refused.get("note") or NoteForm(),
        "joining": refused.get("join") or JoinForm(others=twins, row=row),
        "reopening": refused.get("reopen") or ReasonForm(row=row, label="What was seen"),
    }  # fmt: skip
    status = 422 if forms else 200
    return render(request, "maintenance/defect.html", words, status=status)


@require_safe
def defect(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, found(pk))


@require_POST
@needs("defect.note")
def note(request: HttpRequest, pk: int) -> HttpResponse:
    row, form = found(pk), NoteForm(request.POST)
    if form.done_once(defect_note, by=person_of(request), defect=row):
        messages.success(request, "The note is added.")
        return redirect("maintenance:defect", pk)
    return _page(request, row, {"note": form})


@require_POST
@needs("defect.merge")
def join(request: HttpRequest, pk: int) -> HttpResponse:
    row = found(pk)
    others = list(
        Defect.objects.filter(
            vehicle=row.vehicle, state__in=[DefectState.REPORTED, DefectState.ASSESSED]
        ).exclude(pk=pk)
    )
    form = JoinForm(request.POST, others=others, row=row)
    if form.done(defect_merge, by=person_of(request), defect=row):
        messages.success(request, f"{row.serial} is joined to {form.result.serial}. Both keep their words.")
        return redirect("maintenance:defect", form.result.pk)
    return _page(request, row, {"join": form})


@require_POST
@needs("defect.reopen")
def reopen(request: HttpRequest, pk: int) -> HttpResponse:
    row = found(pk)
    form = ReasonForm(request.POST, row=row, label="What was seen")
    if form.done(defect_reopen, by=person_of(request), defect=row):
        messages.success(request, f"{row.serial} is open again.")
        return redirect("maintenance:defect", pk)
    return _page(request, row, {"reopen": form})


@page_or_act
@needs("defect.set_aside")
def set_aside(request: HttpRequest, pk: int) -> HttpResponse:
    row = found(pk)
    form = ReasonForm(
        request.POST if request.method == "POST" else None,
        row=row,
        label="Why it is set aside",
        help_text="It stays readable, with this reason and your name.",
    )
    if form.is_bound and form.done(defect_set_aside, by=person_of(request), defect=row):
        messages.success(request, f"{row.serial} is set aside.")
        return redirect("maintenance:defects")
    return answer(request, "maintenance/defect_set_aside.html", form, {"defect": row, "here": "workshop"})


@page_or_act
@needs("defect.assess")
def assess(request: HttpRequest, pk: int) -> HttpResponse:
    row = found(pk)
    systems = list(row.vehicle.subsystems.order_by("order", "code"))
    form = AssessForm(
        request.POST if request.method == "POST" else None,
        defect=row,
        systems=systems,
        initial=_typed(request, systems),
    )
    part = {"rated": "assess_rated.html", "effects": "assess_effects.html"}.get(request.GET.get("part", ""))
    if part and request.method != "POST":
        return render(request, f"maintenance/{part}", _assess_words(row, form))
    if form.is_bound and form.done_once(assess_and_plan, by=person_of(request), defect=row):
        messages.success(request, f"{row.serial} is assessed.")
        return redirect(
            "maintenance:put_off" if form.cleaned_data["then"] == "put off" else "maintenance:defect", pk
        )
    return answer(request, "maintenance/assess.html", form, _assess_words(row, form))


def _typed(request: HttpRequest, systems: list[Any]) -> dict[str, Any]:
    """What stands on the page already, when only a part of it is asked for."""
    names = ("subsystem", "severity", "probability", *(f"effect_{code}" for code in Function.values))
    return {name: request.GET[name] for name in names if name in request.GET}


def _assess_words(row: Defect, form: AssessForm) -> dict[str, Any]:
    system = form.chosen_system
    asks = card_defaults(system=system.code if system else "", kind="defect", lifts=row.vehicle.lifts)
    return {
        "form": form, "defect": row, "asks": asks_words(asks), "here": "workshop",
        **rated_words(str(form["severity"].value() or ""), str(form["probability"].value() or "")),
    }  # fmt: skip


def asks_words(asks: Any) -> str:
    found = [
        word
        for word, wanted in (
            ("functional test", asks.needs_functional_test),
            ("road test", asks.needs_road_test),
        )
        if wanted
    ]
    if asks.second_area:
        found.append(f"second signature for {asks.second_area}")
    return ", ".join(found) or "no test and no second signature"


def rated_words(severity: str, probability: str) -> dict[str, str]:
    """The level of the matrix, and what follows: who must sign to put it off, and for how long at most."""
    try:
        rated = level(severity, probability)
    except ValueError:
        return {"rated": "", "follows": "Choose both, and the level stands here."}
    return {"rated": rated.value, "letters": f"{severity}{probability}", "follows": follows(rated)}


def follows(rated: Level) -> str:
    rung = LADDER[rated]
    if rung.refused:
        return "It may not be put off, whoever signs. Repair it, or hang a do-not-run tag. A function must be lost or reduced."
    signers = " and ".join(f"the {one}" for one in rung.signers) or "a mechanic"
    terms = {
        TermKind.NEXT_EVENT: "to the end of the next event",
        TermKind.NEXT_INSPECTION: f"to the next inspection, or {rung.term.days} days where none is on file",
        TermKind.DAYS: f"{rung.term.days} days" + (f", {rung.term.days_idle} when it only stands or the gear is locked" if rung.term.days_idle else ""),
    }  # fmt: skip
    return f"To put it off, {signers} must sign. The longest is {terms[rung.term.kind]}, by the rating with the limit."


__all__ = ["assess", "defect", "defects", "join", "missing", "note", "reopen", "set_aside"]
