"""The kinds of cell a column may have: how each is read, written, and described."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

from django.db.models import Choices, Model

from fleet.exchange import cells
from fleet.exchange.cells import CellError, join_list, nearest, norm, split_list

if TYPE_CHECKING:
    from fleet.exchange.known import Known
    from fleet.exchange.rows import Row

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")


class Kind:
    """A way of reading and writing a cell. `empty` is what the sign - leaves behind; None asks the model."""

    words = "text"
    empty: Any = None

    def read(self, text: str, row: Row) -> Any:
        raise NotImplementedError

    def write(self, value: Any, known: Known) -> str:
        return "" if value is None else str(value)

    def alike(self, old: Any, new: Any) -> bool:
        """Whether a cell says what is on file already."""
        if isinstance(old, str) and isinstance(new, str):
            return old.strip() == new
        return bool(old == new)

    def values(self) -> tuple[str, ...]:
        return ()


class Text(Kind):
    empty = ""

    def read(self, text: str, row: Row) -> str:
        if _CONTROL.search(text):
            raise CellError("a control character stands in the text", "plain text")
        return text

    def write(self, value: Any, known: Known) -> str:
        return "" if value is None else str(value).strip()


class Code(Text):
    """A short name: letters, digits, hyphen and underscore."""

    words = "short name"


class Word(Kind):
    """One of a fixed list of words. The word or its label is taken, capitals or not."""

    words = "one word of a list"
    empty = ""

    def __init__(
        self,
        choices: type[Choices] | Sequence[tuple[Any, str]],
        more: Callable[[Known], Iterable[str]] | None = None,
    ) -> None:
        pairs = choices.choices if isinstance(choices, type) else choices
        self.pairs = [(value, str(label)) for value, label in pairs]
        self.by_norm = {norm(label): value for value, label in self.pairs} | {
            norm(str(value)): value for value, _ in self.pairs
        }
        self.more = more

    def read(self, text: str, row: Row) -> Any:
        value = self.by_norm.get(norm(text))
        if value is not None:
            return value
        if self.more:
            for word in self.more(row.known):
                if norm(word) == norm(text):
                    return word
        close = nearest(text, [str(value) for value, _ in self.pairs])
        raise CellError(f"'{text}' is not known here", close or " | ".join(self.values()[:12]))

    def values(self) -> tuple[str, ...]:
        return tuple(str(value) for value, _ in self.pairs)


class Whole(Kind):
    words = "whole number"

    def read(self, text: str, row: Row) -> int:
        return cells.read_whole(text)


class Amount(Kind):
    words = "number with a point"

    def read(self, text: str, row: Row) -> Any:
        return cells.read_amount(text)

    def write(self, value: Any, known: Known) -> str:
        return "" if value is None else cells.write_amount(value)


class Yes(Kind):
    words = "yes or no"

    def read(self, text: str, row: Row) -> bool:
        return cells.read_yes(text)

    def write(self, value: Any, known: Known) -> str:
        return "" if value is None else ("yes" if value else "no")

    def values(self) -> tuple[str, ...]:
        return ("yes", "no")


class Day(Kind):
    words = "day"

    def read(self, text: str, row: Row) -> Any:
        return cells.read_day(text, row.known.calendar)

    def write(self, value: Any, known: Known) -> str:
        return "" if value is None else str(value.isoformat())


class Moment(Kind):
    words = "day and time"

    def read(self, text: str, row: Row) -> Any:
        return cells.read_moment(text, row.known.calendar)

    def write(self, value: Any, known: Known) -> str:
        return "" if not value else cells.write_moment(value, known.calendar.zone)


class Clock(Kind):
    words = "time of day"

    def read(self, text: str, row: Row) -> Any:
        return cells.read_clock(text)

    def write(self, value: Any, known: Known) -> str:
        return "" if value is None else cells.write_clock(value)


class Json(Kind):
    """A small table of names and words, `fire points=gate and yard; radios=channel 3`."""

    words = "name=words; name=words"
    empty: Any = {}

    def read(self, text: str, row: Row) -> dict[str, str]:
        found = {}
        for part in split_list(text):
            name, mark, words = part.partition("=")
            if not mark:
                raise CellError(f"'{part}' has no = between name and words", "fire points=gate and yard")
            found[name.strip()] = words.strip()
        return found

    def write(self, value: Any, known: Known) -> str:
        return join_list(f"{name}={words}" for name, words in (value or {}).items())


class Whatever(Kind):
    """Anything that the program itself wrote, as one line of JSON."""

    words = "JSON"
    empty: Any = {}

    def read(self, text: str, row: Row) -> Any:
        try:
            return json.loads(text)
        except ValueError:
            raise CellError("this is not JSON", "{}") from None

    def write(self, value: Any, known: Known) -> str:
        return json.dumps(value, ensure_ascii=False, sort_keys=True) if value else ""


class Words(Kind):
    """Several words of one's own, or of a fixed list, between semicolons."""

    words = "words; between semicolons"
    empty: Any = []

    def __init__(self, choices: Sequence[str] = (), gaps: str = "") -> None:
        self.choices = tuple(choices)
        self.gaps = gaps

    def read(self, text: str, row: Row) -> list[str]:
        for gap in self.gaps:
            text = text.replace(gap, ";")
        found = []
        for part in split_list(text):
            if self.choices:
                match = next((word for word in self.choices if norm(word) == norm(part)), None)
                if match is None:
                    raise CellError(
                        f"'{part}' is not known here", nearest(part, self.choices) or " | ".join(self.choices)
                    )
                part = match  # noqa: PLW2901
            if part not in found or not self.choices:
                found.append(part)
        return found

    def write(self, value: Any, known: Known) -> str:
        return join_list(str(part) for part in value or [])

    def alike(self, old: Any, new: Any) -> bool:
        return set(old) == set(new) if self.choices else bool(old == new)

    def values(self) -> tuple[str, ...]:
        return self.choices


class Ref(Kind):
    """The short name of a row of another table. `within` names columns that stand before it in that table's name."""

    def __init__(self, to: str, within: tuple[str, ...] = ()) -> None:
        self.to = to
        self.within = within
        self.words = f"short name in {to}"

    def read(self, text: str, row: Row) -> Model:
        parts = []
        for name in self.within:
            part = row.text_of(name)
            if part is None:
                raise CellError(f"cannot be looked up while {name} is not right")
            parts.append(part)
        return row.known.shelf(self.to).find(" / ".join([*parts, text]), say=text)

    def write(self, value: Any, known: Known) -> str:
        if not value:
            return ""
        label = known.shelf(self.to).label(value)
        return label.split(" / ", len(self.within))[-1] if self.within else label


class Refs(Kind):
    """Several short names of another table, between semicolons. Kept as a set of links, order apart."""

    def __init__(self, to: str) -> None:
        self.to = to
        self.words = f"short names in {to}; between semicolons"
        self.empty = []

    def read(self, text: str, row: Row) -> list[Model]:
        shelf = row.known.shelf(self.to)
        found = []
        for part in split_list(text):
            target = shelf.find(part)
            if target not in found:
                found.append(target)
        return found

    def write(self, value: Any, known: Known) -> str:
        shelf = known.shelf(self.to)
        return join_list(sorted((shelf.label(target) for target in value), key=natural))


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """J2 before J14."""
    return tuple(
        (0, int(part), "") if part.isdigit() else (1, 0, part) for part in re.split(r"(\d+)", text) if part
    )
