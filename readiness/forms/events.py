"""Forms for events, slots, daylight, rehearsals and the freeze."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any, ClassVar, TypeVar

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils import timezone

from fleet.enums import Function
from fleet.errors import Conflict
from fleet.forms.base import ClockField, DayField, MomentField
from fleet.models import Vehicle
from readiness.engine.reasons import day_words
from readiness.enums import Role
from readiness.models import Event, Slot

SITE_NOTES = (
    ("Fire points", "Where they stand and who mans them."),
    ("First aid", "Where, and the channel or number."),
    ("Fuel", "Where and when vehicles are filled; who stands by."),
    ("Recovery", "Which vehicle, who drives it, how it is called."),
    ("Spill kit", "Where it hangs."),
    ("Radios", "Channel, and the stop signal."),
    ("Barriers", "Who opens and closes them."),
    ("Weather", "When the programme stops for wind, rain or heat."),
)
SHOWN = (Function.WORK, Function.PULL, Function.CARRY, Function.SHOW, Function.START)
"""What a slot may show beyond its role; others that stand on a slot already stay choosable there."""


T = TypeVar("T")


class Versioned(forms.Form):
    """Carries the version that was read, so that the second of two editors is told what the first one did."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    aliases: ClassVar[Mapping[str, str]] = {}
    """Fields of the row that have another name on the form."""

    def take(self, act: Callable[[], T]) -> T | None:
        """What the service gives back; None when it refused, with each sentence at its field and all typed text kept."""
        try:
            return act()
        except ValidationError as trouble:
            self._refuse(trouble)
        except Conflict as trouble:
            self.add_error(None, [trouble.message, *trouble.changed])
        return None

    def _refuse(self, trouble: ValidationError) -> None:
        if not hasattr(trouble, "error_dict"):
            self.add_error(None, trouble)
            return
        for name, errors in trouble.error_dict.items():
            field = self.aliases.get(name, name)
            self.add_error(field if field in self.fields else None, errors)

    def renew(self, version: int | None) -> None:
        """After a conflict: what was typed stays, and the next try is against the row as it now is."""
        data = QueryDict(mutable=True)
        data.update(self.data)
        data[self.add_prefix("version")] = str(version or "")
        self.data = data


