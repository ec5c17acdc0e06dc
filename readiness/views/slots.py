"""Slots, the vehicles in them and their people; what the board would say is told before it is written."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from fleet.errors import Conflict
from fleet.models import Person, Vehicle
from fleet.views.access import answer, needs, page_or_act, person_of
from readiness import rules
from readiness.enums import Duty
from readiness.forms.entries import OF_ENTRY, WHOLE_SLOT, CrewForms, EntryForm
from readiness.forms.events import SlotForm, Versioned
from readiness.models import Entry, Slot
from readiness.queries.would_be import would_be
from readiness.services import entries, events
from readiness.views.programme import open_event

SLOT = "readiness/slot.html"
ENTRY = "readiness/entry.html"


def _slot(code: str, pk: int) -> Slot:
    return get_object_or_404(Slot.objects.select_related("event"), pk=pk, event=open_event(code))


# ---- slots ----
@page_or_act
@needs("programme.change")
def slot_new(request: HttpRequest, code: str) -> HttpResponse:
    event = open_event(code)
    form = SlotForm(request.POST or None, event=event, initial={"day": request.GET.get("day", "")})
    if form.is_valid():
        each = form.cleaned_data.get("each_day", False)
        made = form.take(
            lambda: events.slot_add(by=person_of(request), event=event, each_day=each, **form.changes())
        )
        if made:
            messages.success(request, f"{made[0]} is on the programme. Enter its vehicles next.")
            return redirect("readiness:event", code)
    return answer(request, SLOT, form, {"event": event, "title": "A new slot", "button": "Add it"})


@page_or_act
@needs("programme.change")
def slot_change(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    slot = _slot(code, pk)
    form = SlotForm(request.POST or None, event=slot.event, slot=slot, initial=SlotForm.initial_of(slot))
    if form.is_valid():
        version = form.cleaned_data["version"]
        if form.take(
            lambda: events.slot_change(by=person_of(request), slot=slot, version=version, **form.changes())
        ):
            messages.success(request, f"{slot}: written down.")
            return redirect("readiness:event", code)
        form.renew(Slot.objects.filter(pk=pk).values_list("version", flat=True).first())
    return answer(
        request,
        SLOT,
        form,
        {"event": slot.event, "slot": slot, "title": str(slot), "button": "Write it down"},
    )


@require_POST
@needs("programme.change")
def slot_copy(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    slot = _slot(code, pk)
    made = events.slot_copy(by=person_of(request), slot=slot)
    words = f"{slot} now stands on {len(made)} more." if made else f"{slot} stands on every day already."
    messages.success(request, words)
    return redirect("readiness:event", code)


@require_POST
@needs("programme.change")
def slot_drop(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    return _drop(request, code, _slot(code, pk))


def _drop(request: HttpRequest, code: str, row: Slot | Entry) -> HttpResponse:
    """Drop a slot or an entry as it was read; one that another changed meanwhile stays."""
    read = request.POST.get("version", "")
    version = int(read) if read.isdigit() else None
    name = str(row)
    try:
        if isinstance(row, Slot):
            events.slot_drop(by=person_of(request), slot=row, version=version)
        else:
            entries.entry_drop(by=person_of(request), entry=row, version=version)
    except Conflict as trouble:
        messages.error(request, str(trouble))
    else:
        messages.success(request, f"{name}: off the programme.")
    return redirect("readiness:event", code)


@page_or_act
@needs("entry.enter")
def slot_crew(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """The people of a whole slot: marshals, fire point, stewards."""
    slot = _slot(code, pk)
    data = request.POST if request.method == "POST" else None
    form = Versioned(data, initial={"version": slot.version})
    there = list(slot.crew.filter(entry=None).select_related("person"))
    lines = CrewForms(people=_people(), duties=WHOLE_SLOT, data=data, crew=there)
    if data is not None and form.is_valid() and lines.is_valid():
        version = form.cleaned_data["version"]
        made = form.take(
            lambda: entries.crew_set(by=person_of(request), slot=slot, crew=lines.crew(), version=version)
        )
        if made is not None:
            messages.success(request, f"{slot}: its people are written down.")
            return redirect("readiness:event", code)
        form.renew(Slot.objects.filter(pk=pk).values_list("version", flat=True).first())
    status = 422 if data is not None else 200
    words = {"form": form, "lines": lines.lines, "slot": slot, "event": slot.event}
    return render(request, "readiness/slot_crew.html", words, status=status)


def _people() -> list[Person]:
    return list(Person.objects.filter(is_active=True).order_by("name"))


def _vehicles() -> list[Vehicle]:
    return list(Vehicle.objects.order_by("number"))


# ---- entries ----
class _Desk:
    """What an entry's page works with: the slot, the entry where there is one, and its filled-in form."""

    def __init__(self, request: HttpRequest, slot: Slot, entry: Entry | None, data: Any) -> None:
        self.request, self.slot, self.entry, self.data = request, slot, entry, data
        initial = EntryForm.initial_of(entry) if entry else {"vehicle": request.GET.get("vehicle", "")}
        self.form = EntryForm(
            data, slot=slot, vehicles=_vehicles(), initial=initial, use_required_attribute=False
        )
        crew = list(entry.crew.select_related("person")) if entry else []
        self.lines = CrewForms(people=_people(), duties=OF_ENTRY, data=data, crew=crew, first=Duty.DRIVER)
        self.may_enter = rules.may_enter(request.user, slot.event)
        self.may_tick = rules.may_tick(request.user, slot.event)
        self.kept = {t.limit_id: t for t in entry.ticks.select_related("by")} if entry else {}

    @property
    def ticked(self) -> frozenset[int]:
        if self.data is None:
            return frozenset(self.kept)
        return frozenset(int(pk) for pk in self.data.getlist("ticks") if pk.isdigit())

    def limits(self) -> list[dict[str, Any]]:
        """Limits in words of the vehicle that is chosen, with who has read them for this slot."""
        vehicle: Vehicle | None
        if self.entry is not None and not self.may_enter:
            vehicle = self.entry.vehicle
        else:
            chosen = self.form.initial if self.data is None else self.data
            vehicle = self.form.by_code.get(chosen.get("vehicle", ""))
        found = entries.limits_to_read(vehicle) if vehicle else []
        return [{"limit": x, "ticked": x.pk in self.ticked, "tick": self.kept.get(x.pk)} for x in found]

    def said(self) -> dict[str, Any]:
        """The board's answer to what is filled in so far. Nothing is written for it."""
        source = self.form if self.data is not None else self._as_it_stands()
        lines = self.lines if self.data is not None else self.standing_lines
        replaces = self.entry.vehicle.code if self.entry else ""
        wish = source.wish(lines, self.ticked, replaces=replaces)
        found = would_be(event=self.slot.event, slot=self.slot, wish=wish) if wish else None
        return {"said": found, "wish": wish, "limits": self.limits(), "may_tick": self.may_tick}

    def _as_it_stands(self) -> EntryForm:
        initial = {k: v for k, v in self.form.initial.items() if v not in {None, ""} and v is not False}
        lines = {
            f"{line.prefix}-{k}": v for line in self.lines.lines for k, v in (line.initial or {}).items()
        }
        self.standing_lines = CrewForms(people=_people(), duties=OF_ENTRY, data=lines, first=Duty.DRIVER)
        return EntryForm(initial, slot=self.slot, vehicles=list(self.form.by_code.values()))

    def context(self) -> dict[str, Any]:
        return {
            "form": self.form,
            "lines": self.lines.lines,
            "slot": self.slot,
            "entry": self.entry,
            "event": self.slot.event,
            "may_enter": self.may_enter,
            **self.said(),
        }

    def save(self) -> Entry | None:
        by = person_of(self.request)
        chosen = [x["limit"] for x in self.limits() if x["ticked"]]
        if not self.may_enter and self.entry is not None:
            entries.ticks_set(by=by, entry=self.entry, ticks=chosen)
            return self.entry
        if not (self.form.is_valid() & self.lines.is_valid()):
            return None
        words = {
            **self.form.changes(),
            "vehicle": self.form.cleaned_data["vehicle"],
            "crew": self.lines.crew(),
        }
        if self.entry is None:
            return self.form.take(lambda: entries.entry_add(by=by, slot=self.slot, ticks=chosen, **words))
        version, entry = self.form.cleaned_data["version"], self.entry
        saved = self.form.take(
            lambda: entries.entry_save(by=by, entry=entry, ticks=chosen, version=version, **words)
        )
        if saved is None:
            self.form.renew(Entry.objects.filter(pk=entry.pk).values_list("version", flat=True).first())
        return saved


