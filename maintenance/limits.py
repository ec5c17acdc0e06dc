"""Reading against limit: within, near, past or not sure, by how much, in one sentence.

Equal to a limit passes. All arithmetic is in fractions of whole numbers, and rounding happens only in what
is shown, so the same rules can be kept on a phone; ``tests/maintenance/limit_cases.json`` is the table that
both must follow. Published limits disagree with each other, so a limit carries its source.

How each kind is judged (margin = what is left; below zero is past):

- min: reading - low. max: high - reading. range: the lesser of both. Each reading must pass.
- spread, by ``measure``: "difference" high - (highest - lowest); "lowest of highest" lowest / highest x 100
  - low; "below average" high - (average - reading) / average x 100; "share of highest"
  high - (highest - lowest) / highest x 100.
- drop: high - change since the reading before, in the unit or in % of the reading before; with ``per``
  minutes, the change is scaled to that time.
- trend: high - change from the middle value (median) of the own history, in the unit or in %.
- look: the named choice carries its word.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any

from maintenance.units import convert, exact, rounded

KINDS = ("min", "max", "range", "spread", "drop", "trend", "look")
WORDS = ("within", "near", "past", "not sure")
_SPREADS = ("difference", "lowest of highest", "below average", "share of highest")
_CHANGES = ("difference", "percent")
_MEASURES: Mapping[str, tuple[str, ...]] = {"spread": _SPREADS, "drop": _CHANGES, "trend": _CHANGES}
_WAYS = ("fall", "rise", "both")

Reading = Decimal | str | int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit of one reading.

    Attributes:
        kind: one of ``KINDS``.
        source: where the figure comes from (manual, standard, house rule). Never empty.
        low: least allowed, for min, range and "lowest of highest" (in %).
        high: most allowed, for max, range, the other spreads, drop and trend.
        unit: unit of the readings and, unless the measure is in %, of the limit.
        near: margin within which a reading that passes is called near; None for no such word.
        measure: for spread one of "difference", "lowest of highest", "below average", "share of highest";
            for drop and trend "difference" or "percent".
        way: for drop and trend which change counts, "fall", "rise" or "both"; for a "difference" spread
            which end is suspect: "fall" the low readings, "rise" the high ones, "both".
        per: for drop: minutes in which the change may be ``high``; None for no time.
        fewest: for trend: how many earlier readings are needed.
        choices: for look: each choice with its word.
    """

    kind: str
    source: str
    low: Decimal | None = None
    high: Decimal | None = None
    unit: str = ""
    near: Decimal | None = None
    measure: str = "difference"
    way: str = "fall"
    per: Decimal | None = None
    fewest: int = 3
    choices: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ValueError(f"Unknown kind of limit {self.kind!r}.")
        if not self.source.strip():
            raise ValueError("A limit must carry its source.")
        if self.kind == "look":
            if not self.choices or any(word not in WORDS for word in self.choices.values()):
                raise ValueError("A look needs its choices, each with within, near, past or not sure.")
            return
        if self.measure not in _MEASURES.get(self.kind, _CHANGES) or self.way not in _WAYS:
            raise ValueError(f"A {self.kind} limit cannot be measured as {self.measure!r}, {self.way!r}.")
        for name, needed in (("low", self.needs_low), ("high", self.needs_high)):
            if needed and getattr(self, name) is None:
                raise ValueError(f"A {self.kind} limit needs its {name} figure.")
        if self.kind == "range" and self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError("A range runs from low to high.")
        if self.near is not None and self.near < 0:
            raise ValueError("The near margin cannot be negative.")
        if self.per is not None and self.per <= 0:
            raise ValueError("The time of a drop must be above zero.")

    @property
    def needs_low(self) -> bool:
        """Whether the low figure is part of this kind."""
        return self.kind in {"min", "range"} or self.measure == "lowest of highest"

    @property
    def needs_high(self) -> bool:
        """Whether the high figure is part of this kind."""
        return self.kind != "min" and self.measure != "lowest of highest"

    @property
    def margin_unit(self) -> str:
        """Unit of the margin: % for relative measures."""
        relative = self.kind in _MEASURES and self.measure != "difference"
        return "%" if relative else self.unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What became of a reading.

    Attributes:
        word: "within", "near", "past" or "not sure".
        by: what is left or what is over, rounded to three decimals (one for %); None when not sure, for a
            look, or when it rounds to nothing without being nothing.
        unit: unit of ``by``.
        sentence: the same in plain words, without a full stop.
        flagged: positions, counted from 0, of the readings that break or barely meet the limit.
        source: of the limit.
    """

    word: str
    by: Decimal | None
    unit: str
    sentence: str
    flagged: tuple[int, ...]
    source: str

    @property
    def passes(self) -> bool:
        """Whether the reading meets its limit; not sure is never good."""
        return self.word in {"within", "near"}


Margins = list[tuple[Fraction, tuple[int, ...]]]


class _NotSure(Exception):
    """Carries the reason."""


def _value_margins(limit: Limit, known: Mapping[int, Fraction]) -> Margins:
    found: Margins = []
    for place, value in known.items():
        margins = []
        if limit.low is not None and limit.needs_low:
            margins.append(value - exact(limit.low))
        if limit.high is not None and limit.needs_high:
            margins.append(exact(limit.high) - value)
        found.append((min(margins), (place,)))
    return found


def _spread_margins(limit: Limit, known: Mapping[int, Fraction], whole: bool) -> Margins:
    if len(known) < 2:
        raise _NotSure("a spread needs two readings or more")
    low, high = min(known.values()), max(known.values())
    lows = tuple(place for place, value in known.items() if value == low)
    highs = tuple(place for place, value in known.items() if value == high)
    most = exact(limit.high) if limit.high is not None else Fraction(0)
    if limit.measure == "difference":
        if limit.way == "both":
            return [(most - (high - low), tuple(sorted({*lows, *highs})))]
        away = {p: (high - v if limit.way == "fall" else v - low) for p, v in known.items()}
        return [(most - distance, (place,)) for place, distance in away.items()]
    if high <= 0:
        raise _NotSure("all readings are nought or below")
    if limit.measure == "lowest of highest":
        least = exact(limit.low) if limit.low is not None else Fraction(0)
        return [(value / high * 100 - least, (place,)) for place, value in known.items()]
    if limit.measure == "share of highest":
        return [(most - (high - low) / high * 100, lows)]
    if not whole:
        raise _NotSure("an average needs every reading")
    average = sum(known.values(), Fraction(0)) / len(known)
    if average <= 0:
        raise _NotSure("the average is nought or below")
    return [(most - (average - value) / average * 100, (place,)) for place, value in known.items()]


def _change(limit: Limit, before: Fraction, now: Fraction) -> Fraction:
    """How far the reading moved the way that counts, in the unit or in % of the figure before."""
    change = now - before
    if limit.measure == "percent":
        if before <= 0:
            raise _NotSure("the figure before is nought or below")
        change = change / before * 100
    return {"fall": -change, "rise": change, "both": abs(change)}[limit.way]


def _drop_margins(
    limit: Limit, known: Mapping[int, Fraction], previous: Sequence[Fraction | None], elapsed: Fraction | None
) -> Margins:
    scale = Fraction(1)
    if limit.per is not None:
        if elapsed is None or elapsed <= 0:
            raise _NotSure("the time between the two readings is not known")
        scale = exact(limit.per) / elapsed
    high = exact(limit.high) if limit.high is not None else Fraction(0)
    found: Margins = []
    for place, value in known.items():
        before = previous[place] if place < len(previous) else None
        if before is None:
            raise _NotSure("there is no reading before to compare with")
        found.append((high - _change(limit, before, value) * scale, (place,)))
    return found


def _middle(history: Sequence[Fraction]) -> Fraction:
    ordered = sorted(history)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2


def _trend_margins(
    limit: Limit, known: Mapping[int, Fraction], history: Sequence[Fraction | None]
) -> Margins:
    past = [value for value in history if value is not None]
    if len(past) < limit.fewest:
        raise _NotSure(f"own history is too short: {len(past)} of {limit.fewest} readings")
    high = exact(limit.high) if limit.high is not None else Fraction(0)
    usual = _middle(past)
    return [(high - _change(limit, usual, value), (place,)) for place, value in known.items()]


def _look(limit: Limit, values: Sequence[Reading]) -> Verdict:
    words = []
    for value in values:
        word = limit.choices.get(str(value), "not sure") if value is not None else "not sure"
        words.append(word)
    ranked = ("past", "not sure", "near", "within")
    word = min(words, key=ranked.index, default="not sure")
    flagged = tuple(place for place, one in enumerate(words) if one == word and word != "within")
    sentences = {
        "within": "As it should be",
        "near": "Passes, but watch it",
        "past": "Not as it should be",
        "not sure": "Not sure: look again",
    }
    seen = ", ".join(str(values[place]) for place in flagged if values[place] is not None)
    said = f"{sentences[word]}: {seen}" if seen and word in {"near", "past"} else sentences[word]
    return Verdict(word=word, by=None, unit="", sentence=said, flagged=flagged, source=limit.source)


def _shown(amount: Fraction, unit: str) -> tuple[Decimal | None, str]:
    """The amount for the result, and in words with its unit."""
    places = 1 if unit == "%" else 3
    by = rounded(amount, places)
    gap = " " if unit and unit not in {"%", "°"} else ""
    if by == 0 and amount != 0:
        return None, f"less than {rounded(Fraction(1, 10**places), places)}{gap}{unit}"
    return by, f"{by}{gap}{unit}"


def _not_sure(limit: Limit, reason: str) -> Verdict:
    return Verdict(
        word="not sure", by=None, unit="", sentence=f"Not sure: {reason}", flagged=(), source=limit.source
    )


def _worded(limit: Limit, margins: Margins, missing: bool, name: Callable[[int], str] | None) -> Verdict:
    worst = min(margin for margin, _ in margins)
    unit = limit.margin_unit
    by, amount = _shown(abs(worst), unit)
    near = exact(limit.near) if limit.near is not None else None
    if worst < 0:
        flagged = sorted({place for margin, places in margins if margin < 0 for place in places})
        word, sentence = "past", f"Past the limit by {amount}"
    elif missing:
        return _not_sure(limit, "not every reading was taken")
    elif near is not None and worst <= near:
        flagged = sorted({place for margin, places in margins if margin <= near for place in places})
        word, sentence = "near", f"Near the limit: {amount} to spare"
    else:
        flagged, word, sentence = [], "within", f"{amount} to spare"
    if worst == 0:
        sentence = "At the limit, which passes"
    if name is not None and flagged:
        sentence = f"{', '.join(map(name, flagged))}: {sentence[0].lower()}{sentence[1:]}"
        sentence = sentence[0].upper() + sentence[1:]
    return Verdict(
        word=word, by=by, unit=unit, sentence=sentence, flagged=tuple(flagged), source=limit.source
    )


def judge(
    limit: Limit,
    values: Sequence[Reading],
    previous: Sequence[Reading] | None = None,
    *,
    unit: str | None = None,
    elapsed: Decimal | str | int | None = None,
    names: Sequence[str] | None = None,
) -> Verdict:
    """Judges one reading, or one set of readings that belong together, against one limit.

    Args:
        limit: the limit with its source.
        values: the readings; None where one was not taken. For a look, the choices.
        previous: for drop, the readings before in the same order; for trend, the own history of this one
            figure, any order. In the same unit as ``values``.
        unit: unit in which values and history were read, when it is not the limit's own.
        elapsed: for a drop with time: minutes between the two readings.
        names: what each place is called ("cylinder 3"); used in the sentence.

    Returns:
        The verdict. A reading that is missing makes it not sure, unless another is already past.

    Raises:
        TypeError: a binary float was given.
        ValueError: a reading is no number, or its unit measures something else than the limit's.
    """
    if limit.kind == "look":
        return _look(limit, values)
    read = unit if unit is not None else limit.unit
    # A difference of temperatures has no zero, so the readings themselves are converted, zero and all.
    numbers = [None if value is None else convert(value, read, limit.unit) for value in values]
    earlier = [None if value is None else convert(value, read, limit.unit) for value in previous or ()]
    known = {place: number for place, number in enumerate(numbers) if number is not None}
    if not known:
        return _not_sure(limit, "no reading")
    whole = len(known) == len(numbers)
    try:
        if limit.kind == "spread":
            margins = _spread_margins(limit, known, whole)
        elif limit.kind == "drop":
            margins = _drop_margins(limit, known, earlier, None if elapsed is None else exact(elapsed))
        elif limit.kind == "trend":
            margins = _trend_margins(limit, known, earlier)
        else:
            margins = _value_margins(limit, known)
    except _NotSure as reason:
        return _not_sure(limit, str(reason))
    return _worded(limit, margins, not whole, (lambda place: names[place]) if names else None)


def read_limit(row: Mapping[str, Any]) -> Limit:
    """A limit from a row of text, as it is stored or sent to a phone.

    Raises:
        ValueError: an unknown word in the row, or a figure that is no number.
    """
    unknown = sorted(set(row) - set(Limit.__dataclass_fields__))
    if unknown:
        raise ValueError(f"Unknown in a limit: {', '.join(unknown)}.")
    figures: dict[str, Any] = {}
    for name in ("low", "high", "near", "per"):
        if row.get(name) is not None:
            exact(str(row[name]))  # refuses what is no finite number, with its own sentence
            figures[name] = Decimal(str(row[name]))
    rest = {name: value for name, value in row.items() if name not in {"low", "high", "near", "per"}}
    return Limit(**rest, **figures)
