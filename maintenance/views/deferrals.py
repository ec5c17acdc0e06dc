"""Putting a fault off with limits: signed here, signed later by the second signer, renewed, withdrawn."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet import rules
from fleet.models import Person
from fleet.views.access import answer, needs, page_or_act, person_of
from maintenance.enums import LimitKind
from maintenance.forms.desk import DeskForm
from maintenance.forms.desk_faults import ReasonForm
from maintenance.forms.desk_putoff import PutOffForm, limit_rows, my_role
from maintenance.models import Defect, Deferral
from maintenance.queries.defects import defect_detail
from maintenance.queries.deferrals import next_inspection_day, standing
from maintenance.risk import LADDER, Level, level, may_carry
from maintenance.rules import longest_end, may_sign_deferral
from maintenance.services.base import next_event_end
from maintenance.services.deferrals import (
    deferral_countersign,
    deferral_renew,
    deferral_sign,
    deferral_withdraw,
)

SIGN = ("deferral.serious", "deferral.medium", "deferral.low")
UNITS = {
    LimitKind.MAX_SPEED: "km/h", LimitKind.MAX_MINUTES_OUTING: "min an outing", LimitKind.MAX_MINUTES_DAY: "min a day",
    LimitKind.MAX_KM_OUTING: "km an outing", LimitKind.MAX_KM_DAY: "km a day",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One put-off as a person reads it."""

    row: Deferral
    plate: str
    unit: str
    limits: str
    stands: str  # in force | wanted | ended | withdrawn
    words: str
    signed: str
    may_sign: bool
    may_renew: bool
    may_withdraw: bool


def missing(row: Deferral) -> tuple[str, ...]:
    """The duties whose signature is still wanted. Reads the prefetched signatures."""
    people: dict[int, str] = {}
    for signature in row.signatures.all():
        people.setdefault(signature.person_id, signature.role)
    return may_carry(
        without_limit=level(row.severity_without, row.probability_without),
        with_limit=level(row.severity_with, row.probability_with), signed=people.values(),
    ).missing  # fmt: skip


def signs_as(person: Person, row: Deferral) -> str:
    """The missing duty that this person may sign for; empty when there is none, or when they have signed."""
    if any(one.person_id == person.pk for one in row.signatures.all()):
        return ""
    rated = level(row.severity_without, row.probability_without)
    return next((role for role in missing(row) if may_sign_deferral(person, role, rated)), "")


def line_of(row: Deferral, today: dt.date, person: Person) -> Line:
    wanted = missing(row)
    stands, words = _stands(row, wanted, today)
    first = next((one for one in row.limits.all() if one.value is not None), None)
    listed = [one.words for one in row.limits.all()]
    live = row.withdrawn_at is None
    short = next((text for text in listed if len(text) <= 24), "Limits")
    return Line(
        row=row, limits="; ".join(listed), stands=stands, words=words,
        plate=f"{first.value.normalize():f}" if first and first.value is not None else short,
        unit=UNITS.get(LimitKind(first.kind), "") if first else "",
        signed=", ".join(f"{one.person.name} as {one.role}" for one in row.signatures.all()),
        may_sign=live and row.ends_on >= today and bool(signs_as(person, row)),
        may_renew=live and bool(my_role(person, level(row.severity_without, row.probability_without))),
        may_withdraw=live and rules.may(person, "deferral.withdraw"),
    )  # fmt: skip


def _stands(row: Deferral, wanted: tuple[str, ...], today: dt.date) -> tuple[str, str]:
    if row.withdrawn_at is not None:
        return "withdrawn", f"Withdrawn: {row.withdrawn_reason}"
    if row.ends_on < today:
        return "ended", f"Ended on {row.ends_on.day} {row.ends_on:%B %Y}. The fault gates again."
    if wanted:
        names = " and ".join(wanted)
        return (
            "wanted",
            f"Not in force yet: the {names} has not signed. Until then the fault gates as if nothing were written.",
        )
    return "in force", f"In force through {row.ends_on.day} {row.ends_on:%B %Y}"


def wait_for(person: Person) -> list[Line]:
    """What waits for this person's signature."""
    today = timezone.localdate()
    if not any(rules.may(person, act) for act in SIGN):
        return []
    return [line for row in standing() if (line := line_of(row, today, person)).may_sign]


def _assessed(pk: int) -> Defect:
    try:
        row = defect_detail(pk)
    except Defect.DoesNotExist as nothing:
        raise Http404("There is no such fault.") from nothing
    return row


def _refused(row: Defect, by: Person) -> str:
    """Why no form is shown; empty when this person may sign."""
    if not row.is_open:
        return f"{row.serial} is {row.get_state_display().lower()}. There is nothing to put off."
    if not row.severity or not row.probability:
        return "It must be assessed first."
    rated = level(row.severity, row.probability)
    if LADDER[rated].refused:
        return "Rated High: it may not be put off, whoever signs. Repair it, or hang a do-not-run tag."
    if not my_role(by, rated):
        who = " and ".join(f"the {one}" for one in LADDER[rated].signers)
        raise PermissionDenied(
            f"Rated {rated.value}: {who} must sign for it. Nothing was changed; ask there."
        )
    return ""


