"""What is asked about a fault at the desk: the assessment with its next act, joining, setting aside, opening again."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.enums import Function, InspectArea
from fleet.models import Skill, Subsystem
from maintenance.enums import Effect, Timing
from maintenance.forms.desk import (
    AS_ASKED,
    DeskForm,
    Several,
    figure_field,
    figure_of,
    lines_of,
    people,
    serves_words,
    system_choices,
    words_field,
)
from maintenance.models import Access, Defect, Place, SpecialTool
from maintenance.models.defects import PROBABILITIES, SEVERITIES

THEN = [
    ("job", "Make a job of it"),
    ("put off", "Put it off, with limits"),
    ("nothing", "Nothing yet"),
]
JOB_FIELDS = (
    "job_title", "timing", "hours_best", "hours_usual", "hours_bad", "persons", "suits", "skills", "access", "place",
    "tools", "parts", "functional", "road", "second",
)  # fmt: skip


class AssessForm(DeskForm):
    """One page: where it is, what it takes from the vehicle, how bad and how often, and what comes next."""

    act = "desk.assess"
    title = forms.CharField(label="What is wrong, in one line", max_length=200)
    subsystem = forms.ChoiceField(
        label="Which system", required=False, help_text="In brackets: what it serves."
    )
    severity = forms.TypedChoiceField(
        label="If it goes wrong while in use, how bad, realistically worst?", choices=SEVERITIES, coerce=int,
        widget=forms.RadioSelect, help_text="Fix this first, and do not lower it to suit the date.",
    )  # fmt: skip
    probability = forms.ChoiceField(
        label="In one season's use as programmed, how often would it do that?", choices=PROBABILITIES,
        widget=forms.RadioSelect, help_text="Only use, exposure or a barrier changes the letter. Training or a warning never earns F.",
    )  # fmt: skip
    then = forms.ChoiceField(label="What comes next", choices=THEN, widget=forms.RadioSelect, initial="job")
    job_title = forms.CharField(
        label="What is to be done", max_length=200, required=False, help_text="Empty: as the fault is called."
    )
    timing = forms.ChoiceField(label="When", choices=Timing.choices, required=False, initial=Timing.BEFORE)
    hours_best = figure_field("Hours, at best", required=False)
    hours_usual = figure_field("Hours, as a rule", required=False)
    hours_bad = figure_field(
        "Hours, if it goes badly", required=False, help_text="Bench hours. The usual alone will do, or none."
    )
    persons = forms.IntegerField(
        label="Persons, for all of those hours", min_value=1, max_value=12, initial=1, required=False
    )
    suits = forms.ModelChoiceField(people(), label="Suits", required=False, empty_label="No one named")
    skills = Several(Skill.objects.all(), label="Skill, any one of these")
    access = forms.ModelChoiceField(
        Access.objects.all(), label="Way in", required=False, empty_label="Nothing to open"
    )
    place = forms.ModelChoiceField(Place.objects.all(), label="Place", required=False, empty_label="Anywhere")
    tools = Several(SpecialTool.objects.all(), label="Special tools")
    parts = words_field(
        "Parts, one a line", required=False, help_text="They go to the stores as not ordered."
    )
    functional = forms.ChoiceField(label="Functional test", choices=AS_ASKED, required=False)
    road = forms.ChoiceField(label="Road test", choices=AS_ASKED, required=False)
    second = forms.ChoiceField(label="Second signature", required=False)

    def __init__(self, *args: Any, defect: Defect, systems: list[Subsystem], **kwargs: Any) -> None:
        self.defect, self.systems = defect, systems
        shown = {effect.function: effect.effect for effect in defect.effects.all()}
        kwargs["initial"] = {
            "title": defect.title, "subsystem": defect.subsystem_id or "", "severity": defect.severity,
            "probability": defect.probability, **{f"effect_{code}": effect for code, effect in shown.items()},
            **(kwargs.get("initial") or {}),
        }  # fmt: skip
        super().__init__(*args, row=defect, **kwargs)
        self.fields["subsystem"].choices = system_choices(systems, "Not sure where")  # type: ignore[attr-defined]
        self.fields["second"].choices = [  # type: ignore[attr-defined]
            ("", "As its system asks"), ("none", "None wanted"), *InspectArea.choices,
        ]  # fmt: skip
        for code, name in Function.choices:
            self.fields[f"effect_{code}"] = forms.ChoiceField(
                label=str(name).capitalize(), choices=[("", "None"), *Effect.choices], required=False
            )

    @property
    def chosen_system(self) -> Subsystem | None:
        """The system that is chosen on the page, whether it is handed in or not."""
        value = str(self["subsystem"].value() or "")
        return next((row for row in self.systems if str(row.pk) == value), None)

    def clean_subsystem(self) -> Subsystem | None:
        return next((row for row in self.systems if str(row.pk) == self.cleaned_data["subsystem"]), None)

    def served(self) -> list[forms.BoundField]:
        """Effects on what the chosen system serves; for "not sure where", none is sure."""
        codes = self.chosen_system.serves if self.chosen_system else []
        return [self[f"effect_{code}"] for code in Function.values if code in codes or self._is_set(code)]

    def others(self) -> list[forms.BoundField]:
        near = {bound.name for bound in self.served()}
        return [self[f"effect_{code}"] for code in Function.values if f"effect_{code}" not in near]

    def serves(self) -> str:
        return serves_words(self.chosen_system.serves) if self.chosen_system else ""

    def _is_set(self, code: str) -> bool:
        return bool(self[f"effect_{code}"].value())

    def job_sets(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [
            ("Work", [self[name] for name in JOB_FIELDS[:8]]),
            ("Way in, place, tools, parts", [self[name] for name in JOB_FIELDS[8:12]]),
            ("Tests and signatures", [self[name] for name in JOB_FIELDS[12:]]),
        ]

    def effects(self) -> dict[str, str]:
        return {
            code: self.cleaned_data[f"effect_{code}"]
            for code in Function.values
            if self.cleaned_data[f"effect_{code}"]
        }

    def words(self) -> dict[str, Any]:
        data = super().words()
        return {
            "severity": data["severity"], "probability": data["probability"], "effects": self.effects(),
            "title": data["title"], "subsystem": data["subsystem"], "job": self.job() if data["then"] == "job" else None,
            **({"expected_version": data["expected_version"]} if "expected_version" in data else {}),
        }  # fmt: skip

    def job(self) -> dict[str, Any]:
        """The plan of the job, as `card_open` takes it, and its parts."""
        data = self.cleaned_data
        plan = {name: data[name] for name in ("suits", "access", "place", "skills", "tools")}
        plan |= {name: figure_of(data, name) for name in ("hours_best", "hours_usual", "hours_bad")}
        plan |= {
            "title": data["job_title"] or data["title"],
            "timing": data["timing"] or Timing.BEFORE,
            "persons": data["persons"] or 1,
        }
        if data["functional"]:
            plan["needs_functional_test"] = data["functional"] == "yes"
        if data["road"]:
            plan["needs_road_test"] = data["road"] == "yes"
        if data["second"]:
            plan["second_area"] = "" if data["second"] == "none" else data["second"]
        return {"plan": plan, "parts": lines_of(data["parts"])}


class ReasonForm(DeskForm):
    """One reason in words. The page names the field."""

    reason = words_field("Why", longest=300)

    def __init__(self, *args: Any, label: str = "Why", help_text: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].label, self.fields["reason"].help_text = label, help_text


class NoteForm(DeskForm):
    act = "desk.note"
    text = words_field("Add to it")

    def words(self) -> dict[str, Any]:
        return {"text": self.cleaned_data["text"]}


class JoinForm(DeskForm):
    """Which report this one is joined to."""

    into = forms.ModelChoiceField(Defect.objects.none(), label="Join it to", empty_label=None)

    def __init__(self, *args: Any, others: list[Defect], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["into"]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = Defect.objects.filter(pk__in=[one.pk for one in others])
