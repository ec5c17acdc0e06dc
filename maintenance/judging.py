"""From a row of what is measured to the limit that judges it. Pure: the judging itself is maintenance/limits.py."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Protocol

from maintenance.limits import Limit, Verdict, judge, read_limit

NO_SOURCE = "source not on file"


class MeasureLike(Protocol):
    """What is needed of a measure."""

    @property
    def judgement(self) -> str: ...
    @property
    def low(self) -> Decimal | None: ...
    @property
    def high(self) -> Decimal | None: ...
    @property
    def unit(self) -> str: ...
    @property
    def basis(self) -> str: ...
    @property
    def choices(self) -> list[str]: ...
    @property
    def source(self) -> str: ...
    @property
    def positions(self) -> list[str]: ...


def look_words(choices: Sequence[str]) -> dict[str, str]:
    """The good answers come first, then | and the others; a choice that ends with ? is good, but to be watched."""
    words, good = {}, True
    for choice in choices:
        text = choice.strip()
        if text == "|":
            good = False
        elif text:
            near = text.endswith("?")
            words[text.rstrip("?").strip()] = ("near" if near else "within") if good else "past"
    return words


def limit_row(measure: MeasureLike, near_share: Decimal = Decimal(0)) -> dict[str, Any]:
    """The limit as it is stored with each reading, so that a later change never bends an old verdict.

    `near_share` of the limit's own figure (of the width, for a range) is the margin within which a pass is near.
    """
    row: dict[str, Any] = {"kind": measure.judgement, "source": measure.source or NO_SOURCE}
    if measure.judgement == "look":
        return {**row, "choices": look_words(measure.choices)}
    row["unit"] = measure.unit
    if measure.low is not None:
        row["low"] = f"{measure.low.normalize():f}"
    if measure.high is not None:
        row["high"] = f"{measure.high.normalize():f}"
    if measure.judgement in {"spread", "drop", "trend"}:
        row["measure"] = _basis(measure)
    near = _near(measure, near_share)
    if near is not None:
        row["near"] = f"{near.normalize():f}"
    return row


def _basis(measure: MeasureLike) -> str:
    if measure.basis in {"", "absolute", "difference"}:
        return "difference"
    if measure.judgement == "spread":
        return "share of highest" if measure.basis in {"percent of highest", "percent"} else measure.basis
    return "percent" if measure.basis.startswith("percent") else measure.basis


def _near(measure: MeasureLike, share: Decimal) -> Decimal | None:
    if not share:
        return None
    if measure.low is not None and measure.high is not None and measure.judgement == "range":
        return (measure.high - measure.low) * share
    figure = measure.low if measure.judgement == "min" else measure.high
    if figure is None:
        figure = measure.low
    return abs(figure) * share if figure is not None else None


def limit_of(row: dict[str, Any]) -> Limit:
    """The limit of a stored row. Raises ValueError where it cannot judge (a figure is missing)."""
    return read_limit(row)


def judge_values(
    measure: MeasureLike,
    values: Sequence[str],
    *,
    near_share: Decimal = Decimal(0),
    before: Sequence[str] | None = None,
    history: Sequence[Sequence[str]] = (),
    minutes: Decimal | None = None,
) -> tuple[Verdict, dict[str, Any]]:
    """Judge one set of values: the verdict, and the limit used.

    Args:
        measure: what is measured, with its limit.
        values: one text for each position; empty where it was not taken.
        near_share: see `limit_row`.
        before: the set before, for a drop.
        history: earlier sets, for a trend; a measure with positions is judged against the middle of them all.
        minutes: between the set before and this one.
    """
    row = limit_row(measure, near_share)
    limit = limit_of(row)
    previous: Sequence[str | None] | None = None
    if limit.kind == "drop" and before is not None:
        previous = [value or None for value in before]
    elif limit.kind == "trend":
        previous = [value for one in history for value in one if value]
    verdict = judge(
        limit, [value or None for value in values], previous, elapsed=minutes, names=measure.positions or None
    )
    return verdict, row
