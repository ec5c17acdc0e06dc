"""What the workshop must not forget: accidents, readings on paper, hands from outside, what is original, what rests on a fact."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone

from fleet.forms.base import MomentField
from fleet.models import Fact, Person, Photo, Subsystem, Vehicle
from fleet.services.photos import photo_add
from maintenance.enums import (
    OPEN_STATES,
    FabricStanding,
    Hurt,
    IncidentKind,
    OutsideKind,
    Reversible,
)
from maintenance.forms.desk import DayField, DeskForm, people, vehicles, words_field
from maintenance.forms.phone import photo_field
from maintenance.models import FactUse, Inspection, JobCard, Measure, PartNeed

MOST_PHOTOS = 3
READINGS_SHOWN = 30


def keep_photo(
    upload: UploadedFile[bytes] | None, *, by: Person, vehicle: Vehicle | None, shows: str
) -> Photo | None:
    """A photograph that came with a form, kept; a bad one is refused at its own field."""
    if upload is None:
        return None
    try:
        return photo_add(by=by, upload=upload, vehicle=vehicle, shows=shows)
    except ValidationError as trouble:
        raise ValidationError({"photo": trouble.messages}) from trouble


class MemoryForm(DeskForm):
    """A desk form whose service counts no versions."""

    def words(self) -> dict[str, Any]:
        data = {name: value for name, value in super().words().items() if name != "expected_version"}
        return {name.removesuffix("_"): value for name, value in data.items()}


class IncidentForm(MemoryForm):
    act = "desk.incident"
    kind = forms.ChoiceField(label="Which", choices=IncidentKind.choices, widget=forms.RadioSelect)
    vehicle = forms.ModelChoiceField(
        vehicles(), label="Vehicle", required=False, empty_label="No vehicle",
        help_text="It is tagged do not run and held as found until the lead or the manager releases it.",
    )  # fmt: skip
    happened_at = MomentField(label="When it happened")
    place = forms.CharField(label="Where", max_length=120)
    what = words_field("What happened, in the order in which it happened", rows=4, longest=4000)
    hurt = forms.ChoiceField(label="Was anybody hurt?", choices=Hurt.choices, initial=Hurt.NOBODY)
    who_hurt = forms.CharField(
        label="Who, and how", max_length=300, required=False,
        help_text="Shown to the lead, the manager and whoever wrote it down.",
    )  # fmt: skip
    witnesses = forms.CharField(label="Who saw it", max_length=300, required=False)
    done_at_once = words_field("What was done at once", required=False)
    photo = photo_field("Photograph, as it was found")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        now = timezone.localtime().replace(second=0, microsecond=0)
        kwargs["initial"] = {"happened_at": now, **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)

    def clean_happened_at(self) -> dt.datetime:
        moment: dt.datetime = self.cleaned_data["happened_at"]
        if moment > timezone.now():
            raise ValidationError("That moment has not come yet.")
        return moment


class NoteForm(MemoryForm):
    act = "desk.incident_note"
    text = words_field("To be added", rows=3)
    photo = photo_field()


class ReleaseForm(MemoryForm):
    words_ = words_field("Who looked at it, and what was photographed and measured", rows=3)


class LearntForm(MemoryForm):
    learnt = words_field("What was learnt, and what is done differently from now on", rows=4)


class PaperPhotoForm(MemoryForm):
    act = "desk.paper"
    photo = photo_field("Photograph of the paper", required=True)
    words_ = forms.CharField(label="What is on it", max_length=200, required=False)
    card = forms.ModelChoiceField(
        JobCard.objects.none(), label="On the job", required=False, empty_label="On no job"
    )

    def __init__(self, *args: Any, vehicle: Vehicle, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["card"].queryset = vehicle.cards.filter(state__in=OPEN_STATES)  # type: ignore[attr-defined]


class CopiedForm(MemoryForm):
    words_ = forms.CharField(
        label="Worth saying", max_length=200, required=False,
        help_text="Wanted when no reading was copied: why not.",
    )  # fmt: skip


class OutsideForm(MemoryForm):
    act = "desk.outside"
    kind = forms.ChoiceField(label="Who it is", choices=OutsideKind.choices)
    who = forms.CharField(label="Name", max_length=120)
    contact = forms.CharField(label="Telephone or address", max_length=160, required=False)
    about = forms.CharField(label="What is asked of them", max_length=200)
    vehicle = forms.ModelChoiceField(
        vehicles(), label="Vehicle", required=False, empty_label="No one vehicle"
    )
    card = forms.ModelChoiceField(
        JobCard.objects.filter(state__in=OPEN_STATES), label="The job that waits", required=False,
        empty_label="No job",
    )  # fmt: skip
    inspection = forms.ModelChoiceField(
        Inspection.objects.select_related("vehicle"), label="The inspection that waits", required=False,
        empty_label="No inspection",
    )  # fmt: skip
    part = forms.ModelChoiceField(
        PartNeed.objects.exclude(state__in=["fitted", "not needed"]), label="The part", required=False,
        empty_label="No part",
    )  # fmt: skip
    asked_on = DayField(label="Asked on")
    answer_by = DayField(label="Ask again if no answer by", required=False, help_text="Empty: after a week.")
    comes_on = DayField(label="Comes on", required=False, help_text="Empty: no answer yet.")
    note = forms.CharField(label="Note", max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["initial"] = {"asked_on": timezone.localdate(), **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)


class AppointForm(MemoryForm):
    comes_on = DayField(label="Comes on")
    note = forms.CharField(label="Note", max_length=200, required=False)


class CameForm(MemoryForm):
    note = forms.CharField(label="What they did or found", max_length=200, required=False)


class OffForm(MemoryForm):
    note = forms.CharField(label="Why it came to nothing", max_length=200)


class FabricForm(MemoryForm):
    act = "desk.fabric"
    name = forms.CharField(label="Part", max_length=120)
    subsystem = forms.ModelChoiceField(
        Subsystem.objects.none(), label="System", required=False, empty_label="The vehicle as a whole"
    )
    standing = forms.ChoiceField(label="It is", choices=FabricStanding.choices)
    hands_off = forms.BooleanField(
        label="Do not polish, paint, grind or drill", required=False,
        help_text="Said on every job on this system.",
    )  # fmt: skip
    hazard = forms.CharField(
        label="Hazard in it", max_length=160, required=False, help_text="Such as asbestos: sealed."
    )
    note = forms.CharField(label="Note", max_length=300, required=False)

    def __init__(self, *args: Any, vehicle: Vehicle, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["subsystem"].queryset = vehicle.subsystems.all()  # type: ignore[attr-defined]


class KeepForm(MemoryForm):
    label_ = forms.CharField(label="Number on its label", max_length=40)
    shelf = forms.CharField(label="Shelf", max_length=60)
    reason = forms.CharField(label="Why it came off", max_length=200)
    card = forms.ModelChoiceField(
        JobCard.objects.none(), label="On the job", required=False, empty_label="On no job"
    )

    def __init__(self, *args: Any, vehicle: Vehicle, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["card"].queryset = vehicle.cards.filter(state__in=OPEN_STATES)  # type: ignore[attr-defined]


class ShelfForm(MemoryForm):
    shelf = forms.CharField(label="Lies now on shelf", max_length=60)
    why = forms.CharField(label="Why", max_length=200, required=False)


class BackForm(MemoryForm):
    words_ = forms.CharField(label="Worth saying", max_length=200, required=False)


class PartWithForm(MemoryForm):
    why = forms.CharField(label="Why, and what became of it", max_length=300)


class ProposeForm(DeskForm):
    proposal = words_field("What is proposed, and why", rows=3)
    alternatives = words_field(
        "What else was thought of", rows=2, help_text="Clean, adjust, repair, copy, replace, leave as it is."
    )
    reversible = forms.ChoiceField(label="Can it be undone?", choices=Reversible.choices)
    evidence = forms.CharField(label="What evidence is lost or covered", max_length=300, required=False)


class SecondForm(DeskForm):
    person = forms.ModelChoiceField(
        people(), label="Second person", required=False, empty_label="Nobody yet",
        help_text="For work that nobody does alone.",
    )  # fmt: skip


class DrawingForm(MemoryForm):
    photo = photo_field("Drawing, or photograph with sizes", required=True)


class FactUseForm(MemoryForm):
    """One choice among everything on the vehicle that can rest on a fact."""

    act = "desk.fact_use"
    what = forms.ChoiceField(label="What rests on it")
    against = forms.BooleanField(
        label="It speaks against the fact", required=False, help_text="Such as a reading that contradicts it."
    )

    def __init__(self, *args: Any, fact: Fact, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        vehicle = fact.vehicle
        self.rows: dict[str, dict[str, Any]] = {
            "card": {str(row.pk): row for row in vehicle.cards.order_by("-serial")},
            "defect": {str(row.pk): row for row in vehicle.defects.all()},
            "deferral": {
                str(row.pk): row
                for defect in vehicle.defects.prefetch_related("deferrals__defect")
                for row in defect.deferrals.all()
            },
            "measure": {str(row.pk): row for row in vehicle.measures.all()},
            "reading": {
                str(row.pk): row
                for measure in Measure.objects.filter(vehicle=vehicle).prefetch_related("readings__measure")
                for row in list(measure.readings.all())[-READINGS_SHOWN:]
            },
        }
        titles = {
            "card": "Jobs", "defect": "Faults", "deferral": "What was put off", "measure": "Limits",
            "reading": "Readings",
        }  # fmt: skip
        self.fields["what"].choices = [  # type: ignore[attr-defined]
            (titles[name], [(f"{name}-{pk}", str(row)[:90]) for pk, row in rows.items()])
            for name, rows in self.rows.items()
            if rows
        ]

    def words(self) -> dict[str, Any]:
        name, _, pk = self.cleaned_data["what"].partition("-")
        return {"against": self.cleaned_data["against"], name: self.rows[name][pk]}


class SettleUseForm(MemoryForm):
    how = forms.CharField(
        label="What was done about it",
        max_length=200,
        help_text="Done again, measured again, limit changed; or why nothing needs to be done.",
    )


def uses_to_settle(vehicle: Vehicle) -> list[FactUse]:
    """Uses of facts that were corrected since, and that nobody has settled."""
    rows = FactUse.objects.filter(fact__vehicle=vehicle, fact__corrected_by__isnull=False, settled_on=None)
    return list(rows.select_related("fact", *FactUse.OWNERS))