@page_or_act
@needs(*SIGN)
def put_off(request: HttpRequest, pk: int) -> HttpResponse:
    row, by = _assessed(pk), person_of(request)
    refused = _refused(row, by)
    if refused:
        return render(
            request,
            "maintenance/put_off_refused.html",
            {"defect": row, "refused": refused},
            status=422 if request.method == "POST" else 200,
        )
    if request.GET.get("part") == "longest":
        return render(request, "maintenance/put_off_longest.html", longest_words(row, request.GET))
    form = PutOffForm(request.POST if request.method == "POST" else None, defect=row, by=by)
    if form.is_bound and form.done_once(deferral_sign, by=by):
        return _signed(request, form.result, row)
    return answer(
        request,
        "maintenance/put_off.html",
        form,
        _words(request, row, form, "Put it off, with limits", "Sign and put it off"),
    )


def _signed(request: HttpRequest, made: int, row: Defect) -> HttpResponse:
    """Tell what was signed, and what is still wanted."""
    line = line_of(standing().get(pk=made), timezone.localdate(), person_of(request))
    (messages.success if line.stands == "in force" else messages.warning)(
        request, f"{row.serial}: {line.words[:1].lower()}{line.words[1:]}"
    )
    return redirect("maintenance:defect", row.pk)


def _words(request: HttpRequest, row: Defect, form: PutOffForm, title: str, button: str) -> dict[str, Any]:
    return {
        "defect": row, "title": title, "button": button, "rated": form.rated.value, "mine": form.mine, "needed": form.needed,
        "here": "workshop", "renews": form.renews, **longest_words(row, request.POST or {"probability_with": form["probability_with"].value()}),
    }  # fmt: skip


def longest_words(row: Defect, typed: Any) -> dict[str, Any]:
    """The last day that the ladder allows for what is typed so far."""
    day, letter = timezone.localdate(), str(typed.get("probability_with", ""))
    try:
        rated = level(row.severity or 0, letter)
        last = longest_end(
            severity=row.severity or 0, probability=letter, signed_on=day, limits=limit_rows(dict(typed.items())),
            next_event_end=next_event_end(row.vehicle_id, day), next_inspection=next_inspection_day(row.vehicle_id, day),
        )  # fmt: skip
    except ValueError:
        return {"longest": None, "level_with": Level.HIGH.value if letter else ""}
    return {"longest": last, "level_with": rated.value}


def _standing(pk: int) -> Deferral:
    return get_object_or_404(standing(), pk=pk)


@page_or_act
@needs(*SIGN)
def renew(request: HttpRequest, pk: int) -> HttpResponse:
    old, by = _standing(pk), person_of(request)
    row = _assessed(old.defect_id)
    refused = _refused(row, by)
    if refused:
        return render(
            request,
            "maintenance/put_off_refused.html",
            {"defect": row, "refused": refused},
            status=422 if request.method == "POST" else 200,
        )
    form = PutOffForm(request.POST if request.method == "POST" else None, defect=row, by=by, renews=old)
    if form.is_bound and form.done_once(deferral_renew, by=by):
        return _signed(request, form.result, row)
    return answer(
        request,
        "maintenance/put_off.html",
        form,
        _words(request, row, form, "Renew what is put off", "Look again, sign again"),
    )


@page_or_act
@needs(*SIGN)
def sign(request: HttpRequest, pk: int) -> HttpResponse:
    row, by = _standing(pk), person_of(request)
    role = signs_as(by, row)
    form = DeskForm(request.POST if request.method == "POST" else None)
    if not role and not any(one.person_id == by.pk for one in row.signatures.all()):
        raise PermissionDenied("No signature of yours is wanted on this one. Nothing was signed.")
    if role and request.method == "POST" and form.done(deferral_countersign, by=by, deferral=row, role=role):
        messages.success(request, f"Signed as {role}.")
        return redirect("maintenance:defect", row.defect_id)
    line = line_of(row, timezone.localdate(), by)
    return answer(
        request,
        "maintenance/put_off_sign.html",
        form,
        {"line": line, "defect": row.defect, "role": role, "here": "workshop"},
    )


@page_or_act
@needs("deferral.withdraw")
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    row = _standing(pk)
    form = ReasonForm(
        request.POST if request.method == "POST" else None,
        label="Why it is withdrawn",
        help_text="The fault gates again from now on, and its jobs come back to be done.",
    )
    if form.is_bound and form.done(deferral_withdraw, by=person_of(request), deferral=row):
        messages.success(request, "Withdrawn. The fault gates again.")
        return redirect("maintenance:defect", row.defect_id)
    line = line_of(row, timezone.localdate(), person_of(request))
    return answer(
        request,
        "maintenance/put_off_withdraw.html",
        form,
        {"line": line, "defect": row.defect, "here": "workshop"},
    )
