"""What an import found and did, row by row, in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is wrong, or that a person should look at."""

    table: str
    row: int | None = None
    column: str = ""
    words: str
    right: str = ""

    def __str__(self) -> str:
        where = self.table
        if self.row is not None:
            where += f", row {self.row}"
        if self.column:
            where += f", column {self.column}"
        tail = f" Right would be: {self.right}." if self.right else ""
        words = self.words if self.words.endswith((".", "!", "?")) else self.words + "."
        return f"{where}: {words}{tail}"


@dataclass(slots=True)
class Count:
    new: int = 0
    changed: int = 0
    alike: int = 0

    def __str__(self) -> str:
        return f"{self.new} new, {self.changed} changed, {self.alike} alike"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One row that is new, or what is different in it."""

    table: str
    label: str
    is_new: bool
    what: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.table} {self.label}: {'new' if self.is_new else '; '.join(self.what)}"


@dataclass(slots=True, kw_only=True)
class Report:
    """The answer of an import. Nothing was written unless `written` is true."""

    errors: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)
    counts: dict[str, Count] = field(default_factory=dict)
    changes: list[Change] = field(default_factory=list)
    dry_run: bool = False
    written: bool = False

    @property
    def ok(self) -> bool:
        return not self.errors

    @property
    def total(self) -> Count:
        counts = self.counts.values()
        return Count(sum(c.new for c in counts), sum(c.changed for c in counts), sum(c.alike for c in counts))

    def lines(self) -> Iterator[str]:
        """The report as a person reads it, the errors first."""
        for problem in self.errors:
            yield f"WRONG    {problem}"
        for problem in self.warnings:
            yield f"WARNING  {problem}"
        if self.dry_run:
            for change in self.changes:
                yield f"WOULD BE {change}"
        for name, count in self.counts.items():
            yield f"{name}: {count}"
        if self.errors:
            yield f"Nothing was written: {len(self.errors)} to put right."
        elif self.dry_run:
            yield f"Nothing was written, as asked. In all: {self.total}."
        else:
            yield f"In all: {self.total}."
