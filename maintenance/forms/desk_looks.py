"""Inspections, tags, readings and use checks as they are written down at the desk."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone

from fleet.enums import MeterKind
from fleet.models import Person, Subsystem, Vehicle
from fleet.rules import may
from fleet.services.photos import photo_add
from maintenance.enums import OPEN_STATES, InspectionKind, Judgement, UseCheckKind
from maintenance.forms.desk import (
    DayField,
    DeskForm,
    figure_field,
    figure_of,
    lines_of,
    system_choices,
    words_field,
)
from maintenance.forms.phone import photo_field
from maintenance.judging import look_words
from maintenance.models import Defect, Inspection, JobCard, Measure, UseCheck
from maintenance.preferred import other_unit
from maintenance.rules import CHECK_ACTS
from maintenance.services.use_checks import check_record

FOUND_ROWS = 3
MOMENTS = [("check", "A check"), ("as found", "As found"), ("as left", "As left")]


class RecordForm(DeskForm):
    act = "desk.inspection"
    done_on = DayField(label="Done on")
    passed = forms.TypedChoiceField(
        label="Result",
        choices=[("yes", "Passed"), ("no", "Failed")],
        coerce=lambda word: word == "yes",
        widget=forms.RadioSelect,
    )
    meter = figure_field(
        "Meter at the look",
        required=False,
        help_text="In all, as the meter page counts it. Empty: the last reading before it.",
    )
    words_ = words_field("What was found", required=False, longest=300)
    by_name = forms.CharField(label="Outside examiner", max_length=80, required=False)
    reference = forms.CharField(label="Certificate or report number", max_length=80, required=False)
    valid_through = DayField(label="Valid through", required=False, help_text="Empty: the interval counts.")
    valid_to_meter = figure_field("Valid to meter", required=False)

    def __init__(self, *args: Any, inspection: Inspection, **kwargs: Any) -> None:
        kwargs["initial"] = {"done_on": timezone.localdate(), **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)
        if not inspection.interval_meter:
            del self.fields["meter"], self.fields["valid_to_meter"]
        if inspection.outside:
            for name in ("by_name", "reference"):
                self.fields[name].help_text = "Wanted for a pass: the examiner is from outside."

    def words(self) -> dict[str, Any]:
        data = super().words()
        data["words"] = data.pop("words_")
        for name in ("meter", "valid_to_meter"):
            if name in data:
                data[name] = figure_of(data, name)
        return {name: value for name, value in data.items() if name != "expected_version"}


class BookForm(DeskForm):
    day = DayField(label="Booked for", required=False, help_text="Empty takes the booking off.")


class VoidForm(DeskForm):
    why = forms.CharField(label="Why it no longer counts", max_length=200)


class InspectionForm(DeskForm):
    """A recurring look, set up or changed."""

    act = "desk.inspection_new"
    vehicle = forms.ModelChoiceField(
        Vehicle.objects.order_by("number"), label="Vehicle", required=False, empty_label="The site"
    )
    kind = forms.ChoiceField(label="Kind", choices=InspectionKind.choices)
    name = forms.CharField(label="Name", max_length=120)
    interval_days = forms.IntegerField(
        label="Every so many days", required=False, min_value=1, max_value=20_000
    )
    interval_amount = figure_field("Every so much by meter", required=False)
    interval_meter = forms.ChoiceField(
        label="Which meter", choices=[("", "None"), *MeterKind.choices], required=False
    )
    last_on = DayField(label="Last done on", required=False)
    last_meter = figure_field("Meter then", required=False)
    due_on = DayField(label="Valid through", required=False, help_text="Empty: counted from the last one.")
    hours = figure_field("Usual hours to do it", required=False)
    persons = forms.IntegerField(label="Persons", min_value=1, max_value=12, initial=1)
    outside = forms.BooleanField(label="By an outside examiner", required=False)
    skills = words_field("Skills, one a line", required=False)

    def __init__(self, *args: Any, inspection: Inspection | None = None, **kwargs: Any) -> None:
        self.inspection = inspection
        if inspection is not None:
            names = (
                "kind",
                "name",
                "interval_days",
                "interval_meter",
                "last_on",
                "due_on",
                "persons",
                "outside",
            )
            figures = ("interval_amount", "last_meter", "hours")
            shown = {name: getattr(inspection, name) for name in names}
            shown |= {
                name: f"{value.normalize():f}" if (value := getattr(inspection, name)) is not None else ""
                for name in figures
            }
            kwargs["initial"] = shown
        super().__init__(*args, **kwargs)
        if inspection is not None:
            del self.fields["vehicle"], self.fields["skills"]

    def words(self) -> dict[str, Any]:
        data = {name: value for name, value in super().words().items() if name != "expected_version"}
        data |= {name: figure_of(data, name) for name in ("interval_amount", "last_meter", "hours")}
        if data["hours"] is None:
            del data["hours"]
        if "skills" in data:
            data["skills"] = lines_of(data["skills"])
        return data


class HangForm(DeskForm):
    act = "desk.tag"
    reason = words_field("Why, in ten words or so", longest=200)
    card = forms.ModelChoiceField(
        JobCard.objects.none(), label="The job that it hangs for", required=False, empty_label="No job yet"
    )
    stub = forms.CharField(
        label="Number on the paper stub",
        max_length=12,
        required=False,
        help_text="Empty: the next free number; write it on the tag and its stub.",
    )

    def __init__(self, *args: Any, vehicle: Vehicle, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["card"].queryset = vehicle.cards.filter(state__in=OPEN_STATES)  # type: ignore[attr-defined]

    def words(self) -> dict[str, Any]:
        return {name: value for name, value in super().words().items() if name != "expected_version"}


class LiftForm(DeskForm):
    stub = forms.CharField(
        label="Number on the stub",
        max_length=12,
        help_text="Read it from the paper that came off the vehicle.",
    )
    reason = words_field(
        "Why it may run", required=False, longest=300, help_text="Wanted while its job is open."
    )


class ReadingForm(DeskForm):
    """One field for each position; a look has its named choices."""

    act = "desk.reading"
    moment_of = forms.ChoiceField(label="When it was read", choices=MOMENTS, initial="check")
    condition = forms.CharField(label="Warm or cold", max_length=40, required=False)
    card = forms.ModelChoiceField(
        JobCard.objects.none(), label="On the job", required=False, empty_label="On no job"
    )
    note = forms.CharField(label="Note", max_length=200, required=False)

    def __init__(self, *args: Any, measure: Measure, replaces: bool = False, **kwargs: Any) -> None:
        self.measure, self.replaces = measure, replaces
        kwargs["initial"] = {"condition": measure.condition, **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)
        self.positions = measure.positions or [""]
        for number, position in enumerate(self.positions):
            self.fields[f"value-{number}"] = self._value_field(position)
        self.fields["card"].queryset = measure.vehicle.cards.filter(state__in=OPEN_STATES)  # type: ignore[attr-defined]
        if replaces:
            for name in ("moment_of", "condition", "card"):
                del self.fields[name]
            self.fields["note"].label, self.fields["note"].required = "What was wrong with the old one", True

    def _value_field(self, position: str) -> forms.Field:
        label = f"{position}{', ' if position and self.measure.unit else ''}{self.measure.unit}" or "Reading"
        if self.measure.judgement == Judgement.LOOK:
            words = [(word, word) for word in look_words(self.measure.choices)]
            return forms.ChoiceField(
                label=position or "Seen", choices=[("", "Not looked at"), *words], required=False
            )
        other = other_unit(self.measure.unit)
        return figure_field(
            label[:1].upper() + label[1:]
            if position
            else f"Reading, {label}"
            if self.measure.unit
            else "Reading",
            required=False,
            help_text=f"On a gauge in {other}: write {other} behind the figure." if other else "",
        )

    def value_fields(self) -> list[forms.BoundField]:
        return [self[f"value-{number}"] for number in range(len(self.positions))]

    def other_fields(self) -> list[forms.BoundField]:
        return [bound for bound in self.visible_fields() if not bound.name.startswith("value-")]

    def words(self) -> dict[str, Any]:
        data = super().words()
        values = [data.pop(f"value-{number}") for number in range(len(self.positions))]
        if self.measure.judgement != Judgement.LOOK:
            values = [value.strip() for value in values]
        data.pop("expected_version", None)
        return {**data, "values": [value or None for value in values]}

    def refuse(self, trouble: ValidationError) -> None:
        if hasattr(trouble, "error_dict") and "values" in trouble.error_dict:
            self.add_error("value-0", trouble.error_dict.pop("values"))
        super().refuse(trouble)


class MeasureForm(DeskForm):
    """What is read and its limit. The limit says where it comes from."""

    act = "desk.measure"
    name = forms.CharField(label="What is read", max_length=120)
    system = forms.ChoiceField(label="System")
    unit = forms.CharField(label="Unit", max_length=16, required=False)
    positions = words_field(
        "Positions, one a line", required=False, help_text="Such as cylinders or wheels. Empty: one value."
    )
    method = forms.CharField(label="How it is taken", max_length=200, required=False)
    condition = forms.CharField(label="Warm or cold", max_length=40, required=False)
    judgement = forms.ChoiceField(label="Judged by", choices=Judgement.choices)
    low = figure_field("Least", required=False)
    high = figure_field("Most", required=False)
    basis = forms.ChoiceField(
        label="Counted as", required=False,
        choices=[("", "The figure itself"), ("percent", "Percent"), ("lowest of highest", "Lowest as percent of highest"), ("below average", "Percent below the average")],
    )  # fmt: skip
    choices = words_field(
        "For a look: good answers, one a line, then | on its own line, then the others",
        required=False,
        help_text="A good answer that ends with ? is to be watched.",
    )
    source = forms.CharField(
        label="Where the limit comes from",
        max_length=160,
        help_text="The manual and page, a standard, or house rule.",
    )

    LIMIT = ("judgement", "low", "high", "basis", "choices", "source")

    def __init__(self, *args: Any, vehicle: Vehicle, measure: Measure | None = None, **kwargs: Any) -> None:
        self.measure = measure
        if measure is not None:
            kwargs["initial"] = {
                "judgement": measure.judgement, "basis": measure.basis, "source": measure.source,
                "low": f"{measure.low.normalize():f}" if measure.low is not None else "",
                "high": f"{measure.high.normalize():f}" if measure.high is not None else "",
                "choices": "\n".join(measure.choices),
            }  # fmt: skip
        super().__init__(*args, **kwargs)
        for name in [
            name
            for name in self.fields
            if measure is not None and name not in {*self.LIMIT, "key", "version"}
        ]:
            del self.fields[name]
        if measure is None:
            systems = list(vehicle.subsystems.order_by("order", "code"))
            codes = {str(row.pk): row.code for row in systems}
            grouped = system_choices(systems, "")[1:]
            coded = [(top, [(codes[pk], label) for pk, label in rows]) for top, rows in grouped]
            self.fields["system"].choices = coded  # type: ignore[attr-defined]
        elif measure.basis and measure.basis not in dict(self.fields["basis"].choices):  # type: ignore[attr-defined]
            self.fields["basis"].choices = [*self.fields["basis"].choices, (measure.basis, measure.basis)]  # type: ignore[attr-defined]

    def words(self) -> dict[str, Any]:
        data = {name: value for name, value in super().words().items() if name != "expected_version"}
        data |= {
            "low": figure_of(data, "low"),
            "high": figure_of(data, "high"),
            "choices": lines_of(data["choices"]),
        }
        if "positions" in data:
            data["positions"] = lines_of(data["positions"])
        return data


PHOTO_FIELDS = ("photo_1", "photo_2", "photo_3")


class UseCheckForm(DeskForm):
    """Nil defect in so many words, or what was found: one of the two."""

    act = "desk.use_check"
    kind = forms.ChoiceField(label="Which check", widget=forms.RadioSelect)
    for_day = DayField(label="For use on", help_text="For an event check: its first day.")
    nil_defect = forms.BooleanField(label="Nil defect: I looked, and found nothing", required=False)
    words_ = words_field("Worth noting", required=False)
    photo_1 = photo_field("Photograph")
    photo_2 = photo_field("Another photograph")
    photo_3 = photo_field("A third photograph")

    def __init__(self, *args: Any, vehicle: Vehicle, by: Person, **kwargs: Any) -> None:
        self.systems: list[Subsystem] = list(vehicle.subsystems.order_by("order", "code"))
        kwargs["initial"] = {"for_day": timezone.localdate(), **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)
        kinds = [(kind.value, kind.label) for kind in UseCheckKind if may(by, CHECK_ACTS[kind])]
        self.fields["kind"].choices = kinds  # type: ignore[attr-defined]
        if len(kinds) == 1 and not self.is_bound:
            self.initial.setdefault("kind", kinds[0][0])
        for number in range(FOUND_ROWS):
            self.fields[f"found-{number}-words"] = words_field(f"Found, {number + 1}", required=False)
            self.fields[f"found-{number}-subsystem"] = forms.ChoiceField(
                label=f"Where, {number + 1}",
                required=False,
                choices=system_choices(self.systems, "Not sure where"),
            )

    def found_lines(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"found-{n}-words"], self[f"found-{n}-subsystem"]) for n in range(FOUND_ROWS)]

    def plain_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in ("kind", "for_day", "nil_defect")]

    def words(self) -> dict[str, Any]:
        data, by_pk = self.cleaned_data, {str(row.pk): row for row in self.systems}
        found = [
            {"words": data[f"found-{n}-words"], "subsystem": by_pk.get(data[f"found-{n}-subsystem"])}
            for n in range(FOUND_ROWS)
            if data[f"found-{n}-words"] or data[f"found-{n}-subsystem"]
        ]
        return {
            "kind": data["kind"],
            "for_day": data["for_day"],
            "nil_defect": data["nil_defect"],
            "defects": found,
            "words": data["words_"],
            "uploads": {name: data[name] for name in PHOTO_FIELDS if data[name]},
        }

    def photo_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in PHOTO_FIELDS]


def check_with_photos(
    *, by: Person, vehicle: Vehicle, uploads: Mapping[str, UploadedFile[bytes]], **words: Any
) -> tuple[UseCheck, list[Defect]]:
    """A check with its photographs kept first; a bad one is refused at its own field."""
    photos = []
    for name, upload in uploads.items():
        try:
            photos.append(photo_add(by=by, upload=upload, vehicle=vehicle, shows="With a check of use"))
        except ValidationError as trouble:
            raise ValidationError({name: trouble.messages}) from trouble
    return check_record(by=by, vehicle=vehicle, photos=photos, **words)
