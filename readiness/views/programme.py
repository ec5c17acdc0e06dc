"""The programme: events, and one event with its days, slots, vehicles and people."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet import rules as acts
from fleet.models import Vehicle
from fleet.views.access import answer, needs, page_or_act, person_of
from readiness import rules
from readiness.forms.events import (
    CallOffForm,
    EventForm,
    FreezeForm,
    LightForm,
    NewEventForm,
    RehearsalForm,
    Versioned,
)
from readiness.models import Event, Rehearsal
from readiness.queries import programme as queries
from readiness.services import assessing
from readiness.services import events as services

FORM = "readiness/programme_form.html"


@require_safe
def programme(request: HttpRequest) -> HttpResponse:
    """The season: all events, or what it means that there is none."""
    lines = queries.events()
    return render(
        request,
        "readiness/programme_list.html",
        {
            "coming": [e for e in lines if not e.is_past],
            "past": [e for e in lines if e.is_past],
            "may_add": acts.may(request.user, "event.add"),
        },
    )


@require_safe
def event(request: HttpRequest, code: str) -> HttpResponse:
    row = queries.event_rows(code)
    if row is None:
        raise Http404
    return render(
        request,
        "readiness/programme.html",
        {
            "page": queries.programme(row, assessing.latest(row)),
            "event": row,
            "may_change": rules.may_change_programme(request.user, row),
            "may_enter": rules.may_enter(request.user, row),
            "may_say_ran": acts.may(request.user, "entry.ran") and queries.has_run(row),
            "may_plan_again": acts.may(request.user, "programme.change") and row.state != "planned",
            "may_print": rules.may_print_sheet(request.user),
            "when": queries.range_words(row.first_day, row.last_day),
        },
    )


@page_or_act
@needs("event.add")
def event_new(request: HttpRequest) -> HttpResponse:
    form = NewEventForm(request.POST or None)
    if form.is_valid():
        made = form.take(lambda: services.event_add(by=person_of(request), **form.changes()))
        if made is not None:
            messages.success(request, f"{made} is planned. Add its slots next.")
            return redirect("readiness:event", made.code)
    words = {
        "title": "A new event",
        "button": "Plan it",
        "lede": "Its days, and the freeze: after it nothing is opened.",
    }
    return answer(request, FORM, form, words)


def open_event(code: str) -> Event:
    """An event that may still be changed."""
    row = get_object_or_404(Event, code=code)
    if row.state != "planned":
        raise PermissionDenied(
            f"{row} is {row.get_state_display().lower()}; its programme is left as it was."
        )
    return row


def _act(
    request: HttpRequest,
    event: Event,
    form: Versioned,
    act: Callable[[], Any],
    said: str,
    **words: Any,
) -> HttpResponse:
    """A form of its own page about one event: taken and back to the programme, or shown again with what is wrong."""
    if form.is_bound and form.is_valid():
        before = event.version
        if form.take(act) is not None:
            messages.success(request, said)
            return redirect("readiness:event", event.code)
        now = Event.objects.values_list("version", flat=True).get(pk=event.pk)
        if now != before or "version" in form.fields:
            form.renew(now)
    return answer(request, FORM, form, {"event": event, **words})


@page_or_act
@needs("programme.change")
def event_change(request: HttpRequest, code: str) -> HttpResponse:
    row = open_event(code)
    form = EventForm(request.POST or None, initial=EventForm.initial_of(row))
    return _act(
        request,
        row,
        form,
        lambda: services.event_change(
            by=person_of(request), event=row, version=form.cleaned_data["version"], **form.changes()
        ),
        f"{row}: written down.",
        title="What is written of the event",
        button="Write it down",
    )


@page_or_act
@needs("programme.change")
def event_freeze(request: HttpRequest, code: str) -> HttpResponse:
    row = open_event(code)
    form = FreezeForm(
        request.POST or None, initial={"freeze_at": timezone.localtime(row.freeze_at), "version": row.version}
    )
    return _act(
        request,
        row,
        form,
        lambda: services.freeze_move(
            by=person_of(request),
            event=row,
            freeze_at=form.cleaned_data["freeze_at"],
            reason=form.cleaned_data["reason"],
            version=form.cleaned_data["version"],
        ),
        "The freeze is moved. The board is worked out anew.",
        title="Move the freeze",
        button="Move it",
        lede="After the freeze nothing is opened that is not a matter of safety. Every chance on the board is counted to it.",
    )


@page_or_act
@needs("programme.change")
def event_light(request: HttpRequest, code: str) -> HttpResponse:
    row = open_event(code)
    form = LightForm(request.POST if request.method == "POST" else None, event=row)

    def act() -> int:
        for day, sunrise, sunset in form.times():
            services.event_day_light(
                by=person_of(request), event=row, day=day, sunrise=sunrise, sunset=sunset
            )
        return len(form.times()) + 1

    lede = "A vehicle that may run in daylight only is held against these hours; without them it cannot be judged."
    return _act(
        request,
        row,
        form,
        act,
        "Daylight written down.",
        title="Hours of daylight",
        button="Write it down",
        lede=lede,
    )


@page_or_act
@needs("programme.change")
def event_call_off(request: HttpRequest, code: str) -> HttpResponse:
    row = open_event(code)
    form = CallOffForm(request.POST or None, initial={"version": row.version})
    return _act(
        request,
        row,
        form,
        lambda: services.event_call_off(
            by=person_of(request),
            event=row,
            reason=form.cleaned_data["reason"],
            version=form.cleaned_data["version"],
        ),
        f"{row} is called off. Slots and entries are kept.",
        title="Call the event off",
        button="Call it off",
        lede="It leaves the board. Slots, entries and record are kept, and it can be planned again.",
    )


@require_POST
@needs("programme.change")
def event_over(request: HttpRequest, code: str) -> HttpResponse:
    row = open_event(code)
    services.event_over(by=person_of(request), event=row)
    messages.success(request, f"{row} is over. It has left the board; its record stays.")
    return redirect("readiness:event", code)


@require_POST
@needs("programme.change")
def event_plan_again(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Event, code=code)
    services.event_plan_again(by=person_of(request), event=row)
    messages.success(request, f"{row} is planned again.")
    return redirect("readiness:event", code)


@page_or_act
@needs("programme.change")
def rehearsals(request: HttpRequest, code: str) -> HttpResponse:
    row = open_event(code)
    form = RehearsalForm(request.POST or None, vehicles=list(Vehicle.objects.order_by("number")))

    def act() -> Rehearsal:
        data = form.cleaned_data
        return services.rehearsal_add(
            by=person_of(request),
            event=row,
            vehicle=data["vehicle"],
            day=data["day"],
            hours=data["hours"] or Decimal(0),
            km=data["km"] or Decimal(0),
            note=data["note"],
        )

    lede = "Use that is planned before the event. It counts in every meter that an inspection waits for."
    return _act(
        request, row, form, act, "The rehearsal is planned.", title="A rehearsal", button="Plan it", lede=lede
    )


@require_POST
@needs("programme.change")
def rehearsal_drop(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    row = get_object_or_404(Rehearsal, pk=pk, event=open_event(code))
    services.rehearsal_drop(by=person_of(request), rehearsal=row)
    messages.success(request, f"The rehearsal of {row.vehicle} is dropped.")
    return redirect("readiness:event", code)
