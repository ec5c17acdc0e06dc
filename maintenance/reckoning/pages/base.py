"""What a reckoning is made of: inputs, a sum, and what it says.

A figure comes in exactly, in the unit that its input names, whatever unit was typed; a row of figures keeps
the unit in which it was read, because rules on it are judged on exact figures.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any

from maintenance.limits import Verdict
from maintenance.typed import SHORT, also
from maintenance.units import UNITS, convert, rounded

# The second unit shown behind a result: what a rule, gauge or dial of the other system would show.
BESIDE: Mapping[str, str] = {
    "mm": "in",
    "bar": "psi",
    "Nm": "lbf ft",
    "km/h": "mph",
    "L": "pt",
    "m": "ft",
    "kN": "kgf",
    "°C": "°F",
}
KINDS = {"within": "within", "near": "near", "past": "past", "not sure": "unsure"}


class Trouble(ValueError):
    """An input that cannot be worked with; `name` is the input that it is about."""

    def __init__(self, name: str, sentence: str) -> None:
        super().__init__(sentence)
        self.name = name


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One thing that is asked.

    Attributes:
        name: in the address and in the sum.
        label: as it is read on the form, without the unit.
        kind: "figure", "row" (several figures), "whole", "choice", "order" (cylinder numbers) or "words".
        unit: of a figure or row when none is typed behind it.
        help: where the figure comes from and how it is taken.
        needed: refused when empty.
        start: what stands there at first.
        choices: of a choice, (value, words).
        low: least figure that makes sense.
        high: most.
        above: the figure must be above `low`, not equal to it.
        symbol: the letter of the formula and of the drawing.
        system: code of the system whose readings may fill it, in this quantity; empty for none.
    """

    name: str
    label: str
    kind: str = "figure"
    unit: str = ""
    help: str = ""
    needed: bool = True
    start: str = ""
    choices: Sequence[tuple[str, str]] = ()
    low: int | None = None
    high: int | None = None
    above: bool = False
    symbol: str = ""
    system: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Several figures as they were read, with the unit in which they were read."""

    values: tuple[Decimal, ...]
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One result: its name, the figure as text, its unit, and the same in the other system's unit."""

    label: str
    value: str
    unit: str = ""
    beside: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One verdict: kind (within, near, past, unsure), the head, the rest of the sentence."""

    kind: str
    head: str
    detail: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows of text under their heads."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Keep:
    """A result that can be kept as a reading of a measure in the same quantity."""

    name: str
    label: str
    unit: str
    values: tuple[Fraction, ...]

    def fits(self, symbol: str, places: int) -> bool:
        """Whether a measure in this unit, with so many places (0 for one value), can hold it."""
        if self.unit not in UNITS or symbol not in UNITS:
            return False
        alike = UNITS[self.unit].quantity == UNITS[symbol].quantity
        return alike and max(1, places) == len(self.values)

    def in_unit(self, symbol: str) -> tuple[Fraction, ...]:
        """The values in the unit of a measure."""
        return tuple(convert(value, self.unit, symbol) for value in self.values)


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What a reckoning says.

    Attributes:
        lines: figures, the most wanted first.
        said: verdicts.
        flags: what limits the result ("bound only", "a starting point").
        table: rows, when there are any.
        keeps: what can be kept as a reading.
        draw: numbers for the drawing, as text for its attributes.
    """

    lines: tuple[Line, ...] = ()
    said: tuple[Said, ...] = ()
    flags: tuple[str, ...] = ()
    table: Table | None = None
    keeps: tuple[Keep, ...] = ()
    draw: Mapping[str, Any] = field(default_factory=dict)


Given = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoning:
    """One page: what it asks, what it works out, from which formula and source; `idle` is what it draws at first."""

    slug: str
    name: str
    short: str
    inputs: tuple[Input, ...]
    work: Callable[[Given], Result]
    formula: tuple[str, ...]
    source: str
    cautions: tuple[str, ...] = ()
    drawing: str = ""
    idle: Mapping[str, Any] = field(default_factory=dict)

    @property
    def warnings(self) -> list[str]:
        """What may hurt people, without its signal word."""
        return [one.removeprefix("WARNING. ") for one in self.cautions if one.startswith("WARNING")]

    @property
    def mild(self) -> list[str]:
        """What may hurt the vehicle."""
        return [one.removeprefix("CAUTION. ") for one in self.cautions if one.startswith("CAUTION")]


def frac(value: float | Fraction | Decimal | int) -> Fraction:
    """A worked figure as a fraction; a binary float to nine places, far finer than any gauge."""
    return Fraction(f"{value:.9f}") if isinstance(value, float) else Fraction(value)


def text(value: float | Fraction | Decimal | int, places: int = 1) -> str:
    """Rounded as a person rounds, without trailing noughts."""
    return format(rounded(frac(value), places), "f")


def line(label: str, value: float | Fraction | Decimal | int, unit: str = "", places: int = 1) -> Line:
    """A result with its unit, and the other system's unit behind it where there is one."""
    shown = rounded(frac(value), places)
    return Line(
        label=label, value=format(shown, "f"), unit=unit, beside=also(shown, unit, BESIDE.get(unit, unit))
    )


def between(
    label: str, one: float, other: float, unit: str = "", places: int = 1, *, said: str = "between"
) -> Line:
    """Two bounds, the lesser first."""
    low, high = sorted((one, other))
    words = f"{said} {text(low, places)} and {text(high, places)}"
    return Line(label=label, value=words, unit=unit)


def judged(head: str, verdict: Verdict) -> Said:
    """A verdict of the limits under its own head, with its source."""
    return Said(
        kind=KINDS[verdict.word],
        head=f"{head}: {_WORDS[verdict.word]}",
        detail=f"{verdict.sentence}. {verdict.source}.",
    )


_WORDS = {
    "within": "within the limit",
    "near": "within, near the limit",
    "past": "past the limit",
    "not sure": "not sure",
}


def units_of() -> dict[str, Any]:
    """What the page in the browser needs to read a unit and to write the other system's beside it."""
    names = SHORT | {symbol.casefold(): symbol for symbol in UNITS if symbol}
    known = {symbol: [one.quantity, float(one.factor), float(one.offset)] for symbol, one in UNITS.items()}
    return {"units": known, "names": names, "beside": dict(BESIDE)}
