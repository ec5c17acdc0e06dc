"""One job with everything that hangs on it, in three queries however full it is.

A job's page shows some twenty short lists. Asked one by one they cost twenty journeys to the database, most of
which come back empty. Here each list becomes one branch of a single UNION ALL, its rows as JSON; the rows are
made into plain model instances again and laid where `prefetch_related` would lay them, so that templates and
`waits_for` read them without knowing.
"""

from __future__ import annotations

import datetime as dt
import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db import models
from django.db.models import CharField, F, QuerySet, Value
from django.db.models.functions import Cast, JSONObject

from fleet.models import Person, Photo, Skill
from maintenance.models import (
    CautionRead,
    Defect,
    DefectEffect,
    Deferral,
    DeferralLimit,
    JobCard,
    JobPhoto,
    JobSignature,
    JobStep,
    JobTest,
    LeaveSafe,
    Measure,
    PartNeed,
    Reading,
    SpecialTool,
    StripItem,
    Supplier,
    Tag,
    WorkLog,
)

Row = models.Model
_BRIEF = ("id", "serial", "title", "state", "version")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Branch:
    """One list: its rows for a job, the columns wanted, and the order in which they are shown."""

    rows: QuerySet[Any]
    order: tuple[str, ...] = ("pk",)
    columns: tuple[str, ...] = ()

    @property
    def model(self) -> type[Row]:
        model: type[Row] = self.rows.model
        return model

    def fields(self) -> list[models.Field[Any, Any]]:
        every = self.model._meta.concrete_fields
        return [field for field in every if not self.columns or field.attname in self.columns]


def _branches(pk: int) -> dict[str, _Branch]:
    readings = Reading.objects.filter(card=pk)
    defects = Defect.objects.filter(cards=pk)
    deferrals = Deferral.objects.filter(defect__cards=pk, withdrawn_at=None)
    parts = PartNeed.objects.filter(card=pk)
    photos = JobPhoto.objects.filter(card=pk)
    return {
        "steps": _Branch(rows=JobStep.objects.filter(card=pk), order=("order",)),
        "strip_items": _Branch(rows=StripItem.objects.filter(card=pk), order=("number",)),
        "tests": _Branch(rows=JobTest.objects.filter(card=pk), order=("at", "pk")),
        "signatures": _Branch(rows=JobSignature.objects.filter(card=pk), order=("at", "pk")),
        "hours": _Branch(rows=WorkLog.objects.filter(card=pk), order=("day", "pk")),
        "cautions_read": _Branch(rows=CautionRead.objects.filter(card=pk)),
        "left_safe": _Branch(rows=LeaveSafe.objects.filter(card=pk), order=("at", "pk")),
        "tags": _Branch(rows=Tag.objects.filter(card=pk), order=("placed_at", "pk")),
        "parts": _Branch(rows=parts, order=("name", "pk")),
        "suppliers": _Branch(rows=Supplier.objects.filter(pk__in=parts.order_by().values("supplier"))),
        "card_photos": _Branch(rows=photos),
        "photos": _Branch(rows=Photo.objects.filter(pk__in=photos.order_by().values("photo"))),
        "readings": _Branch(rows=readings, order=("at", "pk")),
        "reading_measures": _Branch(
            rows=Measure.objects.filter(pk__in=readings.order_by().values("measure"))
        ),
        "measures": _Branch(rows=Measure.objects.filter(cards=pk), order=("name", "pk")),
        "defects": _Branch(rows=defects, order=("reported_at", "pk")),
        "effects": _Branch(rows=DefectEffect.objects.filter(defect__cards=pk), order=("function",)),
        "deferrals": _Branch(rows=deferrals, order=("signed_on", "pk")),
        "limits": _Branch(rows=DeferralLimit.objects.filter(deferral__in=deferrals.order_by().values("pk"))),
        "skills": _Branch(rows=Skill.objects.filter(cards=pk), order=("name",)),
        "tools": _Branch(rows=SpecialTool.objects.filter(cards=pk), order=("name",)),
        "after": _Branch(rows=JobCard.objects.filter(before=pk), order=("serial",), columns=_BRIEF),
        "spawned": _Branch(rows=JobCard.objects.filter(found_on=pk), order=("serial",), columns=_BRIEF),
    }


def _as_json(branch: _Branch) -> JSONObject:
    # Decimals go as text: a JSON number would come back as a binary float.
    return JSONObject(
        **{
            field.attname: Cast(field.attname, CharField())
            if isinstance(field, models.DecimalField)
            else F(field.attname)
            for field in branch.fields()
        }
    )


