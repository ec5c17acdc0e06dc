"""Vehicles: what is written about them, meters, outings, papers, facts, photographs, systems."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, ClassVar

from django import forms
from django.core.validators import RegexValidator
from django.utils import timezone

from fleet.enums import Function, MeterKind, PaperKind, Sureness, VehicleStatus
from fleet.forms.base import ActForm, DayField, MomentField, SeenForm, figure_field
from fleet.hazards import HAZARDS
from fleet.models import Meter, Person, Subsystem, Vehicle, VehicleKind

if TYPE_CHECKING:
    _MeterChoice = forms.ModelChoiceField[Meter]
else:
    _MeterChoice = forms.ModelChoiceField

TAKEN_WORDS = frozenset({"add"})  # addresses of their own under /vehicles/


class VehicleForm(SeenForm):
    number = forms.CharField(label="Number", max_length=12, help_text="As painted on it.")
    name = forms.CharField(label="Name", max_length=60)
    code = forms.CharField(
        label="Code", max_length=20, help_text="Short name used in tables and addresses, such as V04.",
        validators=[RegexValidator(r"^[A-Za-z0-9_-]+$", "Letters, digits, - and _ only.")],
    )  # fmt: skip
    kind = forms.ChoiceField(label="Kind", choices=VehicleKind.choices, initial=VehicleKind.LORRY)
    make = forms.CharField(label="Maker and type", max_length=120, required=False)
    year = forms.IntegerField(label="Year built", required=False, min_value=1750, max_value=2100)
    place = forms.CharField(label="Lives in", max_length=60, required=False)
    keeper = forms.ModelChoiceField(Person.objects.filter(left_on=None), label="Keeper", required=False)
    owner = forms.CharField(label="Owner, when lent or visiting", max_length=120, required=False)
    notes = forms.CharField(label="Worth noting", required=False, widget=forms.Textarea(attrs={"rows": 3}))
    is_tracked = forms.BooleanField(label="Tracked: needs its commander", required=False)
    is_closed = forms.BooleanField(label="Closed crew space: carbon monoxide check", required=False)
    is_steam = forms.BooleanField(label="Steam", required=False)
    lifts = forms.BooleanField(label="Crane, winch or ladder under thorough examination", required=False)
    length_m = forms.DecimalField(
        label="Length, m", required=False, max_digits=5, decimal_places=2, min_value=0
    )
    width_m = forms.DecimalField(
        label="Width, m", required=False, max_digits=5, decimal_places=2, min_value=0
    )
    height_m = forms.DecimalField(
        label="Height, m", required=False, max_digits=5, decimal_places=2, min_value=0
    )
    weight_kg = forms.IntegerField(label="Weight, kg", required=False, min_value=0, max_value=500_000)
    seats = forms.IntegerField(label="Seats", required=False, min_value=0, max_value=300)

    groups: ClassVar[Sequence[tuple[str, Sequence[str]]]] = (
        (
            "What it is",
            ("number", "name", "code", "kind", "make", "year", "place", "keeper", "owner", "notes"),
        ),
        ("Marks", ("is_tracked", "is_closed", "is_steam", "lifts")),
        ("Size", ("length_m", "width_m", "height_m", "weight_kg", "seats")),
    )

    def shown(self, row: Any) -> dict[str, Any]:
        plain = {
            name: getattr(row, name) for name in self.base_fields if name not in {"seen", "keeper", "meters"}
        }
        return {**plain, "keeper": row.keeper_id}

    def clean_code(self) -> str:
        code = str(self.cleaned_data["code"])
        if code.lower() in TAKEN_WORDS:
            raise forms.ValidationError("That word is an address here already. Choose another code.")
        return code


class VehicleAddForm(VehicleForm):
    """Tracks and steam follow from the kind unless they are ticked."""

    meters = forms.MultipleChoiceField(
        label="Meters", required=False, choices=MeterKind.choices, widget=forms.CheckboxSelectMultiple
    )
    groups: ClassVar[Sequence[tuple[str, Sequence[str]]]] = (*VehicleForm.groups, ("Meters", ("meters",)))

    def __init__(self, data: Any = None) -> None:
        super().__init__(data, row=Vehicle(code="", kind=VehicleKind.LORRY))

    def words(self) -> dict[str, Any]:
        words = super().words()
        for mark in ("is_tracked", "is_steam"):
            if not words[mark]:
                del words[mark]
        return words


class StatusForm(ActForm):
    status = forms.ChoiceField(label="From now on", choices=VehicleStatus.choices, widget=forms.RadioSelect)
    status_reason = forms.CharField(
        label="Why", required=False, max_length=200, help_text="Needed unless it comes back into service."
    )
    since = DayField(label="Since", required=False, help_text="Empty: today.")

    def words(self) -> dict[str, Any]:
        data = self.cleaned_data
        return {"status": data["status"], "reason": data["status_reason"], "since": data["since"]}


class MeterChoice(_MeterChoice):
    def label_from_instance(self, obj: Meter) -> str:
        return str(obj.get_kind_display())


class MeterReadForm(ActForm):
    meter = MeterChoice(Meter.objects.none(), label="Meter", empty_label=None)
    shown = figure_field("It shows", help_text="As it stands there, tenths after a point.")
    read_at = MomentField(label="Read at", required=False, help_text="Empty: now.")
    meter_changed = forms.BooleanField(
        label="The meter itself was changed",
        required=False,
        help_text="Only then may it show less than before.",
    )
    old_last = figure_field(
        "The old meter ended at", required=False, help_text="When somebody read it before it came out."
    )
    note = forms.CharField(label="Note", required=False, max_length=200)

    def __init__(self, *args: Any, meters: Iterable[Meter], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["meter"]
        if isinstance(choice, forms.ModelChoiceField):
            choice.queryset = Meter.objects.filter(pk__in=[meter.pk for meter in meters])

    def words(self) -> dict[str, Any]:
        words = super().words()
        return {**words, "old_last": words["old_last"] or None}


class MeterAddForm(ActForm):
    kind = forms.ChoiceField(label="A meter for", choices=MeterKind.choices)


class OutingForm(ActForm):
    day = DayField(label="Day", initial=timezone.localdate)
    hours = figure_field("Hours run", required=False)
    km = figure_field("Kilometres", required=False)
    purpose = forms.CharField(label="What for", required=False, max_length=120)
    driver = forms.ModelChoiceField(Person.objects.filter(left_on=None), label="Driver", required=False)
    stopped_by_fault = forms.BooleanField(label="A fault ended it early", required=False)

    def words(self) -> dict[str, Any]:
        words = super().words()
        return {**words, "hours": words["hours"] or 0, "km": words["km"] or 0}


class PaperForm(ActForm):
    kind = forms.ChoiceField(label="Paper", choices=PaperKind.choices)
    reference = forms.CharField(label="Its number or where it is", required=False, max_length=80)
    valid_through = DayField(
        label="Good through", required=False, help_text="The last day it holds. Empty: no end."
    )
    note = forms.CharField(label="Note", required=False, max_length=200)


def subsystem_field() -> forms.ModelChoiceField[Subsystem]:
    return forms.ModelChoiceField(Subsystem.objects.none(), label="System", required=False)


class FactForm(ActForm):
    about = forms.CharField(label="About", max_length=120, help_text="Such as: stamp 2 on the drum.")
    value = forms.CharField(label="What we hold to be so", max_length=200)
    source = forms.CharField(
        label="How we know",
        max_length=200,
        required=False,
        help_text="Manual and page, the part itself, a letter.",
    )
    sureness = forms.ChoiceField(label="How sure", choices=Sureness.choices, initial=Sureness.TOLD)
    said_by = forms.CharField(label="Said by", max_length=80, required=False)
    subsystem = subsystem_field()

    def __init__(self, *args: Any, vehicle: Vehicle, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["subsystem"]
        if isinstance(choice, forms.ModelChoiceField):
            choice.queryset = vehicle.subsystems.all()


class CorrectForm(ActForm):
    value = forms.CharField(label="Right is", max_length=200)
    reason = forms.CharField(label="Why the old one was wrong", max_length=300)
    source = forms.CharField(label="How we know", max_length=200, required=False)
    sureness = forms.ChoiceField(label="How sure", choices=Sureness.choices, initial=Sureness.MEASURED)
    said_by = forms.CharField(label="Said by", max_length=80, required=False)


class PhotoForm(ActForm):
    photo = forms.FileField(
        label="Photograph", help_text="JPEG, PNG or WebP, at most 15 MB.",
        widget=forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )  # fmt: skip
    shows = forms.CharField(
        label="What it shows", max_length=160, help_text="Read aloud to those who cannot see it."
    )

    def words(self) -> dict[str, Any]:
        return {"upload": self.cleaned_data["photo"], "shows": self.cleaned_data["shows"]}


def _serves() -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        label="A fault in it touches",
        required=False,
        choices=Function.choices,
        widget=forms.CheckboxSelectMultiple,
    )


def _hazards() -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        label="Cautions shown first on a job", required=False, widget=forms.CheckboxSelectMultiple,
        choices=[(hazard.code, hazard.title) for hazard in HAZARDS.values()],
    )  # fmt: skip


class SystemForm(SeenForm):
    name = forms.CharField(label="Name", max_length=80)
    order = forms.IntegerField(label="Place in the list", min_value=0, max_value=32_000)
    serves = _serves()
    hazards = _hazards()

    def shown(self, row: Any) -> dict[str, Any]:
        return {"name": row.name, "order": row.order, "serves": row.serves, "hazards": row.hazards}


class SystemAddForm(ActForm):
    code = forms.CharField(
        label="Code", max_length=30, help_text="Such as HORN, or ELE.horn for a part of the electrics.",
        validators=[RegexValidator(r"^[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]+)?$", "Letters, digits, - and _, with at most one point.")],
    )  # fmt: skip
    name = forms.CharField(label="Name", max_length=80)
    serves = _serves()
    hazards = _hazards()
