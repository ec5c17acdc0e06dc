"""What a table is: its columns, which of them name a row, and what else must hold."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from django.core.exceptions import FieldDoesNotExist
from django.db.models import Field, Model

from fleet.exchange.kinds import Kind, Ref, Refs

if TYPE_CHECKING:
    from fleet.exchange.known import Known, Shelf
    from fleet.exchange.rows import Batch, Row


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column.

    `field` is the model's attribute when it is not called like the column. A `helper` is read for the sake of
    others and stored nowhere. `locked` is written once: a table never changes it afterwards. `get` and `put`
    stand in where the value is no plain attribute; `key_text` where a row is named by less than the whole cell.
    """

    name: str
    kind: Kind
    help: str
    example: str = ""
    field: str = ""
    required: bool = False
    helper: bool = False
    locked: bool = False
    dash: bool = False
    get: Callable[[Any, Known], Any] | None = None
    put: Callable[[Any, Any], None] | None = None
    key_text: Callable[[Any, Known], str] | None = None

    @property
    def attribute(self) -> str:
        return self.field or self.name

    @property
    def is_links(self) -> bool:
        return isinstance(self.kind, Refs) and self.get is None

    @property
    def is_children(self) -> bool:
        return isinstance(self.kind, Children)

    @property
    def is_plain(self) -> bool:
        return not (self.helper or self.put or self.is_links or self.is_children)


@dataclass(frozen=True, kw_only=True)
class ChildSpec:
    """Rows of a child model that are written together in one cell."""

    model: type[Model]
    parent: str
    fields: tuple[str, ...]
    refs: Mapping[str, str] = field(default_factory=dict)


class Children(Kind):
    """A cell that holds all rows of a child model, such as the effects of a defect."""

    empty: Any = []

    def __init__(self, spec: ChildSpec, *, ordered: bool = True) -> None:
        self.spec = spec
        self.ordered = ordered

    def same_rows(self, old: list[Model], new: list[dict[str, Any]], known: Known) -> bool:
        """Whether the cell says what is on file already; the order counts unless it says nothing."""
        before = [self._described(child, known) for child in old]
        after = [tuple(one.get(name) for name in self.spec.fields) for one in new]
        return before == after if self.ordered else sorted(before) == sorted(after)

    def _described(self, child: Model, known: Known) -> tuple[Any, ...]:
        return tuple(
            known.shelf(self.spec.refs[name]).by_pk.get(getattr(child, f"{name}_id"))
            if name in self.spec.refs
            else getattr(child, name)
            for name in self.spec.fields
        )

    def make(self, parent: Model, values: Mapping[str, Any]) -> Model:
        return self.spec.model(**{self.spec.parent: parent}, **values)


@dataclass(frozen=True, kw_only=True)
class Table:
    """One table of the exchange.

    `codes` are columns each of which names a row by itself; `key` names it when they are empty. With
    `repeats` the same name may stand more than once and the rows are counted. `append_only` rows are never
    changed by a table. `late` rows are named by what other tables hold in their cells, so those are read first;
    nothing can point at them. `hidden` tables are never in a file.
    """

    name: str
    title: str
    purpose: str
    model: type[Model]
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()
    codes: tuple[str, ...] = ()
    repeats: bool = False
    append_only: bool = False
    single: bool = False
    hidden: bool = False
    late: bool = False
    unique: tuple[str, ...] = ()
    unfold: Callable[[dict[str, str]], list[tuple[str, dict[str, str]]]] | None = None
    start: Callable[[Row], None] | None = None
    fill: Callable[[Row], None] | None = None
    after_names: Callable[[Known, Mapping[str, Batch]], None] | None = None
    checks: tuple[Callable[[Batch], None], ...] = ()
    before_write: Callable[[Batch], None] | None = None
    notes: tuple[str, ...] = field(default=())

    @cached_property
    def by_name(self) -> dict[str, Column]:
        return {column.name: column for column in self.columns}

    @cached_property
    def naming(self) -> tuple[str, ...]:
        return (*self.codes, *(name for name in self.key if name not in self.codes))

    @cached_property
    def fields(self) -> dict[str, Field[Any, Any]]:
        """The model's field behind each plain column."""
        found = {}
        for column in self.columns:
            if column.is_plain:
                try:
                    found[column.name] = self.model._meta.get_field(column.attribute)
                except FieldDoesNotExist:
                    continue
        return found  # type: ignore[return-value]

    @cached_property
    def self_links(self) -> tuple[str, ...]:
        """Columns that point at another row of this same table."""
        return tuple(
            column.attribute
            for column in self.columns
            if column.is_plain and isinstance(column.kind, Ref) and column.kind.to == self.name
        )

    def value(self, column: Column, instance: Model, shelf: Shelf) -> Any:
        """What a row on file holds, rows of other tables as instances."""
        if column.get is not None:
            return column.get(instance, shelf.known)
        if isinstance(column.kind, Refs):
            return shelf.linked(column, instance)
        if isinstance(column.kind, Children):
            return shelf.children(column, instance)
        if isinstance(column.kind, Ref):
            return shelf.known.shelf(column.kind.to).by_pk.get(getattr(instance, f"{column.attribute}_id"))
        return getattr(instance, column.attribute)

    def text(self, column: Column, value: Any, known: Known) -> str:
        """The part of a row's name that this column gives."""
        if value is None:
            return ""
        return column.key_text(value, known) if column.key_text else column.kind.write(value, known)
