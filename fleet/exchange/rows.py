"""One row on its way in: read, compared with what is on file, checked."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db.models import Model
from django.db.models.fields import NOT_PROVIDED

from fleet.exchange.cells import NOTHING, NOTHING_SIGN, CellError, norm
from fleet.exchange.kinds import Ref
from fleet.exchange.known import Known, Shelf
from fleet.exchange.report import Change, Count, Problem, Report
from fleet.exchange.tables import Children, Column, Table


@dataclass(slots=True, kw_only=True)
class Raw:
    """A row as it stood in the file: cells that say something, by column."""

    source: str
    number: int
    cells: dict[str, str]


@dataclass(slots=True, kw_only=True, eq=False)
class Row:
    table: Table
    raw: Raw
    known: Known
    report: Report
    instance: Model
    values: dict[str, Any] = field(default_factory=dict)
    changed: dict[str, str] = field(default_factory=dict)
    tried: set[str] = field(default_factory=set)
    is_new: bool = True
    bad: bool = False

    @property
    def shelf(self) -> Shelf:
        return self.known.shelf(self.table.name)

    @property
    def label(self) -> str:
        return self.shelf.labels.get(id(self.instance), "")

    def fail(self, column: str, words: str, right: str = "") -> None:
        self.bad = True
        problem = Problem(table=self.raw.source, row=self.raw.number, column=column, words=words, right=right)
        if problem not in self.report.errors[-4:]:  # a cell that serves two tables is told once
            self.report.errors.append(problem)

    def warn(self, column: str, words: str, right: str = "") -> None:
        self.report.warnings.append(
            Problem(table=self.raw.source, row=self.raw.number, column=column, words=words, right=right)
        )

    def gives(self, name: str) -> bool:
        """Whether the row says anything in that column."""
        return name in self.raw.cells

    def read(self, column: Column) -> None:
        """Reads one cell into `values`; a cell that is wrong is told and left out."""
        text = self.raw.cells.get(column.name, "")
        if not text or column.name in self.tried:
            return
        self.tried.add(column.name)
        if text == NOTHING and NOTHING_SIGN in column.kind.values():
            text = NOTHING_SIGN
        if text == NOTHING and column.required:
            self.fail(column.name, "is needed and cannot be emptied", column.example)
            return
        if text == NOTHING:
            self.values[column.name] = self._nothing(column)
            return
        try:
            self.values[column.name] = column.kind.read(text.removeprefix("\ufeff"), self)
        except CellError as wrong:
            self.fail(column.name, wrong.words, wrong.right)

    def _nothing(self, column: Column) -> Any:
        if column.kind.empty is not None:
            return (
                type(column.kind.empty)()
                if isinstance(column.kind.empty, (list, dict))
                else column.kind.empty
            )
        model_field = self.table.fields.get(column.name)
        if model_field is None or model_field.null or model_field.default is NOT_PROVIDED:
            return None
        return model_field.get_default()

    def text_of(self, name: str) -> str | None:
        """The written form of a cell of this row, or of the row on file; None when it could not be read."""
        column = self.table.by_name[name]
        if name in self.values:
            return self.table.text(column, self.values[name], self.known)
        if self.gives(name) or self.is_new:
            return None if self.gives(name) else ""
        return self.table.text(column, self.table.value(column, self.instance, self.shelf), self.known)

    def value(self, name: str) -> Any:
        """What the row holds after this import."""
        if name in self.values:
            return self.values[name]
        return (
            self.table.value(self.table.by_name[name], self.instance, self.shelf) if not self.is_new else None
        )

    # -- comparing ---------------------------------------------------------------------------------------------

    def settle(self) -> None:
        """Puts the read values on the instance, noting what is different from what was on file."""
        for name, value in self.values.items():
            column = self.table.by_name[name]
            if column.helper:
                continue
            if self.is_new:
                self._put(column, value)
            elif not self._same(column, value):
                self.changed[name] = self._difference(column, value)
                if self.table.append_only or (column.locked and self._on_file(column)):
                    self.fail(
                        name,
                        f"stands on file as {self._on_file(column) or 'nothing'} and is never changed by a table",
                    )
                else:
                    self._put(column, value)

    def _put(self, column: Column, value: Any) -> None:
        if column.put is not None:
            column.put(self.instance, value)
        elif isinstance(column.kind, Children):
            made = [column.kind.make(self.instance, one) for one in value]
            self.shelf.new_children[(column.name, id(self.instance))] = made
        elif not column.is_links:
            setattr(self.instance, column.attribute, value)

    def _same(self, column: Column, value: Any) -> bool:
        old = self.table.value(column, self.instance, self.shelf)
        if isinstance(column.kind, Children):
            return column.kind.same_rows(old, value, self.known)
        if column.is_links:
            return {id(one) for one in old} == {id(one) for one in value}
        if isinstance(column.kind, Ref):
            return old is value
        return column.kind.alike(old, value)

    def _on_file(self, column: Column) -> str:
        return column.kind.write(self.table.value(column, self.instance, self.shelf), self.known)

    def _difference(self, column: Column, value: Any) -> str:
        if isinstance(column.kind, Children):
            new = self.raw.cells[column.name]
        else:
            new = column.kind.write(value, self.known)
        return f"{column.name} {self._on_file(column) or 'nothing'} -> {new or 'nothing'}"

    # -- checking ----------------------------------------------------------------------------------------------

    def check_required(self, header: frozenset[str]) -> None:
        for column in self.table.columns:
            if not column.required or (
                self.gives(column.name) and self.values.get(column.name, 0) is not None
            ):
                continue
            if self.is_new or self.gives(column.name):
                if column.name in header:
                    self.fail(column.name, "is needed", column.example)
                self.bad = True

    def check_fields(self) -> None:
        """What the model itself asks of each value, and of the row as a whole."""
        for name in self.values if self.is_new else self.changed:
            model_field = self.table.fields.get(name)
            if model_field is None or model_field.is_relation:
                continue
            value = self.values[name]
            if value in (None, "", [], {}) and (model_field.null or model_field.blank):
                continue
            try:
                model_field.clean(value, self.instance)
            except ValidationError as wrong:
                self.fail(name, " ".join(wrong.messages))
        self._check_children()
        if self.bad or not (self.is_new or self.changed):
            return
        try:
            self.instance.clean()
        except ValidationError as wrong:
            self._told(wrong)

    def _check_children(self) -> None:
        """Each part of a cell that holds rows of its own."""
        for column in self.table.columns:
            if not isinstance(column.kind, Children):
                continue
            for child in self.shelf.new_children.get((column.name, id(self.instance)), ()):
                for name in column.kind.spec.fields:
                    model_field = child._meta.get_field(name)
                    value = getattr(child, name) if name not in column.kind.spec.refs else None
                    if value in (None, ""):
                        continue
                    try:
                        model_field.clean(value, child)  # type: ignore[union-attr]
                    except ValidationError as wrong:
                        self.fail(column.name, " ".join(wrong.messages))

    def _told(self, wrong: ValidationError) -> None:
        if not hasattr(wrong, "error_dict"):
            self.fail("", " ".join(wrong.messages))
            return
        columns = {column.attribute: column.name for column in self.table.columns}
        for name, messages in wrong.message_dict.items():
            self.fail("" if name == NON_FIELD_ERRORS else columns.get(name, name), " ".join(messages))


@dataclass(slots=True, kw_only=True)
class Batch:
    """All rows of one table in one import."""

    table: Table
    known: Known
    report: Report
    header: frozenset[str]
    rows: list[Row] = field(default_factory=list)

    @property
    def good(self) -> list[Row]:
        return [row for row in self.rows if not row.bad]

    @property
    def new(self) -> list[Row]:
        return [row for row in self.rows if row.is_new]

    @property
    def changed(self) -> list[Row]:
        return [row for row in self.rows if not row.is_new and row.changed]

    def count(self) -> Count:
        made = len(self.known.made.get(self.table.name, ()))
        new, changed = len(self.new), len(self.changed)
        return Count(new=new + made, changed=changed, alike=len(self.rows) - new - changed)

    def changes(self) -> list[Change]:
        told = [
            Change(
                table=self.table.name, label=row.label, is_new=row.is_new, what=tuple(row.changed.values())
            )
            for row in self.rows
            if row.is_new or row.changed
        ]
        shelf = self.known.shelf(self.table.name)
        return told + [
            Change(table=self.table.name, label=shelf.label(one), is_new=True)
            for one in self.known.made.get(self.table.name, ())
        ]

    def name_rows(self, raws: list[Raw]) -> None:
        """First pass: which row is which, so that every other table can point at it."""
        seen: dict[str, Raw] = {}
        times: dict[str, int] = {}
        shelf = self.known.shelf(self.table.name)
        for raw in raws:
            row = Row(
                table=self.table, raw=raw, known=self.known, report=self.report, instance=self.table.model()
            )
            self.rows.append(row)
            for name in self.table.naming:
                row.read(self.table.by_name[name])
            if row.bad:
                continue
            texts = {name: row.text_of(name) or "" for name in self.table.naming}
            names = shelf.names(texts)
            if not any(texts.values()) and self.table.naming and not self.table.repeats:
                row.bad = True
                if not self.table.by_name[
                    self.table.naming[0]
                ].required:  # else it is told like any needed cell
                    row.fail(self.table.naming[0], "is needed: without it nothing can point at this row")
                continue
            if self.table.repeats:
                times[norm(names[0])] = time = times.get(norm(names[0]), 0) + 1
                names = [names[0] if time == 1 else f"{names[0]} #{time}"]
            elif any(norm(name) in seen for name in names):
                first = next(seen[norm(name)] for name in names if norm(name) in seen)
                there = (
                    f"row {first.number}"
                    if first.source == raw.source
                    else f"row {first.number} of {first.source}"
                )
                row.fail(
                    self.table.naming[0] if self.table.naming else "", f"{names[0]} stands already in {there}"
                )
                continue
            seen.update(dict.fromkeys(map(norm, names), raw))
            self._match(row, names, shelf)

    def _match(self, row: Row, names: list[str], shelf: Shelf) -> None:
        on_file = {
            id(found): found
            for name in names
            for found in [shelf.by_label.get(norm(name))]
            if found is not None
        }
        if len(on_file) > 1:
            row.fail(self.table.naming[0], f"{' and '.join(names)} are two different rows on file")
        elif on_file:
            row.instance = next(iter(on_file.values()))
            row.is_new = False
        elif self.table.repeats:
            shelf.labels[id(row.instance)] = names[0]
            shelf.by_label[norm(names[0])] = row.instance
        else:
            shelf.add(row.instance, *names)
        if row.is_new and not row.bad:
            row.settle()  # so that other tables see at once what names this row
            if self.table.start is not None:
                self.table.start(row)

    def read_rows(self) -> None:
        """Second pass: all other cells, compared with what is on file."""
        missing = [c.name for c in self.table.columns if c.required and c.name not in self.header]
        if missing and any(row.is_new and row.raw.source == self.table.name for row in self.rows):
            for name in missing:
                self.report.errors.append(
                    Problem(table=self.table.name, row=1, column=name, words="the column is missing")
                )
        for row in self.rows:
            for column in self.table.columns:
                row.read(column)
            row.check_required(
                self.header if row.raw.source == self.table.name else frozenset(self.table.by_name)
            )
            row.settle()
            if self.table.fill is not None and not row.bad and (row.is_new or row.changed):
                self.table.fill(row)
            row.check_fields()

    def check_unique(self) -> None:
        """Values that no two rows may share although they do not name the row."""
        for name in self.table.unique:
            column = self.table.by_name[name]
            taken: dict[str, Model] = {}
            for instance in [
                *self.known.shelf(self.table.name).on_file,
                *(row.instance for row in self.rows),
            ]:
                word = norm(str(getattr(instance, column.attribute) or ""))
                other = taken.setdefault(word, instance) if word else instance
                if other is not instance:
                    row = next((row for row in self.rows if row.instance is instance), None) or next(
                        row for row in self.rows if row.instance is other
                    )
                    who = self.known.shelf(self.table.name).labels.get(
                        id(other if row.instance is instance else instance), ""
                    )
                    row.fail(name, f"'{getattr(instance, column.attribute)}' is {who}'s already")