class EventForm(Versioned):
    name = forms.CharField(max_length=120)
    place = forms.CharField(max_length=120, required=False)
    first_day = DayField(label="First day")
    last_day = DayField(label="Last day")
    weight = forms.IntegerField(
        min_value=1,
        max_value=100,
        initial=1,
        help_text="Between events with the same freeze the heavier goes first. 1 will do for most.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site_fields = []
        for name, words in SITE_NOTES:
            key = f"site_{name.lower().replace(' ', '_')}"
            self.fields[key] = forms.CharField(max_length=160, required=False, label=name, help_text=words)
            self.site_fields.append((key, name))

    @staticmethod
    def initial_of(event: Event) -> dict[str, Any]:
        initial = {
            f: getattr(event, f) for f in ("name", "place", "first_day", "last_day", "weight", "version")
        }
        for name, _ in SITE_NOTES:
            initial[f"site_{name.lower().replace(' ', '_')}"] = event.site_notes.get(name, "")
        return initial

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        first, last = data.get("first_day"), data.get("last_day")
        if first and last and last < first:
            self.add_error("last_day", "The last day lies before the first.")
        return data

    def changes(self) -> dict[str, Any]:
        data = self.cleaned_data
        return {
            "name": data["name"],
            "place": data["place"],
            "first_day": data["first_day"],
            "last_day": data["last_day"],
            "weight": data["weight"],
            "site_notes": {name: data[key] for key, name in self.site_fields if data[key]},
        }


class NewEventForm(EventForm):
    code = forms.SlugField(
        max_length=30, help_text="Short and lasting, such as HWW27; it stands in addresses and tables."
    )
    freeze_at = MomentField(
        label="Freeze",
        help_text="After this nothing is opened that is not a matter of safety.",
    )
    field_order = ("code", "name", "place", "first_day", "last_day", "freeze_at", "weight")

    def clean_code(self) -> str:
        code: str = self.cleaned_data["code"]
        if code.lower() == "new":
            raise ValidationError("That word stands for the page of a new event. Take another.")
        return code

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        freeze, last = data.get("freeze_at"), data.get("last_day")
        if freeze and last and timezone.localdate(freeze) > last:
            self.add_error("freeze_at", "The freeze must come before the event ends.")
        return data

    def changes(self) -> dict[str, Any]:
        return {
            **super().changes(),
            "code": self.cleaned_data["code"],
            "freeze_at": self.cleaned_data["freeze_at"],
        }


class FreezeForm(Versioned):
    freeze_at = MomentField(label="Freeze")
    reason = forms.CharField(max_length=160, label="Why it moves")


class LightForm(Versioned):
    """Sunrise and sunset of each day of the event."""

    def __init__(self, *args: Any, event: Event, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.days = event.days
        known = {d.day: d for d in event.event_days.all()}
        for day in self.days:
            for name in ("sunrise", "sunset"):
                self.fields[f"{name}_{day.isoformat()}"] = ClockField(
                    required=False,
                    label=f"{name.capitalize()}, {day_words(day)}",
                    initial=getattr(known[day], name) if day in known else None,
                )

    def times(self) -> list[tuple[dt.date, dt.time | None, dt.time | None]]:
        """Day, sunrise, sunset of the days on which something was changed."""
        data = self.cleaned_data
        found = []
        for day in self.days:
            names = [f"{name}_{day.isoformat()}" for name in ("sunrise", "sunset")]
            if any(name in self.changed_data for name in names):
                found.append((day, data[names[0]], data[names[1]]))
        return found

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for day in self.days:
            rise, fall = (data.get(f"{name}_{day.isoformat()}") for name in ("sunrise", "sunset"))
            if rise and fall and fall <= rise:
                self.add_error(f"sunset_{day.isoformat()}", "Sunset lies before sunrise.")
        return data


class CallOffForm(Versioned):
    reason = forms.CharField(max_length=160, label="Why it is called off")


class RehearsalForm(Versioned):
    vehicle = forms.ChoiceField()
    day = DayField()
    hours = forms.DecimalField(
        min_value=0, max_digits=7, decimal_places=2, required=False, label="Engine hours"
    )
    km = forms.DecimalField(min_value=0, max_digits=7, decimal_places=2, required=False, label="Kilometres")
    note = forms.CharField(max_length=120, required=False)

    def __init__(self, *args: Any, vehicles: list[Vehicle], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.by_code = {v.code: v for v in vehicles}
        choices(self, "vehicle", [(v.code, str(v)) for v in vehicles])

    def clean_vehicle(self) -> Vehicle:
        return self.by_code[self.cleaned_data["vehicle"]]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors and not data.get("hours") and not data.get("km"):
            self.add_error("hours", "Say how many hours or kilometres.")
        return data


def choices(form: forms.Form, name: str, pairs: list[tuple[str, Any]]) -> None:
    """Choices that are known only when the form is made, from rows that were read once."""
    field = form.fields[name]
    assert isinstance(field, forms.ChoiceField)
    field.choices = pairs


class SlotForm(Versioned):
    aliases = {"starts_at": "starts", "ends_at": "ends"}
    code = forms.SlugField(max_length=20, help_text="Such as S6.")
    name = forms.CharField(max_length=120, help_text="As the public reads it.")
    role = forms.ChoiceField(choices=Role.choices, help_text="What is asked of each vehicle in it.")
    day = forms.ChoiceField()
    starts = ClockField()
    ends = ClockField(help_text="Earlier than the start: it ends after midnight.")
    place = forms.CharField(max_length=80, required=False)
    distance_km = forms.DecimalField(
        min_value=0,
        max_digits=7,
        decimal_places=2,
        required=False,
        label="Kilometres",
        help_text="All runs together.",
    )
    speed_kmh = forms.DecimalField(
        min_value=0,
        max_digits=5,
        decimal_places=1,
        required=False,
        label="Speed, km/h",
        help_text="That the slot asks for. Empty: none.",
    )
    hours = forms.DecimalField(
        min_value=0,
        max_digits=7,
        decimal_places=2,
        required=False,
        label="Engine hours",
        help_text="Empty: the slot's length for running, arena, road and rides.",
    )
    runs = forms.IntegerField(min_value=1, required=False)
    at_least = forms.IntegerField(
        min_value=1, required=False, label="Vehicles that must run", help_text="Empty: all that are entered."
    )
    also_asks = forms.MultipleChoiceField(
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Shown beyond the role",
        help_text="Such as pumping: the demonstration gear must work.",
    )
    notes = forms.CharField(max_length=200, required=False)
    each_day = forms.BooleanField(required=False, label="The same on every day of the event")

    def __init__(self, *args: Any, event: Event, slot: Slot | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        days = {d.isoformat(): day_words(d) for d in event.days}
        if slot is not None:
            days.setdefault(slot.day.isoformat(), f"{day_words(slot.day)} (not of the event)")
            del self.fields["each_day"]
        elif len(days) == 1:
            del self.fields["each_day"]
        choices(self, "day", list(days.items()))
        shown = dict.fromkeys([*SHOWN, *(Function(f) for f in (slot.also_asks if slot else []))])
        choices(self, "also_asks", [(f.value, f.label.capitalize()) for f in shown])

    @staticmethod
    def initial_of(slot: Slot) -> dict[str, Any]:
        start, end = timezone.localtime(slot.starts_at), timezone.localtime(slot.ends_at)
        names = (
            "code", "name", "role", "place", "distance_km", "speed_kmh", "hours", "runs", "at_least", "also_asks", "notes",
            "version",
        )  # fmt: skip
        return {n: getattr(slot, n) for n in names} | {
            "day": start.date().isoformat(),
            "starts": start.time(),
            "ends": end.time(),
        }

    def changes(self) -> dict[str, Any]:
        data = self.cleaned_data
        zone = timezone.get_current_timezone()
        day = dt.date.fromisoformat(data["day"])
        start = dt.datetime.combine(day, data["starts"], tzinfo=zone)
        end_day = day if data["ends"] > data["starts"] else day + dt.timedelta(days=1)
        names = (
            "code",
            "name",
            "role",
            "place",
            "distance_km",
            "speed_kmh",
            "hours",
            "runs",
            "at_least",
            "notes",
        )
        return {n: data[n] for n in names} | {
            "also_asks": list(data["also_asks"]),
            "starts_at": start,
            "ends_at": dt.datetime.combine(end_day, data["ends"], tzinfo=zone),
        }