def _python(field: models.Field[Any, Any], value: Any) -> Any:
    if value is None:
        return None
    if isinstance(field, models.JSONField):
        return json.loads(value) if isinstance(value, str) else value
    made = field.to_python(value)
    if isinstance(made, dt.datetime) and made.tzinfo is None:
        return made.replace(tzinfo=dt.UTC)  # SQLite keeps moments in UTC without saying so
    return made


def _instance(branch: _Branch, row: Mapping[str, Any], using: str) -> Row:
    fields = branch.fields()
    return branch.model.from_db(
        using, [f.attname for f in fields], [_python(f, row[f.attname]) for f in fields]
    )


def _read(pk: int) -> dict[str, list[Any]]:
    branches = _branches(pk)
    selects = [
        branch.rows.order_by()
        .annotate(branch_name=Value(name, output_field=CharField()), branch_row=_as_json(branch))
        .values_list("branch_name", "branch_row")
        for name, branch in branches.items()
    ]
    found: dict[str, list[Any]] = {name: [] for name in branches}
    everything: Any = selects[0].union(*selects[1:], all=True)
    for name, row in everything:
        found[name].append(_instance(branches[name], row, everything.db))
    for name, rows in found.items():
        rows.sort(key=_sort_key(branches[name].order))
    return found


def _sort_key(columns: tuple[str, ...]) -> Callable[[Any], tuple[Any, ...]]:
    return lambda one: tuple(getattr(one, column) for column in columns)


def _lay(owner: Any, name: str, rows: Iterable[Row]) -> None:
    """Lay rows where `prefetch_related` would. Django has no public door for this; a test compares every column."""
    laid = getattr(owner, name).get_queryset()
    laid._result_cache, laid._prefetch_done = list(rows), True  # noqa: SLF001
    owner.__dict__.setdefault("_prefetched_objects_cache", {})[name] = laid


def _join(rows: Iterable[Any], field: str, targets: Mapping[int, Row]) -> None:
    """Set a foreign key's row where it is among those read."""
    for row in rows:
        target = targets.get(getattr(row, f"{field}_id"))
        if target is not None:
            setattr(row, field, target)


def _people(found: Mapping[str, list[Any]], card: JobCard) -> None:
    """Every person who is named anywhere on the job, in one query."""
    named = [
        (row, field.name, getattr(row, field.attname))
        for rows in found.values()
        for row in rows
        for field in row._meta.concrete_fields
        if field.related_model is Person and field.attname in row.__dict__ and getattr(row, field.attname)
    ]
    known: dict[int, Person] = {
        one.pk: one for one in (card.taken_by, card.suits, card.consent_by) if one is not None
    }
    known |= Person.objects.in_bulk({pk for *_, pk in named} - set(known))
    for row, name, pk in named:
        setattr(row, name, known[pk])


def card_whole(card: JobCard) -> JobCard:
    """Lay everything on a job that was read with its vehicle, system and way in. Two queries."""
    found = _read(card.pk)
    by_pk = {name: {row.pk: row for row in rows} for name, rows in found.items()}
    _people(found, card)
    for name in (
        "steps",
        "strip_items",
        "tests",
        "signatures",
        "hours",
        "cautions_read",
        "left_safe",
        "tags",
        "parts",
        "card_photos",
        "readings",
    ):
        _join(found[name], "card", {card.pk: card})
    _join(found["parts"], "supplier", by_pk["suppliers"])
    _join(found["card_photos"], "photo", by_pk["photos"])
    _join(found["card_photos"], "item", by_pk["strip_items"])
    _join(found["readings"], "measure", by_pk["reading_measures"])
    replaced = {reading.replaces_id: reading for reading in found["readings"] if reading.replaces_id}
    for reading in found["readings"]:
        reading._state.fields_cache["replaced_by"] = replaced.get(reading.pk)
    _lay_grouped(found["deferrals"], "limits", found["limits"], "deferral")
    _lay_grouped(found["defects"], "deferrals", found["deferrals"], "defect")
    _lay_grouped(found["defects"], "effects", found["effects"], "defect")
    for name in (
        "steps", "strip_items", "tests", "signatures", "hours", "cautions_read", "left_safe", "tags", "parts",
        "card_photos", "readings", "measures", "defects", "skills", "tools", "after", "spawned",
    ):  # fmt: skip
        _lay(card, name, found[name][::-1] if name == "left_safe" else found[name])
    return card


def _lay_grouped(owners: Iterable[Any], name: str, rows: Iterable[Any], field: str) -> None:
    grouped: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        grouped[getattr(row, f"{field}_id")].append(row)
    for owner in owners:
        for row in grouped[owner.pk]:
            setattr(row, field, owner)
        _lay(owner, name, grouped[owner.pk])
