"""The form of a reckoning, built from what it asks; and keeping what it said as a reading."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.models import Vehicle
from maintenance.forms.desk import DeskForm
from maintenance.forms.desk_looks import MOMENTS
from maintenance.reckoning.pages.base import Input, Reckoning, Result, Row, Trouble
from maintenance.typed import exact_in, parted
from maintenance.units import UnitError, unit

MOST_CYLINDERS = 36
LONGEST_ROW = 36
_PIECES = re.compile(r"[+-]?\d+(?:[.,]\d+)?(?![\d.,]*\d)|[^\d\s;,.+-][^\d;,]*")
_KEYS = {"figure": "decimal", "whole": "numeric"}


class FigureField(forms.CharField):
    """A figure in the unit of the input, whatever unit was typed behind it; exact."""

    def __init__(self, *, asked: Input, **kwargs: Any) -> None:
        super().__init__(max_length=20, **kwargs)
        self.asked = asked

    def clean(self, value: Any) -> Any:
        typed = super().clean(value)
        if not typed:
            return None
        try:
            figure = exact_in(typed, self.asked.unit)
        except ValueError as trouble:
            raise ValidationError(str(trouble)) from trouble
        within(figure, self.asked)
        return figure


def within(figure: Fraction, asked: Input) -> None:
    """Refuses a figure that makes no sense for this input."""
    behind = f" {asked.unit}" if asked.unit and asked.unit != "°" else asked.unit
    if asked.low is not None and (figure < asked.low or (asked.above and figure == asked.low)):
        word = "above" if asked.above else "at least"
        raise ValidationError(f"It must be {word} {asked.low or 'nought'}{behind if asked.low else ''}.")
    if asked.high is not None and figure > asked.high:
        raise ValidationError(f"It can be {asked.high}{behind} at most.")


class WholeField(forms.IntegerField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            min_value=1,
            max_value=MOST_CYLINDERS,
            widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
            **kwargs,
        )


class OrderField(forms.CharField):
    """Cylinder numbers in the order in which they fire."""

    def clean(self, value: Any) -> Any:
        typed = super().clean(value)
        if not typed:
            return None
        if not re.fullmatch(r"[\d\s,;.-]+", typed):
            raise ValidationError("Write cylinder numbers with spaces or dashes between, such as 1 3 4 2.")
        found = tuple(int(one) for one in re.findall(r"\d{1,3}", typed))
        if len(found) > MOST_CYLINDERS:
            raise ValidationError(f"{MOST_CYLINDERS} cylinders at most.")
        return found


class RowField(forms.CharField):
    """Several figures, the unit behind the last or behind each; kept in the unit in which they were read."""

    def __init__(self, *, asked: Input, **kwargs: Any) -> None:
        super().__init__(max_length=300, **kwargs)
        self.asked = asked

    def clean(self, value: Any) -> Any:
        typed = super().clean(value)
        if not typed:
            return None
        pieces = _PIECES.findall(typed)
        if re.sub(r"[\s;,]", "", "".join(pieces)) != re.sub(r"[\s;,]", "", typed):
            raise ValidationError(
                "Write figures with spaces between, such as 8.1 8.0 7.2, and a unit at the end."
            )
        figures = [Decimal(one.replace(",", ".")) for one in pieces if one[-1].isdigit()]
        units = {parted(f"1 {one.strip()}")[1] for one in pieces if not one[-1].isdigit()}
        if not figures or len(figures) > LONGEST_ROW:
            raise ValidationError(f"1 to {LONGEST_ROW} figures, with spaces between.")
        if len(units) > 1:
            raise ValidationError("One unit for all of them.")
        symbol = units.pop() if units else self.asked.unit
        try:
            if unit(symbol).quantity != unit(self.asked.unit).quantity:
                raise UnitError(f"{symbol} does not measure {unit(self.asked.unit).quantity}.")
        except UnitError as trouble:
            raise ValidationError(str(trouble)) from trouble
        for figure in figures:
            within(Fraction(figure), self.asked)
        return Row(values=tuple(figures), unit=symbol)


def _field(asked: Input) -> forms.Field:
    letter = f"{asked.symbol}: " if asked.symbol else ""
    plain = asked.unit == "°" and ("egree" in asked.label or "ngle" in asked.label)
    behind = f", {asked.unit}" if asked.unit and not plain else ""
    words: dict[str, Any] = {
        "label": f"{letter}{asked.label}{behind}",
        "help_text": asked.help,
        "required": asked.needed,
        "initial": asked.start or None,
    }
    if asked.kind == "choice":
        return forms.ChoiceField(choices=asked.choices, **words)
    if asked.kind == "whole":
        return WholeField(**words)
    keys = {"autocomplete": "off", "data-unit": asked.unit}
    if asked.kind == "figure":
        # The full keyboard: a unit may be typed behind the figure.
        return FigureField(asked=asked, widget=forms.TextInput(attrs=keys), **words)
    if asked.kind == "row":
        return RowField(asked=asked, widget=forms.TextInput(attrs=keys), **words)
    if asked.kind == "order":
        return OrderField(max_length=160, widget=forms.TextInput(attrs=keys), **words)
    return forms.CharField(max_length=40, widget=forms.TextInput(attrs=keys), **words)


class ReckoningForm(forms.Form):
    """What one reckoning asks. `result` is what it says, once the form is whole."""

    result: Result | None = None

    def __init__(
        self, data: Any = None, *, page: Reckoning, vehicles: Sequence[Vehicle], **kwargs: Any
    ) -> None:
        kwargs.setdefault("auto_id", "reckon-%s")
        super().__init__(data, **kwargs)
        self.page = page
        for asked in page.inputs:
            self.fields[asked.name] = _field(asked)
        self.fields["origin"] = forms.CharField(
            label="Where the figures come from",
            required=False,
            max_length=80,
            help_text="Such as manual page 12, tape, gauge 4. Kept with the reading.",
        )
        self.fields["vehicle"] = forms.ChoiceField(
            label="Vehicle",
            required=False,
            choices=[("", "None: only work it out"), *((one.code, str(one)) for one in vehicles)],
            help_text="With a vehicle the result can be kept as one of its readings.",
        )
        self.fields["card"] = forms.CharField(required=False, widget=forms.HiddenInput, max_length=18)

    def clean(self) -> dict[str, Any]:
        """Works it out; what the sum refuses stands at the input that it is about."""
        cleaned = super().clean() or self.cleaned_data
        if self.errors:
            return cleaned
        try:
            self.result = self.page.work(cleaned)
        except Trouble as trouble:
            self.add_error(trouble.name, str(trouble))
        except ValueError as trouble:
            self.add_error(None, str(trouble))
        return cleaned

    def typed(self) -> dict[str, str]:
        """What stands in each input, as it was typed."""
        return {asked.name: str(self[asked.name].value() or "").strip() for asked in self.page.inputs}

    def inputs_words(self) -> str:
        """The inputs in words, for the note of a reading."""
        said = []
        for asked in self.page.inputs:
            given = self.typed()[asked.name]
            if not given:
                continue
            if asked.kind == "choice":
                given = dict(asked.choices).get(given, given)
            elif asked.kind in {"figure", "row"} and asked.unit and given[-1].isdigit():
                given = f"{given}{'' if asked.unit == '°' else ' '}{asked.unit}"
            said.append(f"{asked.label[:1].lower()}{asked.label[1:]} {given}")
        return ", ".join(said)


class KeepForm(DeskForm):
    """Which result becomes which reading of the vehicle."""

    act = "desk.reckoning_keep"

    def __init__(
        self, *args: Any, choices: Sequence[tuple[str, list[tuple[str, str]]]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["keep_as"] = forms.ChoiceField(
            label="Keep it as", choices=[("", "Choose a reading"), *choices]
        )
        self.fields["moment_of"] = forms.ChoiceField(label="Taken", choices=MOMENTS, initial="check")
