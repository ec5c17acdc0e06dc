"""What is written on a which-part sheet: one result, all of a paper, its end."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.errors import Conflict
from fleet.models import Person
from fleet.services.photos import photo_add
from maintenance.enums import NeedState
from maintenance.fault_sheet import NOT_TODAY
from maintenance.forms.desk import DeskForm, figure_field, lines_of, words_field
from maintenance.models import WhichResult, WhichSheet
from maintenance.queries.which_part import Start, start_of
from maintenance.services.which_part import which_result

Rows = dict[str, Any]


def result_with_photo(
    *, by: Person, sheet: WhichSheet, test: str, upload: Any = None, **words: Any
) -> WhichResult:
    """One result, with its photograph kept first where one came."""
    photo = photo_add(by=by, upload=upload, vehicle=sheet.vehicle) if upload is not None else None
    return which_result(by=by, sheet=sheet, test=test, photo=photo, **words)


def _choices(test: Rows) -> list[tuple[str, str]]:
    return [*((one["name"], one["name"]) for one in test["results"]), (NOT_TODAY, "Not possible today")]


class ResultForm(DeskForm):
    """What one test gave."""

    act = "which.result"
    was_second = False

    def __init__(self, *args: Any, test: Rows, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", f"r-{test['key']}-%s")
        super().__init__(*args, **kwargs)
        self.fields["result"] = forms.ChoiceField(
            label="What it gave", choices=_choices(test), required=False, widget=forms.RadioSelect
        )
        self.test = test
        edge = test["edge"]
        asks = f"{edge['asks']}, {edge['unit']}" if edge else "Figure as read"
        self.fields["raw"] = figure_field(asks, required=False)
        self.fields["words"] = forms.CharField(label="In words", required=False, max_length=300)
        self.fields["upload"] = forms.FileField(
            label="Photograph",
            required=False,
            widget=forms.ClearableFileInput(attrs={"accept": "image/*", "capture": "environment"}),
        )

    def words(self) -> dict[str, Any]:
        """Never the version: two people at one sheet are kept apart test by test, not page by page."""
        return {name: value for name, value in super().words().items() if name != "expected_version"}

    @property
    def seen_version(self) -> int | None:
        found: int | None = self.cleaned_data.get("version")
        return found

    def be_second(self, trouble: Conflict) -> None:
        self.was_second = True
        super().be_second(trouble)


class PaperForm(DeskForm):
    """What was written on the paper, all tests on one page; a test left empty was not done."""

    act = "which.paper"

    def __init__(self, *args: Any, tests: list[Rows], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.tests = tests
        for number, test in enumerate(tests):
            edge = test["edge"]
            self.fields[f"result-{number}"] = forms.ChoiceField(
                label=test["name"], choices=[("", "Left empty"), *_choices(test)], required=False
            )
            self.fields[f"raw-{number}"] = figure_field(
                f"{edge['asks']}, {edge['unit']}" if edge else "Figure", required=False
            )
            self.fields[f"words-{number}"] = forms.CharField(label="In words", required=False, max_length=300)

    def rows(self) -> list[tuple[Rows, forms.BoundField, forms.BoundField, forms.BoundField]]:
        return [
            (test, self[f"result-{n}"], self[f"raw-{n}"], self[f"words-{n}"])
            for n, test in enumerate(self.tests)
        ]

    def words(self) -> dict[str, Any]:
        given = self.cleaned_data
        rows = [
            {
                "test": test["key"],
                "result": given[f"result-{n}"],
                "raw": given[f"raw-{n}"],
                "words": given[f"words-{n}"],
            }
            for n, test in enumerate(self.tests)
        ]
        return {"rows": [row for row in rows if row["result"] or row["raw"].strip() or row["words"].strip()]}


class FinishForm(DeskForm):
    """How it ended: the cause, and what the job needs for it."""

    act = "which.finish"
    cause = forms.ChoiceField(label="The cause", required=False)
    words_ = words_field(
        "In words", required=False, help_text="How it was proved, or why it ends without a cause."
    )
    parts = words_field(
        "Parts that the job needs", required=False, help_text="One a line. They are written on the job."
    )
    part_state = forms.ChoiceField(
        label="They are",
        required=False,
        choices=[
            (NeedState.NOT_ORDERED.value, "needed, not ordered"),
            (NeedState.UNKNOWN.value, "need not known yet"),
        ],
    )

    def __init__(self, *args: Any, sheet: WhichSheet, likeliest: str = "", **kwargs: Any) -> None:
        causes = sheet.definition["causes"]
        part = next((one["part"] for one in causes if one["key"] == likeliest), "")
        kwargs["initial"] = {"cause": likeliest, "parts": part, **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)
        choice: Any = self.fields["cause"]
        choice.choices = [
            *((one["key"], one["name"]) for one in causes),
            ("", "None: it ends without a cause"),
        ]
        if sheet.card is None:
            del self.fields["parts"], self.fields["part_state"]

    def words(self) -> dict[str, Any]:
        given = super().words()
        given.pop("expected_version", None)
        given["words"] = given.pop("words_")
        if "parts" in given:
            given["parts"] = lines_of(given["parts"])
            given["part_state"] = given["part_state"] or NeedState.NOT_ORDERED.value
        return given


class ReopenForm(DeskForm):
    act = "which.reopen"
    why = forms.CharField(label="Why it is opened again", max_length=300)


class SettleForm(DeskForm):
    act = "which.settle"
    how = forms.CharField(
        label="What was done about it", max_length=300, help_text="Or why nothing needs to be done."
    )


class StartForm(DeskForm):
    """Which sheet to start from, for which fault."""

    act = "which.open"
    start = forms.ChoiceField(label="Sheet", widget=forms.RadioSelect)

    def __init__(self, *args: Any, starts: list[Start], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice: Any = self.fields["start"]
        choice.choices = [
            (one.value, f"{one.name} ({one.causes} causes, {one.tests} tests)") for one in starts
        ]

    def words(self) -> dict[str, Any]:
        return {"template": start_of(self.cleaned_data["start"])}
