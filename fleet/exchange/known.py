"""Everything on file that an import may point at, loaded once a table, and what the import itself adds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from functools import cached_property
from typing import Any

from django.db.models import Model

from fleet.exchange.cells import Calendar, CellError, nearest, norm
from fleet.exchange.kinds import Refs
from fleet.exchange.tables import Children, Column, Table

HINTS = 60
"""Looking for a near name costs time; after so many wrong names the hint is left off."""


class Shelf:
    """The rows of one table: on file, and new in this import."""

    def __init__(self, table: Table, known: Known) -> None:
        self.table = table
        self.known = known
        self.by_label: dict[str, Model] = {}
        self.labels: dict[int, str] = {}
        self.by_pk: dict[Any, Model] = {}
        self.counted: dict[str, int] = defaultdict(int)
        self.new_children: dict[tuple[str, int], list[Model]] = {}
        self.on_file: list[Model] = list(table.model._default_manager.order_by("pk"))
        for instance in self.on_file:
            self.by_pk[instance.pk] = instance
        for instance in self.on_file:
            self._place(instance)

    def _place(self, instance: Model) -> None:
        texts = {
            name: self.table.text(column, self.table.value(column, instance, self), self.known)
            for name in self.table.naming
            for column in [self.table.by_name[name]]
        }
        self.add(instance, *self.names(texts))

    def names(self, texts: Mapping[str, str]) -> list[str]:
        """The names that a row with these cells goes by, the first being the one that is written out."""
        codes = [texts[name] for name in self.table.codes if texts.get(name)]
        if codes:
            return codes
        if self.table.single:
            return [self.table.name]
        return [" / ".join(texts.get(name, "") for name in self.table.key)]

    def add(self, instance: Model, *names: str) -> None:
        label = names[0]
        count = self.counted[norm(label)] = self.counted[norm(label)] + 1
        if count > 1 or norm(label) in self.by_label:
            label = f"{label} #{max(count, 2)}"
        self.labels[id(instance)] = label
        self.by_label[norm(label)] = instance
        for other in names[1:]:
            self.by_label.setdefault(norm(other), instance)

    def label(self, instance: Model) -> str:
        """The short name of a row; also of a copy of it that came from elsewhere."""
        if id(instance) not in self.labels:
            instance = self.by_pk[instance.pk]
        return self.labels[id(instance)]

    def find(self, name: str, *, say: str = "") -> Model:
        found = self.by_label.get(norm(name))
        if found is None:
            raise CellError(
                f"'{say or name}' is not known in {self.table.name}", self.hint(name, say or name)
            )
        return found

    def hint(self, name: str, say: str) -> str:
        if self.known.hints_left <= 0:
            return ""
        self.known.hints_left -= 1
        prefix = name[: len(name) - len(say)] if name.endswith(say) else ""
        before = norm(prefix)
        pool = [label[len(prefix) :] for label in self.labels.values() if norm(label).startswith(before)]
        return nearest(say, pool)

    @cached_property
    def _links(self) -> dict[str, dict[Any, list[Any]]]:
        found: dict[str, dict[Any, list[Any]]] = {}
        for column in self.table.columns:
            if column.is_links:
                field = self.table.model._meta.get_field(column.attribute)
                near, far = f"{field.m2m_field_name()}_id", f"{field.m2m_reverse_field_name()}_id"  # type: ignore[union-attr]
                through = getattr(self.table.model, column.attribute).through
                pairs: dict[Any, list[Any]] = defaultdict(list)
                for here, there in through._default_manager.values_list(near, far):
                    pairs[here].append(there)
                found[column.name] = pairs
        return found

    def linked(self, column: Column, instance: Model) -> list[Model]:
        assert isinstance(column.kind, Refs)
        others = self.known.shelf(column.kind.to).by_pk
        return [others[pk] for pk in self._links[column.name].get(instance.pk, ())]

    @cached_property
    def _children(self) -> dict[str, dict[Any, list[Model]]]:
        found: dict[str, dict[Any, list[Model]]] = {}
        for column in self.table.columns:
            if isinstance(column.kind, Children):
                spec = column.kind.spec
                rows: dict[Any, list[Model]] = defaultdict(list)
                for child in spec.model._default_manager.order_by("pk"):
                    rows[getattr(child, f"{spec.parent}_id")].append(child)
                found[column.name] = rows
        return found

    def children(self, column: Column, instance: Model) -> list[Model]:
        new = self.new_children.get((column.name, id(instance)))
        if new is not None:
            return new
        return self._children[column.name].get(instance.pk, []) if instance.pk is not None else []


class Known:
    """All shelves of one import or export, opened when first asked for."""

    def __init__(self, tables: Mapping[str, Table], calendar: Calendar) -> None:
        self.tables = tables
        self.calendar = calendar
        self.shelves: dict[str, Shelf] = {}
        self.made: dict[str, list[Model]] = defaultdict(list)
        self.side: dict[str, Any] = {}
        """Whatever a table wants to work out once for the whole import or export."""
        self.hints_left = HINTS

    def shelf(self, name: str) -> Shelf:
        if name not in self.shelves:
            self.shelves[name] = Shelf(self.tables[name], self)
        return self.shelves[name]

    def target(self, instance: Model, attribute: str, table: str) -> Any:
        """The row that another one points at, on file or new; None when there is none or its cell was wrong."""
        pk = getattr(instance, f"{attribute}_id")
        if pk is not None:
            return self.shelf(table).by_pk.get(pk)
        field: Any = instance._meta.get_field(attribute)
        return field.get_cached_value(instance, default=None)

    def make(self, name: str, instance: Model, *names: str) -> Model:
        """Adds a row that no table named itself, such as a skill that a person brings along."""
        self.shelf(name).add(instance, *names)
        self.made[name].append(instance)
        return instance
