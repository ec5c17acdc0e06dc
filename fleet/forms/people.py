"""People: particulars and roles, what they are checked for, and leaving."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.core.validators import RegexValidator

from fleet.enums import CompetenceKind, Engagement, InspectArea
from fleet.forms.account import NAME
from fleet.forms.base import ActForm, ClockField, DayField, SeenForm
from fleet.models import Person, Skill, Vehicle

ROLE_LABELS = {
    "is_driver": ("Driver", "takes vehicles out, reads meters, hands in faults"),
    "is_mechanic": ("Mechanic", "takes jobs and writes on them"),
    "is_lead": ("Workshop lead", "assesses faults, returns vehicles to service"),
    "is_coordinator": ("Coordinator", "programme, plan, who is in"),
    "is_manager": ("Manager", "signs what is put off, and the go for an event"),
    "is_curator": ("Curator", "answers for the fabric and what we know"),
    "is_administrator": ("Administrator", "people, sign-ins and settings"),
}


class PersonForm(SeenForm):
    name = forms.CharField(label="Name", max_length=80)
    code = forms.CharField(
        label="Code", max_length=20, help_text="Short name used in tables, such as P04.",
        validators=[RegexValidator(r"^[A-Za-z0-9_-]+$", "Letters, digits, - and _ only.")],
    )  # fmt: skip
    username = forms.CharField(
        label="Sign-in name", max_length=60, required=False, widget=forms.TextInput(attrs={**NAME, "autocomplete": "off"}),
        help_text="Empty: the code in small letters.",
    )  # fmt: skip
    email = forms.EmailField(label="E-mail", required=False)
    telephone = forms.CharField(label="Telephone", required=False, max_length=40)
    engagement = forms.ChoiceField(label="Here as", choices=Engagement.choices, initial=Engagement.VOLUNTEER)
    is_trainee = forms.BooleanField(label="Trainee: never works alone", required=False)
    skills = forms.ModelMultipleChoiceField(
        Skill.objects.all(), label="Skills", required=False, widget=forms.CheckboxSelectMultiple
    )
    more_skills = forms.CharField(
        label="Other skills",
        required=False,
        max_length=200,
        help_text="With commas between, such as: magnetos, canvas.",
    )
    day_start = ClockField(label="Work day begins", initial="10:00")
    day_end = ClockField(label="Work day ends", initial="16:00")
    bench_hours = forms.DecimalField(
        label="Hours at the bench in a work day", initial=4, min_value=Decimal("0.25"), max_value=24, decimal_places=2,
        help_text="Without tea, talk and tidying up; in quarters of an hour.",
    )  # fmt: skip
    turn_up_in_100 = forms.IntegerField(
        label="Comes, of 100 days meant", required=False, min_value=0, max_value=100,
        help_text="Empty: the museum's figure for volunteers or staff.",
    )  # fmt: skip

    groups: ClassVar[Sequence[tuple[str, Sequence[str]]]] = (
        ("Who", ("name", "code", "username", "email", "telephone", "engagement")),
        ("Roles", (*ROLE_LABELS, "is_trainee")),
        ("Skills", ("skills", "more_skills")),
        ("Work day", ("day_start", "day_end", "bench_hours", "turn_up_in_100")),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, (label, words) in ROLE_LABELS.items():
            self.fields[name] = forms.BooleanField(label=label, help_text=words, required=False)
        if not self.fields["skills"].queryset.exists():  # type: ignore[attr-defined]
            del self.fields["skills"]

    def shown(self, row: Any) -> dict[str, Any]:
        names = ("name", "code", "username", "email", "telephone", "engagement", "is_trainee", *ROLE_LABELS)
        return {
            **{name: getattr(row, name) for name in names},
            "skills": [skill.pk for skill in row.skills.all()] if row.pk else [],
            "day_start": row.day_start.strftime("%H:%M"),
            "day_end": row.day_end.strftime("%H:%M"),
            "bench_hours": (Decimal(row.worked_quarters) / 4).normalize(),
            "turn_up_in_100": None if row.turn_up is None else int(row.turn_up * 100),
        }

    def clean_bench_hours(self) -> Decimal:
        hours: Decimal = self.cleaned_data["bench_hours"]
        if hours * 4 % 1:
            raise forms.ValidationError("In quarters of an hour, such as 4.25.")
        return hours

    def words(self) -> dict[str, Any]:
        words = super().words()
        share, hours = words.pop("turn_up_in_100"), words.pop("bench_hours")
        more = [part.strip() for part in words.pop("more_skills").split(",") if part.strip()]
        return {
            **words,
            "username": words["username"] or words["code"].lower(),
            "worked_quarters": int(hours * 4),
            "turn_up": None if share is None else Decimal(share) / 100,
            "skills": [*words.get("skills", []), *more],
        }

    def refuse(self, trouble: forms.ValidationError) -> None:
        renamed = {"worked_quarters": "bench_hours", "turn_up": "turn_up_in_100"}
        if hasattr(trouble, "error_dict"):
            trouble = forms.ValidationError(
                {renamed.get(name, name): errors for name, errors in trouble.error_dict.items()}
            )
        super().refuse(trouble)


class LeaveForm(ActForm):
    day = DayField(label="Last day", required=False, help_text="Empty: today.")


class CompetenceForm(ActForm):
    kind = forms.ChoiceField(label="Checked as", choices=CompetenceKind.choices)
    vehicle = forms.ModelChoiceField(
        Vehicle.objects.all(),
        label="On which vehicle",
        required=False,
        help_text="For a driver or fireman: needed.",
    )
    area = forms.ChoiceField(
        label="For which area", required=False, choices=[("", "none"), *InspectArea.choices],
        help_text="For an independent inspector: needed.",
    )  # fmt: skip
    valid_through = DayField(
        label="Good through", required=False, help_text="The last day it holds. Empty: no end."
    )
    with_person = forms.ModelChoiceField(
        Person.objects.filter(left_on=None), label="Only together with", required=False
    )
    checked_by = forms.CharField(label="Checked by", required=False, max_length=80, help_text="Empty: you.")
    note = forms.CharField(label="Note", required=False, max_length=200)
