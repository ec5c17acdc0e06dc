"""What the desk's forms share: sent twice they act once, and they tell who was first when a row has moved on."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable, Iterator, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models

from fleet.enums import Function
from fleet.errors import Conflict
from fleet.forms.base import ActForm, DayField, figure_field
from fleet.models import Person, Subsystem, Vehicle
from fleet.services.meters import decimal
from maintenance.models import JobCard
from maintenance.services.submissions import once

__all__ = ["DayField", "DeskForm", "figure_field", "people", "system_choices", "words_field"]

AS_ASKED = [("", "As its system asks"), ("yes", "Yes"), ("no", "No")]
LONGEST_ID = 18
KEPT_OUT = frozenset({"csrfmiddlewaretoken", "key", "version"})


class DeskForm(ActForm):
    """Carries a key of its own, and the version of the row that its page showed.

    Set `act` in a form that makes something: `done_once` then keys the act, so that a second press, or the same
    page sent again, changes nothing more.
    """

    act = ""
    key = forms.CharField(widget=forms.HiddenInput, max_length=64, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    repeated = False

    def __init__(self, *args: Any, row: models.Model | None = None, **kwargs: Any) -> None:
        self.row = row
        start: dict[str, Any] = {"key": secrets.token_hex(16), "version": getattr(row, "version", None)}
        kwargs["initial"] = {**start, **(kwargs.get("initial") or {})}
        kwargs.setdefault("auto_id", f"{type(self).__name__.lower()}-%s")
        super().__init__(*args, **kwargs)

    def words(self) -> dict[str, Any]:
        words = {name: value for name, value in super().words().items() if name not in {"key", "version"}}
        if self.cleaned_data.get("version") is not None:
            words["expected_version"] = self.cleaned_data["version"]
        return words

    def done(self, act: Callable[..., Any], **words: Any) -> bool:
        if not self.is_valid():
            return False
        try:
            self.result = act(**words, **self.words())
        except ValidationError as trouble:
            self.refuse(trouble)
        except Conflict as trouble:
            self.be_second(trouble)
        return self.is_valid()

    def done_once(self, act: Callable[..., Any], *, by: Person, **words: Any) -> bool:
        """As `done`, but only the first of two sendings acts; `result` is the id of what was made."""
        if not self.is_valid():
            return False

        def do() -> dict[str, Any]:
            made = act(by=by, **words, **self.words())
            return {"pk": (made[0] if isinstance(made, tuple) else made).pk}

        try:
            answer, self.repeated = once(
                key=self.cleaned_data["key"] or secrets.token_hex(16),
                person=by,
                act=self.act,
                payload=self.sent(),
                do=do,
            )
            self.result = answer["pk"]
        except ValidationError as trouble:
            self.refuse(trouble)
        except Conflict as trouble:
            self.be_second(trouble)
        return self.is_valid()

    def sent(self) -> dict[str, list[str]]:
        """What was handed in, as it came: the same page sent twice is the same to the letter."""
        lists = self.data.lists() if hasattr(self.data, "lists") else ((k, [v]) for k, v in self.data.items())
        return {name: [str(value) for value in values] for name, values in lists if name not in KEPT_OUT}

    def be_second(self, trouble: Conflict) -> None:
        """Say who was first; handed in again, it is written over what is there now."""
        self.add_error(None, [trouble.message, *trouble.changed])
        data: Any = self.data
        data = data.copy()
        data[self.add_prefix("key")] = secrets.token_hex(16)
        if self.row is not None and hasattr(self.row, "version"):
            now = (
                type(self.row)
                ._default_manager.filter(pk=self.row.pk)
                .values_list("version", flat=True)
                .first()
            )
            data[self.add_prefix("version")] = str(now)
        self.data = data


class Several(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]
    """Several rows, ticked. A number that no row can have is refused here: the database would break on it."""

    def __init__(self, queryset: Any, *, label: str, help_text: str = "") -> None:
        super().__init__(
            queryset, label=label, help_text=help_text, required=False, widget=forms.CheckboxSelectMultiple
        )

    def clean(self, value: Any) -> Any:
        for one in value or ():
            if not str(one).isdecimal() or len(str(one)) > LONGEST_ID:
                raise ValidationError(self.error_messages["invalid_choice"], "invalid_choice", {"value": one})
        return super().clean(value)


def words_field(
    label: str, *, rows: int = 2, required: bool = True, longest: int = 2000, help_text: str = ""
) -> forms.CharField:
    """Free words in a box of some rows."""
    return forms.CharField(
        label=label,
        required=required,
        max_length=longest,
        help_text=help_text,
        widget=forms.Textarea(attrs={"rows": rows}),
    )


def people() -> models.QuerySet[Person]:
    """Those who are here."""
    return Person.objects.filter(is_active=True, left_on=None)


def serves_words(serves: Iterable[str]) -> str:
    known = dict(Function.choices)
    return ", ".join(str(known.get(code, code)) for code in serves)


def system_choices(systems: Iterable[Subsystem], empty: str) -> list[Any]:
    """Two levels, each with what it serves; the first level stands as its own heading."""
    rows = list(systems)
    choices: list[Any] = [("", empty)]
    for top in (row for row in rows if row.parent_id is None):
        group = [row for row in rows if top.pk in {row.pk, row.parent_id}]
        choices.append(
            (
                top.name,
                [(str(row.pk), f"{_part_name(row, top)} ({serves_words(row.serves)})") for row in group],
            )
        )
    return choices


def _part_name(row: Subsystem, top: Subsystem) -> str:
    return f"{row.name}, as a whole" if row.pk == top.pk else row.name


def card_choices(cards: Iterable[JobCard], empty: str) -> list[tuple[str, str]]:
    return [("", empty), *((str(card.pk), f"{card.serial} {card.title}") for card in cards)]


def figure_of(data: dict[str, Any], name: str) -> Decimal | None:
    """A typed figure as a number, a decimal comma allowed; refused at its own field."""
    text = str(data.get(name) or "").strip().replace(",", ".")
    return decimal(text, name) if text else None


def lines_of(text: str) -> list[str]:
    """One thing a line; empty lines are nothing."""
    return [line.strip() for line in text.splitlines() if line.strip()]


def sets_of(
    form: ActForm, groups: Sequence[tuple[str, Sequence[str]]]
) -> Iterator[tuple[str, list[forms.BoundField]]]:
    """Fields under headings, only those that the form has."""
    for legend, names in groups:
        yield legend, [form[name] for name in names if name in form.fields]


def vehicles() -> models.QuerySet[Vehicle]:
    return Vehicle.objects.order_by("number")
