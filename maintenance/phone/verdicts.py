"""A reading on the phone: its verdict in words, the strip that shows it, and what the page needs to judge at once."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from maintenance.judging import judge_values, limit_row
from maintenance.limits import Verdict
from maintenance.models import Measure, Reading

HEADS = {
    "within": "Within the limit",
    "near": "Within, near the limit",
    "past": "Past the limit",
    "not sure": "Not sure",
}
KINDS = {"within": "within", "near": "near", "past": "past", "not sure": "unsure"}
PREFIXES = {"near": "Near the limit: ", "past": "Past the limit ", "not sure": "Not sure: "}
STRIP_KINDS = frozenset({"min", "max", "range"})


def plain(figure: Decimal) -> str:
    """A stored figure without the noughts that the column adds."""
    return f"{figure.normalize():f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A verdict as the page says it: code of the part, the head, and the rest of the sentence."""

    kind: str
    head: str
    detail: str


def answer_of(word: str, sentence: str) -> Answer:
    detail = sentence.removeprefix(PREFIXES.get(word, "")) if sentence else ""
    return Answer(kind=KINDS.get(word, "unsure"), head=HEADS.get(word, "Not sure"), detail=detail)


NOT_READ = Answer(kind="unsure", head="Not read yet", detail="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """Read by the part that draws the sight strip; `low` and `high` are its ends in the reading's own unit."""

    bad: tuple[tuple[float, float], ...]
    ok: tuple[float, float]
    limits: tuple[tuple[float, str], ...]
    reading_pct: float | None
    label: str
    low: float
    high: float


def strip_of(measure: Measure, value: str) -> Strip | None:
    """The strip of a measure with one figure and a limit on one side or both; None for the others."""
    if measure.judgement not in STRIP_KINDS or len(measure.positions) > 1:
        return None
    low = float(measure.low) if measure.low is not None and measure.judgement != "max" else None
    high = float(measure.high) if measure.high is not None and measure.judgement != "min" else None
    ends = _ends(low, high)
    if ends is None:
        return None
    start, end = ends

    def pct(at: float) -> float:
        return (at - start) / (end - start) * 100

    bad = [(0.0, pct(low))] if low is not None else []
    bad += [(pct(high), 100.0)] if high is not None else []
    marks = [(pct(low), f"{plain(measure.low)} least")] if low is not None and measure.low is not None else []
    marks += (
        [(pct(high), f"{plain(measure.high)} most")] if high is not None and measure.high is not None else []
    )
    said = ", ".join(text for _, text in marks)
    return Strip(
        bad=tuple(bad), ok=(pct(low) if low is not None else 0.0, pct(high) if high is not None else 100.0),
        limits=tuple(marks), reading_pct=min(max(pct(float(value)), 0.0), 100.0) if value else None,
        label=f"Scale from {start:g} to {end:g} {measure.unit}; {said}; {'reading ' + value if value else 'not read yet'}",
        low=start, high=end,
    )  # fmt: skip


def _ends(low: float | None, high: float | None) -> tuple[float, float] | None:
    if low is not None and high is not None:
        width = (high - low) or abs(high) or 1.0
        return low - width, high + width
    if low is not None:
        reach = abs(low) or 1.0
        return low - reach * 2 / 3, low + reach
    if high is not None:
        reach = abs(high) or 1.0
        return high - reach, high + reach * 2 / 3
    return None


def limit_words(measure: Measure) -> str:
    """The limit in a few words, with where it comes from."""
    least = f"{plain(measure.low)} {measure.unit} least" if measure.low is not None else ""
    most = f"{plain(measure.high)} {measure.unit} most" if measure.high is not None else ""
    if measure.judgement == "look":
        said = ""
    elif measure.judgement in {"drop", "trend"}:
        said = f"{most} {'since the last one' if measure.judgement == 'drop' else 'from its own usual'}"
    elif measure.judgement == "spread":
        said = f"{least or most} between them"
    else:
        said = ", ".join(one for one in (least, most) if one)
    return ". ".join(one for one in (" ".join(said.split()), measure.source) if one)


def judged(
    measure: Measure, values: Sequence[str], earlier: Sequence[Reading], near_share: Decimal
) -> Verdict:
    """The verdict of values that are not written down yet. `earlier`: readings on file, newest first.

    Raises:
        ValueError: a value is no number.
    """
    verdict, _ = judge_values(
        measure, list(values), near_share=near_share, before=earlier[0].values if earlier else None,
        history=[one.values for one in earlier],
    )  # fmt: skip
    return verdict


def page_data(measure: Measure, earlier: Sequence[Reading], near_share: Decimal) -> str:
    """What the page's script needs to judge by the same rules, as JSON."""
    previous: list[str | None] = []
    if measure.judgement == "drop" and earlier:
        previous = [value or None for value in earlier[0].values]
    elif measure.judgement == "trend":
        previous = [value for one in earlier for value in one.values if value]
    return json.dumps(
        {"limit": limit_row(measure, near_share), "previous": previous, "names": measure.positions or None},
        ensure_ascii=True,
    )
