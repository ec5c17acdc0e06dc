"""Forms for a vehicle in a slot and for the people of an entry or a slot."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from fleet.models import Person, Vehicle
from readiness.engine.state import CrewDuty
from readiness.enums import Duty, Role
from readiness.forms.events import Versioned, choices
from readiness.models import Crew, Entry, Slot
from readiness.queries.would_be import Wish
from readiness.services.entries import CrewLine

SPARE_LINES = 2
MOST_LINES = 16
WHOLE_SLOT = (Duty.MARSHAL, Duty.FIRE_POINT, Duty.STEWARD, Duty.CONDUCTOR, Duty.BANKSMAN)
OF_ENTRY = (Duty.DRIVER, Duty.COMMANDER, Duty.FIREMAN, Duty.CREW, Duty.CONDUCTOR, Duty.BANKSMAN, Duty.STEWARD)


class CrewLineForm(forms.Form):
    """One duty. An empty line says nothing and is passed over."""

    duty = forms.ChoiceField()
    person = forms.ChoiceField(required=False, label="One of us")
    borrowed = forms.CharField(max_length=80, required=False, label="Borrowed person")

    def __init__(self, *args: Any, people: dict[str, Person], duties: Sequence[Duty], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.people = people
        choices(self, "duty", [(d.value, d.label) for d in duties])
        choices(self, "person", [("", "nobody yet"), *((p.code, p.name) for p in people.values())])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("person") and data.get("borrowed"):
            self.add_error(
                "borrowed", "Name one of our people, or write the name of a borrowed one; not both."
            )
        return data


class CrewForms:
    """The lines of a crew, as many as stand there and some spare; no more is read than the page offered."""

    def __init__(
        self,
        *,
        people: Sequence[Person],
        duties: Sequence[Duty],
        data: Any = None,
        crew: Sequence[Crew] = (),
        first: Duty | None = None,
    ) -> None:
        by_code = {p.code: p for p in people}
        self.lines: list[CrewLineForm] = []
        wanted = [
            {"duty": c.duty, "person": c.person.code if c.person else "", "borrowed": c.borrowed}
            for c in crew
        ]
        if first is not None and not any(w["duty"] == first for w in wanted):
            wanted.insert(0, {"duty": first.value, "person": "", "borrowed": ""})
        asked = {c.duty for c in crew}
        allowed = [*duties, *(Duty(d) for d in sorted(asked - {d.value for d in duties}))]
        numbers: Sequence[int] = range(len(wanted) + SPARE_LINES)
        if data is not None:
            numbers = [n for n in range(MOST_LINES) if f"line-{n}-duty" in data]
            allowed = list(dict.fromkeys([*allowed, *Duty]))
        for n in numbers:
            initial = wanted[n] if n < len(wanted) else {"duty": allowed[min(n, len(allowed) - 1)].value}
            self.lines.append(
                CrewLineForm(
                    data,
                    prefix=f"line-{n}",
                    people=by_code,
                    duties=allowed,
                    initial=initial,
                    use_required_attribute=False,
                )
            )

    def is_valid(self) -> bool:
        answers = [
            line.is_valid() for line in self.lines
        ]  # each line is read, so that each says what is wrong
        return all(answers)

    def crew(self) -> list[CrewLine]:
        return [
            CrewLine(
                duty=line.cleaned_data["duty"],
                person=line.people.get(line.cleaned_data.get("person", "")),
                borrowed=line.cleaned_data.get("borrowed", ""),
            )
            for line in self.lines
            if line.cleaned_data.get("duty")
            and (line.cleaned_data.get("person") or line.cleaned_data.get("borrowed", "").strip())
        ]


class EntryForm(Versioned):
    vehicle = forms.ChoiceField()
    covers = forms.ChoiceField(
        required=False,
        label="Stands in for",
        help_text="The vehicle whose place it takes when that one fails.",
    )
    ready_minutes = forms.IntegerField(
        min_value=0, max_value=999, required=False, label="Ready to move in, minutes"
    )
    distance_km = forms.DecimalField(
        min_value=0, max_digits=7, decimal_places=2, required=False, label="Kilometres, when not the slot's"
    )
    hours = forms.DecimalField(
        min_value=0, max_digits=7, decimal_places=2, required=False, label="Engine hours, when not the slot's"
    )
    crewed_inside = forms.BooleanField(required=False, initial=True, label="People sit in its closed space")
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, slot: Slot, vehicles: Sequence[Vehicle], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.by_code = {v.code: v for v in vehicles}
        pairs: list[tuple[str, Any]] = [(v.code, str(v)) for v in vehicles]
        choices(self, "vehicle", [("", "choose a vehicle"), *pairs])
        if slot.role == Role.STANDBY:
            choices(self, "covers", [("", "no vehicle yet"), *pairs])
        else:
            del self.fields["covers"], self.fields["ready_minutes"]

    @staticmethod
    def initial_of(entry: Entry) -> dict[str, Any]:
        names = ("ready_minutes", "distance_km", "hours", "crewed_inside", "note", "version")
        return {n: getattr(entry, n) for n in names} | {
            "vehicle": entry.vehicle.code,
            "covers": entry.covers.code if entry.covers else "",
        }

    def clean_vehicle(self) -> Vehicle:
        return self.by_code[self.cleaned_data["vehicle"]]

    def clean_covers(self) -> Vehicle | None:
        return self.by_code.get(self.cleaned_data["covers"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("covers") is not None and data.get("covers") == data.get("vehicle"):
            self.add_error("covers", "A vehicle cannot stand in for itself.")
        return data

    def changes(self) -> dict[str, Any]:
        data = self.cleaned_data
        names = ("distance_km", "hours", "crewed_inside", "note", "covers", "ready_minutes")
        return {n: data[n] for n in names if n in data}

    def wish(self, lines: CrewForms, ticks: frozenset[int], *, replaces: str = "") -> Wish | None:
        """What is filled in so far, for the board's answer; None while no vehicle is chosen. Half-typed figures are left out."""
        self.is_valid()
        lines.is_valid()
        data = self.cleaned_data
        vehicle = data.get("vehicle")
        if vehicle is None:
            return None
        covers = data.get("covers")
        return Wish(
            vehicle=vehicle.code,
            replaces=replaces,
            covers=covers.code if covers else "",
            ready_minutes=data.get("ready_minutes"),
            km=data.get("distance_km"),
            hours=data.get("hours"),
            crewed_inside=bool(data.get("crewed_inside")),
            crew=tuple(
                CrewDuty(duty=c.duty, person=c.person.code if c.person else "", borrowed=c.borrowed)
                for c in lines.crew()
            ),
            ticks=frozenset(f"limit-{pk}" for pk in ticks),
        )