@page_or_act
@needs("entry.enter")
def entry_new(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    return _entry(request, _slot(code, pk), None)


@page_or_act
@needs("entry.enter", "entry.tick")
def entry(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    row = get_object_or_404(
        Entry.objects.select_related("slot__event", "vehicle", "covers"), pk=pk, slot__event=open_event(code)
    )
    return _entry(request, row.slot, row)


def _entry(request: HttpRequest, slot: Slot, row: Entry | None) -> HttpResponse:
    data = request.POST if request.method == "POST" else None
    desk = _Desk(request, slot, row, data)
    look_only = data is not None and "look" in data
    if data is not None and not look_only:
        saved = desk.save()
        if saved is not None:
            messages.success(request, f"{saved}: written down. The board is worked out anew.")
            return redirect("readiness:event", slot.event.code)
    return render(request, ENTRY, desk.context(), status=422 if data is not None and not look_only else 200)


@require_safe
@needs("entry.enter", "entry.tick")
def entry_preview(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """What the board would say of the half-filled form; the page asks again whenever something is chosen."""
    slot = _slot(code, pk)
    changed = request.GET.get("entry", "")
    row = (
        slot.entries.select_related("vehicle", "covers").filter(pk=int(changed)).first()
        if changed.isdigit()
        else None
    )
    desk = _Desk(request, slot, row, request.GET)
    return render(request, f"{ENTRY}#said", {"slot": slot, "event": slot.event, **desk.said()})


@require_POST
@needs("entry.enter")
def entry_drop(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    row = get_object_or_404(
        Entry.objects.select_related("slot", "vehicle"), pk=pk, slot__event=open_event(code)
    )
    return _drop(request, code, row)
