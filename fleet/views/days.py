"""Who is in: the coming weeks, who is away, and the sheet of who came."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet import rules
from fleet.forms.days import AwayForm, CameForm, PatternForm
from fleet.models import Person
from fleet.queries.days import WEEKS, WorkDay, coming_days, one_day
from fleet.services.days import sign_in_record
from fleet.services.own import days_set, patterns_set
from fleet.views.access import answer, page_or_act, person_of


@page_or_act
def days(request: HttpRequest) -> HttpResponse:
    """The coming weeks, and one form: away, or in after all."""
    by = person_of(request)
    others = rules.may(by, "days.others")
    form = AwayForm(request.POST if request.method == "POST" else None, by=by, others=others)
    is_in = request.POST.get("is") == "in"
    if form.is_bound and form.done(days_set, by=by, is_in=is_in):
        messages.success(request, _told(form.result, form.cleaned_data["person"], by, is_in))
        return redirect("fleet:days")
    words = {"work_days": coming_days(timezone.localdate()), "weeks": WEEKS, "others": others, "by": by}
    return answer(request, "fleet/days.html", form, words)


def _told(count: int, person: Person, by: Person, is_in: bool) -> str:
    who = "You are" if person.pk == by.pk else f"{person.name} is"
    return f"{who} {'in' if is_in else 'away'} on {count} work day{'' if count == 1 else 's'}. Thank you for saying so."


@page_or_act
def pattern(request: HttpRequest, pk: int) -> HttpResponse:
    shown, by = get_object_or_404(Person, pk=pk, left_on=None), person_of(request)
    if not rules.may_set_days(by, pk):
        raise PermissionDenied(rules.refusal("days.others"))
    form = PatternForm(request.POST if request.method == "POST" else None, patterns=shown.patterns.all())
    if form.is_bound and form.is_valid() and _pattern_taken(form, by, shown):
        messages.success(request, f"{shown.name}: the work days are written down.")
        return redirect("fleet:me") if by.pk == pk else redirect("fleet:person", pk)
    return answer(request, "fleet/pattern.html", form, {"shown": shown, "own": by.pk == pk})


def _pattern_taken(form: PatternForm, by: Person, shown: Person) -> bool:
    def act(**_: Any) -> int:
        return patterns_set(by=by, person=shown, wanted=form.wanted())

    return form.done(act)


def _day_or_404(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError as trouble:
        raise Http404 from trouble


@require_safe
def sheet(request: HttpRequest, day: str) -> HttpResponse:
    return render(request, "fleet/day_sheet.html", _sheet(request, one_day(_day_or_404(day))))


@require_safe
def sheet_print(request: HttpRequest, day: str) -> HttpResponse:
    words = {"sheet": one_day(_day_or_404(day)), "empty_lines": range(6), "printed": timezone.now()}
    return render(request, "fleet/day_sheet_print.html", words)


@require_POST
def came(request: HttpRequest, day: str) -> HttpResponse:
    form, when = CameForm(request.POST), _day_or_404(day)
    if when > timezone.localdate():
        form.add_error(None, "That day has not come yet. Nobody can have come.")
    if form.done(sign_in_record, by=person_of(request), day=when):
        who = form.cleaned_data["person"].name
        messages.success(request, f"{who} {'came' if form.result.came else 'did not come'}.")
        return redirect("fleet:day", day)
    return answer(request, "fleet/day_sheet.html", form, _sheet(request, one_day(when)))


def _sheet(request: HttpRequest, work_day: WorkDay) -> dict[str, Any]:
    """Each line with whether this reader may tick it; nobody can have come on a day that is not here yet."""
    begun = work_day.day <= timezone.localdate()
    listed = (*work_day.coming, *work_day.unasked, *work_day.away)
    lines = [(place, begun and rules.may_sign_in(request.user, place.person.pk)) for place in listed]
    ids = {place.person.pk for place in listed}
    here = Person.objects.filter(left_on=None).exclude(pk__in=ids)
    others = here if rules.may(request.user, "sign_in.others") else here.filter(pk=person_of(request).pk)
    return {"sheet": work_day, "lines": lines, "others": list(others) if begun else [], "begun": begun}
