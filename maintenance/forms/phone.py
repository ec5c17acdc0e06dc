"""What is typed at the vehicle: short forms, each for one act on a job."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.forms.base import DayField
from fleet.models import Person
from maintenance.enums import HeldFor, Judgement, TestKind
from maintenance.judging import look_words
from maintenance.models import JobCard, Measure

MOMENTS = [("as found", "As found"), ("as left", "As left")]
OUTCOMES = [
    ("done", "Done, nothing left over"),
    ("limit", "Done, a limit is needed"),
    ("not run", "Not done, must not run"),
    ("as found", "Put back as found"),
]


class Figure(forms.CharField):
    """A figure as it is typed on a phone's decimal pad, where some pads have only a comma."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 20)
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> str:
        text = super().to_python(value) or ""
        return text.replace(",", ".") if text.count(",") == 1 and "." not in text else text


def words(
    label: str, *, rows: int = 2, required: bool = True, longest: int = 2000, help_text: str = ""
) -> forms.CharField:
    return forms.CharField(
        label=label,
        required=required,
        max_length=longest,
        help_text=help_text,
        widget=forms.Textarea(attrs={"rows": rows}),
    )


def photo_field(label: str = "Photograph", *, required: bool = False) -> forms.FileField:
    """A plain file field: the photograph service judges the content, and draws it anew."""
    return forms.FileField(
        label=label,
        required=required,
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment", "data-shrink": ""}),
    )


class RefusingForm(forms.Form):
    """Puts what a service refused at the field that it is about."""

    def refuse(self, trouble: ValidationError) -> None:
        if not hasattr(trouble, "error_dict"):
            self.add_error(None, trouble)
            return
        for name, errors in trouble.error_dict.items():
            self.add_error(name if name in self.fields else None, errors)


class PhoneForm(RefusingForm):
    """One act on one job. `row` is the thing on the job that it is about, where there is one."""

    def __init__(
        self,
        *args: Any,
        card: JobCard | None = None,
        person: Person | None = None,
        row: Any = None,
        **kwargs: Any,
    ) -> None:
        self.card, self.person, self.row = card, person, row
        super().__init__(*args, **kwargs)


class PlainForm(PhoneForm):
    """A press and nothing else."""


class StepForm(PhoneForm):
    done = forms.BooleanField(required=False)


class HandBackForm(PhoneForm):
    note = forms.CharField(label="A word for the next one", required=False, max_length=200)


class HoldForm(PhoneForm):
    reason = forms.ChoiceField(
        label="What does it wait for?",
        choices=[(value, label) for value, label in HeldFor.choices if value != HeldFor.OWNER_GONE],
    )
    until = DayField(label="Until", required=False)
    note = forms.CharField(label="Say more", required=False, max_length=200)


class HoursForm(PhoneForm):
    hours = Figure(label="Hours at the bench")
    day = DayField(label="On", required=False)
    note = forms.CharField(label="Doing what", required=False, max_length=200)

    def clean_day(self) -> dt.date:
        return self.cleaned_data["day"] or timezone.localdate()


class ReadingForm(PhoneForm):
    """One value for each position of a measure, and whether it is as found or as left."""

    moment = forms.ChoiceField(label="When", choices=MOMENTS, widget=forms.RadioSelect)
    note = forms.CharField(label="Note", required=False, max_length=200)

    def __init__(self, *args: Any, row: Measure, **kwargs: Any) -> None:
        super().__init__(*args, row=row, **kwargs)
        for place, label in enumerate(row.positions or [row.name]):
            self.fields[f"value_{place}"] = self._value(row, label)

    @staticmethod
    def _value(measure: Measure, label: str) -> forms.Field:
        if measure.judgement == Judgement.LOOK:
            seen = [(word, word) for word in look_words(measure.choices)]
            return forms.ChoiceField(label=label, required=False, choices=[("", "Not looked at"), *seen])
        return Figure(label=label, required=False)

    @property
    def values(self) -> list[str]:
        return [self.cleaned_data.get(name) or "" for name in self.fields if name.startswith("value_")]


class PhotoForm(PhoneForm):
    photo = photo_field(required=True)
    moment = forms.ChoiceField(label="Shows it", required=False, choices=[*MOMENTS, ("note", "By the way")])
    shows = forms.CharField(label="What it shows", required=False, max_length=160)


class OffForm(PhoneForm):
    what = forms.CharField(label="What came off", max_length=160)
    count = forms.IntegerField(
        label="How many",
        initial=1,
        min_value=1,
        max_value=999,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    tray = forms.CharField(label="Bag or tray", required=False, max_length=40)
    marks = forms.CharField(label="Marks, shims by position", required=False, max_length=200)
    renew = forms.CharField(
        label="To renew on refitting",
        required=False,
        max_length=120,
        help_text="Lockwire, split pin, gasket.",
    )
    torque = forms.CharField(label="Torque, with its source", required=False, max_length=60)
    number = forms.IntegerField(
        label="Number", required=False, min_value=1, max_value=999, help_text="Empty: the next one.",
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    photo = photo_field("As found")


class StaysOffForm(PhoneForm):
    reason = forms.CharField(
        label="Why it stays off", max_length=160, help_text="Renewed, scrapped, kept as an original."
    )


class OriginalForm(PhoneForm):
    label = forms.CharField(label="Number on its label", max_length=40)
    shelf = forms.CharField(label="Shelf", max_length=60)


class SafeForm(PhoneForm):
    state_of_strip = words("How it stands", longest=1000)
    parts_where = forms.CharField(label="Where the parts are", max_length=200)
    next_step = forms.CharField(label="What comes next", max_length=200)


class TestForm(PhoneForm):
    __test__ = False
    kind = forms.ChoiceField(label="Test", choices=TestKind.choices)
    result = forms.ChoiceField(
        label="Result", choices=[("passed", "Passed"), ("failed", "Failed")], widget=forms.RadioSelect
    )
    words = forms.CharField(label="What was done, what was seen", required=False, max_length=300)


class CloseForm(PhoneForm):
    outcome = forms.ChoiceField(label="How do you leave it?", choices=OUTCOMES, widget=forms.RadioSelect)
    words = words("What was found, what was done", rows=3)


class SignForm(PhoneForm):
    """Another person signs on this phone: their name, and their own PIN or password."""

    signer = forms.IntegerField(label="Your name", widget=forms.Select)
    proof = forms.CharField(
        label="Your own PIN or password", max_length=200, strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    words = forms.CharField(label="What you looked at", required=False, max_length=200)

    def __init__(self, *args: Any, signers: Sequence[tuple[int, str]] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # A name that is not offered is refused by the service, with its own sentence.
        self.fields["signer"].widget = forms.Select(choices=[("", "Choose your name"), *signers])


class ReturnForm(PhoneForm):
    words = forms.CharField(label="Words", required=False, max_length=200)


class SettleForm(PhoneForm):
    words = words("Which holds, and why")


class FoundForm(PhoneForm):
    words = words("What did you find?", longest=2000)
    photo = photo_field()


class PartForm(PhoneForm):
    name = forms.CharField(label="What is wanted", max_length=120)
    quantity = forms.IntegerField(
        label="How many",
        initial=1,
        min_value=1,
        max_value=999,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    note = forms.CharField(label="Size, drawing, sample", required=False, max_length=200)
