"""The job at the desk: every field of its plan, its steps, and the acts that end, hold or open it again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from django import forms

from fleet.enums import InspectArea
from fleet.models import Person, Skill, Subsystem, Vehicle
from fleet.rules import may
from maintenance.enums import OPEN_STATES, CardKind, CardState, HeldFor, Timing
from maintenance.forms.desk import (
    AS_ASKED,
    DayField,
    DeskForm,
    Several,
    figure_field,
    figure_of,
    lines_of,
    people,
    system_choices,
    words_field,
)
from maintenance.models import Access, Defect, Inspection, JobCard, Measure, Place, SpecialTool
from maintenance.queries.defects import OPEN

OPENED_AS = [
    (CardState.ASSESSED.value, "Assessed, not booked in yet"),
    (CardState.BOOKED_IN.value, "Booked in: it will be done"),
    (CardState.NOT_BOOKED.value, "Not booked: wants an outside visit"),
    (CardState.NOT_DUE.value, "Not due yet"),
]
PLAN = (
    "title", "why", "code", "timing", "hours_best", "hours_usual", "hours_bad", "persons", "suits", "access", "access_group",
    "place", "needs_functional_test", "needs_road_test", "second_area", "needs_consent", "outside_on", "outside_who",
    "drying_hours", "voids_readings", "removes_original", "inspection", "subsystem", "recheck", "recheck_km",
)  # fmt: skip
TESTS = ("needs_functional_test", "needs_road_test")
HOURS = ("hours_best", "hours_usual", "hours_bad")
LISTS = ("defects", "skills", "tools", "after", "measures")


class CardForm(DeskForm):
    """The plan of a job, new or standing."""

    act = "desk.card"
    title = forms.CharField(label="What is to be done", max_length=200)
    why = words_field("Why", required=False)
    kind = forms.ChoiceField(label="Kind", choices=CardKind.choices, initial=CardKind.DEFECT)
    state = forms.ChoiceField(label="It begins as", choices=OPENED_AS, initial=CardState.BOOKED_IN.value)
    subsystem = forms.ChoiceField(label="System", required=False)
    code = forms.CharField(label="Short name in tables", max_length=30, required=False)
    timing = forms.ChoiceField(label="When", choices=Timing.choices, initial=Timing.BEFORE)
    defects = Several(Defect.objects.none(), label="Faults that it clears")
    hours_best = figure_field("Hours, at best", required=False)
    hours_usual = figure_field("Hours, as a rule", required=False)
    hours_bad = figure_field(
        "Hours, if it goes badly", required=False, help_text="Bench hours. The usual alone will do, or none."
    )
    persons = forms.IntegerField(
        label="Persons, for all of those hours", min_value=1, max_value=12, initial=1
    )
    suits = forms.ModelChoiceField(people(), label="Suits", required=False, empty_label="No one named")
    skills = Several(Skill.objects.all(), label="Skill, any one of these")
    access = forms.ModelChoiceField(
        Access.objects.all(), label="Way in", required=False, empty_label="Nothing to open"
    )
    access_group = forms.CharField(
        label="Shares its opening with",
        max_length=40,
        required=False,
        help_text="Jobs with the same word share one opening.",
    )
    place = forms.ModelChoiceField(Place.objects.all(), label="Place", required=False, empty_label="Anywhere")
    tools = Several(SpecialTool.objects.all(), label="Special tools")
    after = Several(JobCard.objects.none(), label="Needs these done first")
    steps = words_field(
        "Steps still to do, one a line",
        rows=6,
        required=False,
        longest=8000,
        help_text="A source may follow after |, such as: Free the adjuster | workshop manual, page 41.",
    )
    measures = Several(Measure.objects.none(), label="Readings wanted before it is handed in")
    needs_functional_test = forms.BooleanField(
        label="Functional test, on the vehicle, standing", required=False
    )
    needs_road_test = forms.BooleanField(label="Road test", required=False)
    second_area = forms.ChoiceField(label="Second signature for")
    needs_consent = forms.BooleanField(label="Needs the curator's consent", required=False)
    removes_original = forms.BooleanField(label="Takes off an original part", required=False)
    voids_readings = forms.BooleanField(
        label="A repair: voids the matching reading or inspection", required=False, initial=True
    )
    recheck = forms.CharField(
        label="To be checked again after it has run", max_length=120, required=False,
        help_text="Passing the job asks for it by itself. A new job on wheels asks for the wheel nuts.",
    )  # fmt: skip
    recheck_km = forms.IntegerField(
        label="Within so many km", min_value=1, max_value=2000, required=False,
        help_text="Empty: before it runs again.",
    )  # fmt: skip
    drying_hours = forms.IntegerField(
        label="Hours to cure, dry or cool", min_value=0, max_value=2000, initial=0
    )
    inspection = forms.ModelChoiceField(
        Inspection.objects.none(), label="Carries out the inspection", required=False, empty_label="None"
    )
    outside_on = DayField(label="Outside visit on", required=False)
    outside_who = forms.CharField(label="Outside visit by", max_length=120, required=False)

    groups: ClassVar[Sequence[tuple[str, Sequence[str]]]] = (
        ("What and why", ("title", "why", "kind", "state", "subsystem", "timing", "code", "defects")),
        ("Hours and people", ("hours_best", "hours_usual", "hours_bad", "persons", "suits", "skills")),
        ("Way in, place, tools", ("access", "access_group", "place", "tools", "after")),
        ("Steps and readings", ("steps", "measures")),
        ("Tests and signatures", ("needs_functional_test", "needs_road_test", "second_area", "needs_consent", "removes_original", "voids_readings", "recheck", "recheck_km")),
        ("Outside and time without hands", ("drying_hours", "inspection", "outside_on", "outside_who")),
    )  # fmt: skip

    def __init__(
        self, *args: Any, vehicle: Vehicle, by: Person, card: JobCard | None = None, **kwargs: Any
    ) -> None:
        self.vehicle, self.by, self.card = vehicle, by, card
        self.systems = list(vehicle.subsystems.order_by("order", "code"))
        kwargs["initial"] = {
            **(self._shown(card) if card is not None else {}),
            **(kwargs.get("initial") or {}),
        }
        super().__init__(*args, row=card, **kwargs)
        self._choices()
        for name in ("kind", "state") if card is not None else ():
            del self.fields[name]
        if card is not None and not may(by, "card.take"):
            del self.fields["steps"]

    @staticmethod
    def _shown(card: JobCard) -> dict[str, Any]:
        plain = {name: getattr(card, name) for name in PLAN}
        for name in ("suits", "access", "place", "inspection", "subsystem"):
            plain[name] = getattr(card, f"{name}_id") or ""
        for name in HOURS:
            plain[name] = f"{plain[name].normalize():f}" if plain[name] is not None else ""
        plain["second_area"] = card.second_area or "none"
        lists = {name: [row.pk for row in getattr(card, name).all()] for name in LISTS}
        steps = "\n".join(
            f"{step.text} | {step.source}" if step.source else step.text
            for step in card.steps.all()
            if step.done_at is None
        )
        return {**plain, **lists, "steps": steps}

    def _choices(self) -> None:
        self.fields["subsystem"].choices = system_choices(self.systems, "Not sure where")  # type: ignore[attr-defined]
        may_drop = may(self.by, "card.return")
        asked = [("asked", "As its system asks")] if self.card is None else []
        none = (
            [("none", "None wanted")]
            if may_drop or (self.card is not None and not self.card.second_area)
            else []
        )
        self.fields["second_area"].choices = [*asked, *none, *InspectArea.choices]  # type: ignore[attr-defined]
        if self.card is None:
            self.fields["second_area"].initial = "asked"
            for name in TESTS:
                label = self.fields[name].label
                self.fields[name] = forms.ChoiceField(label=label, choices=AS_ASKED, required=False)
        querysets: dict[str, Any] = {
            "defects": self.vehicle.defects.filter(state__in=OPEN), "measures": self.vehicle.measures.all(),
            "after": self.vehicle.cards.filter(state__in=OPEN_STATES).exclude(pk=self.card.pk if self.card else 0),
            "inspection": self.vehicle.inspections.all(),
        }  # fmt: skip
        if self.card is not None:
            kept = [row.pk for row in self.card.defects.all()]
            querysets["defects"] = self.vehicle.defects.filter(state__in=OPEN) | self.vehicle.defects.filter(
                pk__in=kept
            )
            querysets["after"] = querysets["after"] | JobCard.objects.filter(
                pk__in=[row.pk for row in self.card.after.all()]
            )
        for name, rows in querysets.items():
            self.fields[name].queryset = rows.distinct()  # type: ignore[attr-defined]
        for name in ("defects", "measures", "after", "inspection"):
            if not self.fields[name].queryset.exists():  # type: ignore[attr-defined]
                del self.fields[name]

    def clean_subsystem(self) -> Subsystem | None:
        return next((row for row in self.systems if str(row.pk) == self.cleaned_data["subsystem"]), None)

    def step_lines(self) -> list[tuple[str, str]]:
        pairs = (line.partition("|") for line in lines_of(self.cleaned_data["steps"]))
        return [(text.strip(), source.strip()) for text, _, source in pairs if text.strip()]

    def words(self) -> dict[str, Any]:
        data = super().words()
        data["steps"] = self.step_lines() if "steps" in self.fields else None
        data |= {name: figure_of(data, name) for name in HOURS}
        if data["second_area"] == "none":
            data["second_area"] = ""
        return self._standing(data, self.card) if self.card is not None else self._new(data)

    @staticmethod
    def _standing(data: dict[str, Any], card: JobCard) -> dict[str, Any]:
        """Faults that stay as they are are not handed in again: one of them may have ended since."""
        if "defects" in data and {one.pk for one in data["defects"]} == {
            one.pk for one in card.defects.all()
        }:
            del data["defects"]
        return data

    @staticmethod
    def _new(data: dict[str, Any]) -> dict[str, Any]:
        """What is left to its system and its kind is not said at all, so that the service decides it."""
        if data["second_area"] == "asked":
            del data["second_area"]
        for name in TESTS:
            answer = data.pop(name)
            if answer:
                data[name] = answer == "yes"
        for name in ("needs_consent", "recheck", "recheck_km"):
            if not data[name]:
                del data[name]
        data.pop("expected_version", None)
        return {**data, "steps": data["steps"] or ()}


class HoldForm(DeskForm):
    reason = forms.ChoiceField(label="Held for", choices=HeldFor.choices)
    until = DayField(label="Until", required=False, help_text="Empty: not known.")
    note = forms.CharField(label="What exactly", max_length=200, required=False)


class ConsentForm(DeskForm):
    answer = forms.ChoiceField(
        label="May it be done?", choices=[("yes", "Yes"), ("no", "No")], widget=forms.RadioSelect
    )
    words_ = words_field("Why, and what must be kept")

    def words(self) -> dict[str, Any]:
        data = super().words()
        data["words"] = data.pop("words_")
        return data


class VehicleChoice(forms.Form):
    """Which vehicle a new job is for."""

    vehicle = forms.ModelChoiceField(
        Vehicle.objects.order_by("number"), label="Vehicle", to_field_name="code", empty_label=None
    )
