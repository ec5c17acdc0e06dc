"""The job at the desk: opened, every field of its plan, held, dropped, opened again, consent, and its paper."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet import rules
from fleet.models import Person, Vehicle
from fleet.views.access import answer, needs, page_or_act, person_of
from maintenance.enums import CardKind, CardState
from maintenance.forms import desk_acts
from maintenance.forms.desk import DeskForm, card_choices
from maintenance.forms.desk_cards import CardForm, ConsentForm, HoldForm, VehicleChoice
from maintenance.forms.desk_faults import ReasonForm
from maintenance.forms.desk_memory import ProposeForm, SecondForm
from maintenance.models import Defect, JobCard
from maintenance.prints.job_card import job_card_pdf
from maintenance.queries.cards import card_detail, shares_opening
from maintenance.rules import may_open_card, may_work_card
from maintenance.services import cards as services
from maintenance.services.fabric import fabric_propose
from maintenance.waits import waits_for

OPENERS = ("card.open", "card.open_fabric")


def card_page(pk: int) -> str:
    """The job's own page, at the vehicle; without it the desk's."""
    try:
        return reverse("maintenance:card", args=[pk])
    except NoReverseMatch:
        return reverse("maintenance:card_change", args=[pk])


@page_or_act
@needs(*OPENERS)
def card_new(request: HttpRequest) -> HttpResponse:
    vehicle = Vehicle.objects.filter(code=request.GET.get("vehicle", "")).first()
    if vehicle is None:
        return render(
            request, "maintenance/card_form_vehicle.html", {"form": VehicleChoice(), "here": "workshop"}
        )
    by, start = person_of(request), _start(request, vehicle)
    if not rules.may(by, "card.open"):
        start["kind"] = CardKind.FABRIC
    form = CardForm(request.POST if request.method == "POST" else None, vehicle=vehicle, by=by, initial=start)
    if form.is_bound and form.done_once(desk_acts.card_with_parts, by=by, vehicle=vehicle):
        messages.success(request, "The job is opened.")
        return redirect(card_page(form.result))
    return answer(
        request,
        "maintenance/card_form.html",
        form,
        {"vehicle": vehicle, "sets": _sets(form), "here": "workshop"},
    )


def _start(request: HttpRequest, vehicle: Vehicle) -> dict[str, Any]:
    """A job that is made from a fault begins with what the fault says."""
    wanted = request.GET.get("defect", "")
    defect = vehicle.defects.filter(pk=int(wanted)).first() if wanted.isdecimal() else None
    if defect is None:
        return {}
    return {
        "title": defect.title,
        "subsystem": defect.subsystem_id or "",
        "defects": [defect.pk],
        "why": defect.words,
    }


def _sets(form: CardForm) -> list[tuple[str, list[Any]]]:
    return list(form.sets())


def _card(pk: int) -> JobCard:
    try:
        return card_detail(pk)
    except JobCard.DoesNotExist as nothing:
        raise Http404("There is no such job.") from nothing


ACTS: dict[str, tuple[str, Callable[..., Any]]] = {
    "hold": ("It is held, and says why.", services.card_hold),
    "release": ("It goes on.", services.card_release),
    "drop": ("It is dropped. Its faults stay as they are.", services.card_drop),
    "reopen": ("It is open again.", services.card_reopen),
    "consent": ("The answer is written down.", services.consent_answer),
    "book": ("It is booked in.", services.card_book_in),
    "propose": ("The curator is asked. The job waits for the answer.", fabric_propose),
    "second": ("Written down who the second person is.", services.card_second),
}


def _forms(card: JobCard, by: Person, data: Any = None, only: str = "") -> dict[str, DeskForm]:
    """The acts that this person may do on this job now, each with its form."""
    plans = rules.may(by, "card.plan")
    may_hold = plans or may_work_card(by, card)
    makers: dict[str, tuple[bool, Callable[..., DeskForm], dict[str, Any]]] = {
        "book": (plans and card.state in {CardState.ASSESSED, CardState.NOT_BOOKED, CardState.NOT_DUE, CardState.CARRIED_FORWARD}, DeskForm, {}),
        "hold": (card.is_open and may_hold, HoldForm, {}),
        "release": (card.state == CardState.HELD and may_hold, DeskForm, {}),
        "consent": (card.is_open and rules.may(by, "consent.answer"), ConsentForm, {}),
        "second": (card.is_open and (card.persons > 1 or card.second_id is not None) and may_hold, SecondForm, {"initial": {"person": card.second_id}}),
        "propose": (card.is_open and rules.may(by, "fabric.propose"), ProposeForm, {"initial": {name: getattr(card, name) for name in ("proposal", "alternatives", "reversible", "evidence")}}),
        "drop": (card.is_open and rules.may(by, "card.drop"), ReasonForm, {"label": "Why it is not needed"}),
        "reopen": ((not card.is_open or bool(card.outcome)) and rules.may(by, "card.reopen"), ReasonForm, {"label": "What is still to be done"}),
    }  # fmt: skip
    return {
        name: make(data if name == only else None, row=card, auto_id=f"{name}-%s", **more)
        for name, (allowed, make, more) in makers.items()
        if allowed
    }


def _change_words(
    request: HttpRequest, card: JobCard, forms: dict[str, DeskForm], form: CardForm | None
) -> dict[str, Any]:
    return {
        "card": card, "vehicle": card.vehicle, "sets": _sets(form) if form else [], "acts": forms, "here": "workshop",
        "page": card_page(card.pk), "waits": waits_for(card) if card.is_open else [], "shares": list(shares_opening(card)),
        "done_steps": [step for step in card.steps.all() if step.done_at is not None],
        "may_need": rules.may(request.user, "part.need"), "may_tag": rules.may(request.user, "tag.hang"),
    }  # fmt: skip


@page_or_act
def card_change(request: HttpRequest, pk: int) -> HttpResponse:
    card, by = _card(pk), person_of(request)
    plans = card.is_open and rules.may(by, "card.plan")
    if request.method == "POST" and not plans:
        raise PermissionDenied(
            rules.refusal("card.plan") if card.is_open else f"{card} has ended. Open it again first."
        )
    form = (
        CardForm(request.POST if request.method == "POST" else None, vehicle=card.vehicle, by=by, card=card)
        if plans
        else None
    )
    if form is not None and form.is_bound and form.done(desk_acts.card_change, by=by, card=card):
        messages.success(request, f"{form.result}: written down.")
        return redirect(card_page(pk))
    return answer(
        request, "maintenance/card_form.html", form, _change_words(request, card, _forms(card, by), form)
    )


@require_POST
def card_act(request: HttpRequest, pk: int, act: str) -> HttpResponse:
    """One of the acts beside the plan."""
    if act not in ACTS:
        raise Http404("There is no such act.")
    card, by = _card(pk), person_of(request)
    forms = _forms(card, by, request.POST, act)
    said, service = ACTS[act]
    form = forms.get(act) or DeskForm(request.POST, row=card)
    if act not in forms:
        return _not_offered(request, card, act)
    if form.done(service, by=by, card=card):
        messages.success(request, f"{card.serial}: {said[:1].lower()}{said[1:]}")
        return redirect("maintenance:card_change", pk)
    plan = (
        CardForm(vehicle=card.vehicle, by=by, card=card)
        if card.is_open and rules.may(by, "card.plan")
        else None
    )
    return render(
        request,
        "maintenance/card_form.html",
        {**_change_words(request, card, forms, plan), "form": plan},
        status=422,
    )


WHO = {
    "hold": "card.plan",
    "release": "card.plan",
    "book": "card.plan",
    "drop": "card.drop",
    "reopen": "card.reopen",
    "consent": "consent.answer",
    "propose": "fabric.propose",
    "second": "card.plan",
}


def _not_offered(request: HttpRequest, card: JobCard, act: str) -> HttpResponse:
    """Refused: this person may not, or the job has moved on since the page was shown."""
    if not rules.may(request.user, WHO[act]):
        raise PermissionDenied(rules.refusal(WHO[act]))
    messages.warning(
        request, f"{card.serial} is {card.get_state_display().lower()} now. Nothing was changed."
    )
    return redirect("maintenance:card_change", card.pk)


@require_safe
def card_print(request: HttpRequest, pk: int) -> HttpResponse:
    """The job card on paper, two sides. Asking for it changes nothing."""
    card = _card(pk)
    response = HttpResponse(job_card_pdf(card, timezone.localtime()), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="job-{card.serial.replace("/", "-")}.pdf"'
    return response


def defect_of(pk: int) -> Defect:
    return get_object_or_404(Defect, pk=pk)


__all__ = [
    "OPENERS",
    "card_act",
    "card_change",
    "card_choices",
    "card_new",
    "card_page",
    "card_print",
    "may_open_card",
]
