"""Putting a fault off: the rating with the limit, the limits, the end, who signs, and the second signer's own proof."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.models import Person
from maintenance.enums import VALUED_LIMITS, LimitKind
from maintenance.forms.desk import DayField, DeskForm, Several, figure_field, people, words_field
from maintenance.models import Defect, Deferral, JobCard
from maintenance.models.defects import PROBABILITIES
from maintenance.risk import LADDER, STANDS_IN, Level, level
from maintenance.rules import LimitRow, may_sign_deferral

LIMIT_ROWS = 4


def my_role(person: Person, rated: Level) -> str:
    """The first duty of the ladder in which this person may sign; empty when there is none."""
    needed = LADDER[rated].signers or ("mechanic",)
    roles = [role for duty in needed for role in (duty, *sorted(STANDS_IN.get(duty, ())))]
    return next((role for role in roles if may_sign_deferral(person, role, rated)), "")


def others_needed(mine: str, rated: Level) -> list[str]:
    """The duties that another person must sign for."""
    left = list(LADDER[rated].signers)
    covers = next((duty for duty in left if mine == duty or mine in STANDS_IN.get(duty, ())), None)
    if covers is not None:
        left.remove(covers)
    return left


class PutOffForm(DeskForm):
    """`defect` is assessed and not High; `by` may sign in the role `mine`."""

    act = "desk.put_off"
    probability_with = forms.ChoiceField(
        label="With the limits obeyed, how often would it do that?", choices=PROBABILITIES, widget=forms.RadioSelect,
        help_text="The severity stays as it is; only use, exposure or a barrier changes the letter.",
    )  # fmt: skip
    reason = words_field("Why it is put off", longest=300)
    ends_on = DayField(label="Valid through")
    second_person = forms.ModelChoiceField(
        Person.objects.none(),
        label="Second signer",
        required=False,
        empty_label="Signs later, from their own page",
    )
    second_proof = forms.CharField(
        label="Password or PIN of the second signer", required=False, max_length=128, help_text="They type it themselves.",
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    cards = Several(JobCard.objects.none(), label="Jobs carried forward with it")

    def __init__(
        self, *args: Any, defect: Defect, by: Person, renews: Deferral | None = None, **kwargs: Any
    ) -> None:
        self.defect, self.by, self.renews = defect, by, renews
        self.rated = level(defect.severity or 0, defect.probability)
        self.mine = my_role(by, self.rated)
        self.needed = others_needed(self.mine, self.rated)
        before = list(renews.limits.select_related("driver")) if renews else []
        self.rows = max(LIMIT_ROWS, len(before) + 1)
        kwargs["initial"] = {
            "probability_with": renews.probability_with if renews else defect.probability,
            **self._before(before),
            **(kwargs.get("initial") or {}),
        }
        super().__init__(*args, row=defect, **kwargs)
        self._limit_fields()
        self._signer_fields()
        cards = self.fields["cards"]
        if isinstance(cards, Several):
            cards.queryset = JobCard.objects.filter(pk__in=[card.pk for card in defect.open_cards])  # type: ignore[attr-defined]
        if renews is not None or not defect.open_cards:  # type: ignore[attr-defined]
            del self.fields["cards"]

    @staticmethod
    def _before(limits: list[Any]) -> dict[str, Any]:
        shown: dict[str, Any] = {}
        for number, limit in enumerate(limits):
            value = f"{limit.value.normalize():f}" if limit.value is not None else ""
            shown |= {
                f"limits-{number}-kind": limit.kind, f"limits-{number}-value": value,
                f"limits-{number}-text": limit.text, f"limits-{number}-driver": limit.driver_id,
            }  # fmt: skip
        return shown

    def _limit_fields(self) -> None:
        kinds = [("", "No limit on this line"), *LimitKind.choices]
        for number in range(self.rows):
            self.fields[f"limits-{number}-kind"] = forms.ChoiceField(
                label=f"Limit {number + 1}", choices=kinds, required=False
            )
            self.fields[f"limits-{number}-value"] = figure_field(f"Figure {number + 1}", required=False)
            self.fields[f"limits-{number}-text"] = forms.CharField(
                label=f"In words {number + 1}", max_length=200, required=False
            )
            self.fields[f"limits-{number}-driver"] = forms.ModelChoiceField(
                people().filter(is_driver=True),
                label=f"Driver {number + 1}",
                required=False,
                empty_label="No one named",
            )

        for name, field in self.fields.items():
            if name.startswith("limits-"):
                field.widget.attrs["aria-label"] = field.label

    def _signer_fields(self) -> None:
        if not self.needed:
            del self.fields["second_person"], self.fields["second_proof"]
            return
        field = self.fields["second_person"]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = people().filter(**{f"is_{self.needed[0]}": True}).exclude(pk=self.by.pk)
            field.label = f"Second signer, as {self.needed[0]}"

    def limit_lines(self) -> list[tuple[forms.BoundField, ...]]:
        return [
            tuple(self[f"limits-{n}-{part}"] for part in ("kind", "value", "text", "driver"))
            for n in range(self.rows)
        ]

    def limits(self) -> list[Mapping[str, Any]]:
        """Lines that name a kind; a line with words or a figure and no kind is told, not dropped."""
        found: list[Mapping[str, Any]] = []
        for number in range(self.rows):
            kind, value, text, driver = (
                self.cleaned_data.get(f"limits-{number}-{part}")
                for part in ("kind", "value", "text", "driver")
            )
            if kind:
                found.append(
                    {
                        "kind": kind,
                        "value": (value or None) if kind in VALUED_LIMITS else None,
                        "text": text or "",
                        "driver": driver if kind == LimitKind.NAMED_DRIVER else None,
                    }
                )
            elif value or text or driver:
                raise ValidationError({f"limits-{number}-kind": "Say which kind of limit this is."})
        return found

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self.limits()
        if self.cleaned_data.get("second_person") and not self.cleaned_data.get("second_proof"):
            self.add_error("second_proof", "Let them type it here, or choose that they sign later.")
        return cleaned

    def words(self) -> dict[str, Any]:
        data = super().words()
        second = data.get("second_person")
        signers = [(self.by, self.mine)] + ([(second, self.needed[0])] if second else [])
        words: dict[str, Any] = {
            "signers": signers, "probability_with": data["probability_with"], "limits": self.limits(),
            "reason": data["reason"], "ends_on": data["ends_on"], "signature_follows": bool(self.needed) and second is None,
            "proofs": {second.pk: data["second_proof"]} if second else {},
        }  # fmt: skip
        if self.renews is not None:
            return {**words, "deferral": self.renews}
        words |= {
            "defect": self.defect,
            "severity_with": self.defect.severity,
            "cards": data.get("cards", []),
        }
        if "expected_version" in data:
            words["expected_version"] = data["expected_version"]
        return words

    def sent(self) -> dict[str, list[str]]:
        """Without the proof: it is never kept, not even as a digest of many things."""
        return {name: values for name, values in super().sent().items() if name != "second_proof"}

    def refuse(self, trouble: ValidationError) -> None:
        if (
            hasattr(trouble, "error_dict")
            and "proofs" in trouble.error_dict
            and "second_proof" in self.fields
        ):
            self.add_error("second_proof", trouble.error_dict.pop("proofs"))
        super().refuse(trouble)


def limit_rows(data: Mapping[str, Any]) -> list[LimitRow]:
    """The limits on the page as far as they are typed, for the longest day that they allow."""
    kinds = [
        value
        for name, value in data.items()
        if name.startswith("limits-") and name.endswith("-kind") and value
    ]
    return [LimitRow(kind=str(kind)) for kind in kinds]


def today() -> dt.date:
    return timezone.localdate()
