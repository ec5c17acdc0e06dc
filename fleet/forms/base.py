"""What every form here shares: how a service's refusal comes back to the field it is about."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, ClassVar

from django import forms
from django.core import signing
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import models
from django.http import QueryDict
from django.utils import timezone

from fleet.errors import Conflict
from fleet.models import Act

YES_EMPTY = {"required": False}


class DayField(forms.DateField):
    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        super().__init__(**kwargs)


class MomentField(forms.DateTimeField):
    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault(
            "widget", forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
        )
        super().__init__(**kwargs)


class ClockField(forms.TimeField):
    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
        super().__init__(**kwargs)


def figure_field(label: str, *, help_text: str = "", required: bool = True) -> forms.CharField:
    """A figure as it was typed: the service reads it, so that a refused one stays as it was written."""
    return forms.CharField(
        label=label, help_text=help_text, required=required, max_length=20,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )  # fmt: skip


class ActForm(forms.Form):
    """A form that hands its fields to one service."""

    groups: ClassVar[Sequence[tuple[str, Sequence[str]]]] = ()
    result: Any = None

    def sets(self) -> Iterator[tuple[str, list[forms.BoundField]]]:
        """The fields under their headings; a field that no heading names comes last."""
        named = {name for _, names in self.groups for name in names}
        for legend, names in self.groups:
            yield legend, [self[name] for name in names if name in self.fields]
        rest = [bound for bound in self.visible_fields() if bound.name not in named]
        if rest:
            yield "", rest

    def done(self, act: Callable[..., Any], **words: Any) -> bool:
        """Whether the form is whole and the service took it. `result` holds what the service gave back."""
        if not self.is_valid():
            return False
        try:
            self.result = act(**words, **self.words())
        except ValidationError as trouble:
            self.refuse(trouble)
        except Conflict as trouble:
            self.add_error(None, str(trouble))
        return self.is_valid()

    def words(self) -> dict[str, Any]:
        """What goes to the service."""
        return dict(self.cleaned_data)

    def refuse(self, trouble: ValidationError) -> None:
        """Put each sentence at its field; what belongs to no field here stands at the head."""
        if not hasattr(trouble, "error_dict"):
            self.add_error(None, trouble)
            return
        for name, errors in trouble.error_dict.items():
            self.add_error(name if name in self.fields and name != NON_FIELD_ERRORS else None, errors)


class SeenForm(ActForm):
    """Also carries what the page showed, so that the second of two editors is told what the first one wrote."""

    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    row: models.Model

    def __init__(self, *args: Any, row: models.Model, **kwargs: Any) -> None:
        self.row = row
        kwargs["initial"] = {**self.shown(row), **(kwargs.get("initial") or {}), "seen": self._sealed(row)}
        super().__init__(*args, **kwargs)

    def shown(self, row: models.Model) -> dict[str, Any]:
        """The row as the form shows it."""
        raise NotImplementedError

    def _plain(self, row: models.Model) -> dict[str, str]:
        return {name: str(value) for name, value in self.shown(row).items()}

    def _sealed(self, row: models.Model) -> str:
        return signing.dumps(self._plain(row), salt="form-seen", compress=True)

    def words(self) -> dict[str, Any]:
        return {name: value for name, value in super().words().items() if name != "seen"}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        try:
            before = signing.loads(self.cleaned_data.get("seen") or "", salt="form-seen")
        except signing.BadSignature:
            return cleaned
        now = self._plain(self.row)
        moved = [name for name in now if name in self.fields and before.get(name) != now[name]]
        if moved:
            again = QueryDict(mutable=True) if not isinstance(self.data, QueryDict) else self.data.copy()
            again[self.add_prefix("seen")] = self._sealed(self.row)
            self.data = again
            raise ValidationError(self._told(moved, before, now))
        return cleaned

    def _told(self, moved: list[str], before: dict[str, str], now: dict[str, str]) -> list[str]:
        last = Act.objects.filter(
            subject_kind=self.row._meta.label_lower, subject_id=str(self.row.pk)
        ).first()
        by = f"{last.by_name}, {timezone.localtime(last.at):%H:%M}" if last else "Somebody"
        told = [self._one(name, before.get(name, ""), now[name]) for name in moved]
        head = (
            f"Changed while you were writing ({by}). Look at it, then hand in again to write yours over it."
        )
        return [head, *told]

    def _one(self, name: str, old: str, new: str) -> str:
        field = self.fields[name]
        if isinstance(field, (forms.MultipleChoiceField, forms.ModelChoiceField)):
            return f"{field.label}: other choices now."  # the values are keys, which tell a reader nothing
        return f"{field.label} was “{old}” and is now “{new}”."
