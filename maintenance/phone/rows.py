"""Many short lists in one question to the database: each list comes as JSON, and becomes rows of its model again.

A job's page shows some fifteen short lists. Asked one by one, the asking costs more than the answers.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import models
from django.db.models import F, QuerySet, Subquery
from django.db.models.functions import JSONObject
from django.utils import timezone


class JsonRows(Subquery):
    """The rows of a query, which has one column named `line`, as one JSON array."""

    def __init__(self, queryset: QuerySet[Any]) -> None:
        super().__init__(queryset, output_field=models.JSONField())

    def as_sqlite(self, compiler: Any, connection: Any, **words: Any) -> Any:
        return self.as_sql(
            compiler,
            connection,
            template="(SELECT json_group_array(json(q.line)) FROM (%(subquery)s) q)",
            **words,
        )

    def as_postgresql(self, compiler: Any, connection: Any, **words: Any) -> Any:
        return self.as_sql(
            compiler,
            connection,
            template="(SELECT coalesce(jsonb_agg(q.line), '[]'::jsonb) FROM (%(subquery)s) q)",
            **words,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One list: its rows, which fields of them (all, when empty), and what is joined on, by attribute name."""

    rows: QuerySet[Any]
    fields: Sequence[str] = ()
    extras: Mapping[str, Any] = field(default_factory=dict)

    @property
    def model(self) -> type[models.Model]:
        return self.rows.model

    @property
    def names(self) -> list[str]:
        own = [one.attname for one in self.model._meta.concrete_fields]
        return [
            name for name in own if not self.fields or name in {*self.fields, self.model._meta.pk.attname}
        ]

    def query(self) -> JsonRows:
        wanted = {name: F(name) for name in self.names} | dict(self.extras)
        order = self.rows.query.order_by or self.model._meta.ordering or ["pk"]
        return JsonRows(self.rows.order_by(*order).values(line=JSONObject(**wanted)))

    def read(self, lines: Iterable[Mapping[str, Any]] | None, alias: str) -> list[Any]:
        """Rows of the model again, with what was joined on as attributes."""
        found = []
        for line in lines or ():  # a query that can have no rows is never asked, and gives nothing
            values = [python_of(self.model._meta.get_field(name), line[name]) for name in self.names]
            row = self.model.from_db(alias, self.names, values)
            for name in self.extras:
                setattr(row, name, line[name])
            found.append(row)
        return found


def python_of(column: Any, value: Any) -> Any:
    """A value as the model would have read it from its column."""
    if value is None:
        return None
    if isinstance(column, models.JSONField):
        return json.loads(value) if isinstance(value, str) else value
    if isinstance(column, models.ForeignKey):
        return value
    plain = column.to_python(str(value) if isinstance(column, models.DecimalField) else value)
    if isinstance(plain, dt.datetime) and timezone.is_naive(plain):
        return plain.replace(tzinfo=dt.UTC)  # SQLite keeps moments in UTC, without saying so
    return plain


def parts_of(anchor: QuerySet[Any], parts: Mapping[str, Part]) -> dict[str, list[Any]]:
    """All parts in one query. `anchor`: a query of exactly one row, to hang the lists on."""
    line = anchor.values(**{f"p_{name}": part.query() for name, part in parts.items()}).get()
    return {name: part.read(line[f"p_{name}"], anchor.db) for name, part in parts.items()}


def fill(row: models.Model, name: str, found: Sequence[Any]) -> None:
    """As if `name` had been prefetched: later reading of it asks nothing."""
    kept = getattr(row, name).get_queryset()
    kept._result_cache = list(found)  # noqa: SLF001 - what Django's own prefetching does
    kept._prefetch_done = True  # noqa: SLF001
    row._prefetched_objects_cache = {**getattr(row, "_prefetched_objects_cache", {}), name: kept}  # type: ignore[attr-defined]  # noqa: SLF001
