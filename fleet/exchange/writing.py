"""What was planned into the database: a few statements a table, never one a row."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Model

from fleet.exchange.known import Known, Shelf
from fleet.exchange.report import Count
from fleet.exchange.rows import Batch, Row
from fleet.exchange.tables import Children, Table
from fleet.models import Act, Person

CHUNK = 400


def write_batches(batches: Mapping[str, Batch], known: Known, *, by: Person | None) -> None:
    acts = []
    for batch in batches.values():
        if batch.table.before_write is not None:
            batch.table.before_write(batch)
    for name, table in known.tables.items():
        made, there = known.made.get(name, []), batches.get(name)
        _create(table, [*made, *(row.instance for row in there.new)] if there else made)
        if there is not None:
            _update(table, there.changed)
            _children(table, known.shelf(name), [*there.new, *there.changed])
        count = there.count() if there else Count(new=len(made))
        if not table.hidden and (count.new or count.changed):
            acts.append(_act(table, count, by))
    for batch in batches.values():
        _links(batch)
    Act.objects.bulk_create(acts)


def _act(table: Table, count: Count, by: Person | None) -> Act:
    return Act(
        by=by,
        by_name=by.name if by else "",
        act="table.import",
        subject_kind="table",
        subject_id=table.name,
        subject_label=f"{table.title}: {count}"[:200],
        detail={"new": count.new, "changed": count.changed, "alike": count.alike},
    )


def _create(table: Table, instances: Iterable[Model]) -> None:
    """Rows that point at rows of the same table wait until those are there."""
    waiting = list(instances)
    while waiting:
        ready = [one for one in waiting if all(_is_saved(one, name) for name in table.self_links)]
        if not ready:
            raise ValidationError(f"{table.name}: rows point at each other in a ring")
        table.model._default_manager.bulk_create(ready, batch_size=CHUNK)
        waiting = [one for one in waiting if one.pk is None]


def _is_saved(instance: Model, attribute: str) -> bool:
    field = instance._meta.get_field(attribute)
    other = getattr(instance, attribute) if field.is_cached(instance) else None  # type: ignore[union-attr]
    return other is None or other.pk is not None


def _update(table: Table, rows: list[Row]) -> None:
    """Rows with the same changed columns go together."""
    groups: dict[frozenset[str], list[Model]] = defaultdict(list)
    for row in rows:
        names: set[str] = set()
        for name in row.changed:
            column = table.by_name[name]
            if column.put is not None:
                names.update(column.field.split())
            elif column.is_plain:
                names.add(column.attribute)
        if hasattr(row.instance, "version"):
            row.instance.version += 1
            names.add("version")
        if names:
            groups[frozenset(names)].append(row.instance)
    for fields, instances in groups.items():
        table.model._default_manager.bulk_update(instances, sorted(fields), batch_size=100)


def _children(table: Table, shelf: Shelf, rows: list[Row]) -> None:
    for column in table.columns:
        if not isinstance(column.kind, Children):
            continue
        model = column.kind.spec.model
        touched = [row for row in rows if (column.name, id(row.instance)) in shelf.new_children]
        old = [row.instance.pk for row in touched if not row.is_new]
        if old:
            model._default_manager.filter(**{f"{column.kind.spec.parent}__in": old}).delete()
        new = [child for row in touched for child in shelf.new_children[(column.name, id(row.instance))]]
        model._default_manager.bulk_create(new, batch_size=CHUNK)


def _links(batch: Batch) -> None:
    for column in batch.table.columns:
        if not column.is_links:
            continue
        rows = [
            row
            for row in batch.rows
            if column.name in row.values and (row.is_new or column.name in row.changed)
        ]
        if not rows:
            continue
        field: Any = batch.table.model._meta.get_field(column.attribute)
        near, far = f"{field.m2m_field_name()}_id", f"{field.m2m_reverse_field_name()}_id"
        through = getattr(batch.table.model, column.attribute).through._default_manager
        old = [row.instance.pk for row in rows if not row.is_new]
        if old:
            through.filter(**{f"{near}__in": old}).delete()
        through.bulk_create(
            [
                through.model(**{near: row.instance.pk, far: other.pk})
                for row in rows
                for other in row.values[column.name]
            ],
            batch_size=CHUNK,
        )
