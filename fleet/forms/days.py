"""When people are in: single days, the weekly pattern, and the sheet of who came."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.forms.base import ActForm, ClockField, DayField
from fleet.models import Person, WorkPattern

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MOST_DAYS = 92


class AwayForm(ActForm):
    """One day or a stretch on which somebody is away, or in after all."""

    person = forms.ModelChoiceField(Person.objects.none(), label="Who", empty_label=None)
    first = DayField(label="From")
    last = DayField(label="Through", required=False, help_text="Empty: that one day.")
    reason = forms.CharField(label="Why", required=False, max_length=120)

    def __init__(self, *args: Any, by: Person, others: bool, **kwargs: Any) -> None:
        kwargs["initial"] = {"person": by.pk}
        super().__init__(*args, **kwargs)
        whom = self.fields["person"]
        if isinstance(whom, forms.ModelChoiceField):
            here = Person.objects.filter(left_on=None)
            whom.queryset = here if others else here.filter(pk=by.pk)
        if not others:
            whom.widget = forms.HiddenInput()

    def clean(self) -> dict[str, Any]:
        first, last = self.cleaned_data.get("first"), self.cleaned_data.get("last")
        if first and first < timezone.localdate():
            self.add_error("first", "That day is over.")
        if first and last and last < first:
            self.add_error("last", "That is before the first day.")
        if first and last and (last - first).days >= MOST_DAYS:
            self.add_error("last", f"At most {MOST_DAYS} days at a time. Write the rest down after.")
        return self.cleaned_data


class PatternForm(ActForm):
    """Seven weekdays: in or not, how often, counted from which day."""

    def __init__(self, *args: Any, patterns: Iterable[WorkPattern], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        there = {row.weekday: row for row in patterns}
        for weekday, name in enumerate(WEEKDAYS):
            row = there.get(weekday)
            self.fields[f"in_{weekday}"] = forms.BooleanField(
                label=name, required=False, initial=row is not None
            )
            self.fields[f"weeks_{weekday}"] = forms.TypedChoiceField(
                label="How often", coerce=int, required=False, empty_value="1",
                choices=[(1, "every week"), *((n, f"every {n} weeks") for n in range(2, 9))],
                initial=row.every_weeks if row else 1,
            )  # fmt: skip
            self.fields[f"from_{weekday}"] = DayField(
                label="Counted from",
                required=False,
                help_text="One day on which it holds.",
                initial=row.counted_from if row else None,
            )

    def lines(self) -> list[tuple[forms.BoundField, forms.BoundField, forms.BoundField]]:
        return [(self[f"in_{n}"], self[f"weeks_{n}"], self[f"from_{n}"]) for n in range(7)]

    def not_weekly(self) -> bool:
        """Whether the part that says how often is needed, or has something to put right."""
        weeks = [self[f"weeks_{n}"].value() for n in range(7)]
        return any(str(value or 1) != "1" for value in weeks) or any(
            name.startswith("from_") for name in self.errors
        )

    def wanted(self) -> dict[int, tuple[int, dt.date | None]]:
        data = self.cleaned_data
        return {n: (int(data[f"weeks_{n}"]), data[f"from_{n}"]) for n in range(7) if data[f"in_{n}"]}

    def refuse(self, trouble: ValidationError) -> None:
        weekday = getattr(trouble, "weekday", None)
        if weekday is None:
            super().refuse(trouble)
        else:
            self.add_error(f"from_{weekday}", trouble.messages)


class CameForm(ActForm):
    """One line of the sheet."""

    person = forms.ModelChoiceField(Person.objects.filter(left_on=None), label="Who")
    came = forms.TypedChoiceField(
        choices=[("yes", "came"), ("no", "did not come")], coerce=lambda word: word == "yes"
    )
    arrived = ClockField(label="Arrived", required=False)
    left = ClockField(label="Left", required=False)
