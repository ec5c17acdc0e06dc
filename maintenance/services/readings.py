"""Readings: what is measured, against which limit from which source, and what was read."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.http import museum
from fleet.models import Person, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean, set_fields
from fleet.services.meters import Figure, decimal
from fleet.services.permit import permit
from maintenance.enums import Judgement
from maintenance.judging import judge_values, limit_of, limit_row
from maintenance.models import JobCard, Measure, Reading
from maintenance.services.base import announce, card_lock, card_save, moment
from maintenance.services.closing import settle
from maintenance.typed import figure_in

LIMIT_FIELDS = frozenset({"judgement", "low", "high", "choices", "basis", "source", "unit"})
OTHER_FIELDS = frozenset({"name", "code", "positions", "method", "condition", "system"})
HISTORY = 12


@transaction.atomic
def measure_add(
    *, by: Person, vehicle: Vehicle, system: str, name: str, judgement: str, **fields: Any
) -> Measure:
    """Set up a reading with its limit; the limit says where it comes from."""
    permit(by, "measure.add")
    unknown = sorted(set(fields) - LIMIT_FIELDS - OTHER_FIELDS)
    if unknown:
        raise ValidationError(f"A reading has no such thing: {', '.join(unknown)}.")
    row = Measure(vehicle=vehicle, system=system, name=name, judgement=judgement, **_figures(fields))
    _check_limit(row)
    save_clean(row)
    acts.record(act="measure.add", by=by, subject=row, vehicle=vehicle, detail={"limit": limit_row(row)})
    return row


def _figures(fields: dict[str, Any]) -> dict[str, Any]:
    return {
        name: decimal(value, name) if name in {"low", "high"} and value is not None else value
        for name, value in fields.items()
    }


def _check_limit(row: Measure) -> None:
    if row.judgement not in Judgement.values:
        raise ValidationError({"judgement": f"Choose one of: {', '.join(Judgement.values)}."})
    if not row.source.strip():
        raise ValidationError(
            {"source": "Write where the limit comes from: the manual and page, a standard, or house rule."}
        )
    try:
        limit_of(limit_row(row))
    except ValueError as trouble:
        raise ValidationError({"low" if row.judgement == "min" else "high": str(trouble)}) from trouble


@transaction.atomic
def measure_change(*, by: Person, measure: Measure, **changes: Any) -> Measure:
    """Change what is measured, or (the lead) its limit. Old readings keep the limit they were judged by."""
    permit(by, "measure.limit" if LIMIT_FIELDS & set(changes) else "measure.add")
    row = Measure.objects.select_for_update().get(pk=measure.pk)
    before = limit_row(row)
    if "unit" in changes and changes["unit"] != row.unit and row.readings.exists():
        raise ValidationError({"unit": "Readings are on file in the old unit. Set up a new reading instead."})
    moved = set_fields(row, _figures(changes), LIMIT_FIELDS | OTHER_FIELDS)
    _check_limit(row)
    if moved:
        row.changed_at = timezone.now()
        row.save(update_fields=["changed_at"])
        acts.record(
            act="measure.change",
            by=by,
            subject=row,
            vehicle=row.vehicle,
            detail={"limit": [before, limit_row(row)]},
        )
    return row


@transaction.atomic
def reading_add(
    *,
    by: Person,
    measure: Measure,
    values: Sequence[Figure | None],
    card: JobCard | None = None,
    moment_of: str = "check",
    condition: str = "",
    at: dt.datetime | None = None,
    note: str = "",
) -> Reading:
    """Write down a reading and judge it. The verdict and the limit used are kept with it."""
    permit(by, "reading.add")
    read_at = moment(at)
    measure = Measure.objects.select_related("vehicle").get(pk=measure.pk)  # the limit as it stands now
    row = _judged(measure, _texts(measure, values), read_at, before_pk=None)
    row.card, row.moment, row.condition, row.by, row.note = (
        card,
        moment_of,
        condition or measure.condition,
        by,
        _as_typed(measure, values, note),
    )
    return _keep(row, by)


@transaction.atomic
def reading_replace(*, by: Person, reading: Reading, values: Sequence[Figure | None], note: str) -> Reading:
    """Written down wrongly: the right one takes its place, the old one stays readable."""
    permit(by, "reading.add")
    old = Reading.objects.select_for_update(of=("self",)).select_related("measure", "card").get(pk=reading.pk)
    if Reading.objects.filter(replaces=old).exists():
        raise ValidationError({"values": "That reading is replaced already. Replace the newer one."})
    if not note.strip():
        raise ValidationError({"note": "Write what was wrong with it."})
    row = _judged(old.measure, _texts(old.measure, values), old.at, before_pk=old.pk)
    row.card, row.moment, row.condition, row.by, row.note = (
        old.card,
        old.moment,
        old.condition,
        by,
        _as_typed(old.measure, values, note),
    )
    row.replaces = old
    return _keep(row, by)


def _keep(row: Reading, by: Person) -> Reading:
    card = row.card
    if card is not None and card.vehicle_id != row.measure.vehicle_id:
        raise ValidationError({"card": f"{card} is of another vehicle."})
    save_clean(row)
    acts.record(
        act="reading.replace" if row.replaces_id else "reading.add", by=by, subject=row, vehicle=row.measure.vehicle,
        detail={"values": row.values, "verdict": row.verdict},
    )  # fmt: skip
    if card is not None:
        fresh = card_lock(card, ended=True)
        card_save(
            fresh,
            act="card.reading",
            by=by,
            detail={"reading": str(row)[:120], "verdict": row.verdict},
            at=row.at,
        )
        settle(fresh, by)
    announce("reading.add", row.measure.vehicle_id)
    return row


def _texts(measure: Measure, values: Sequence[Figure | None]) -> list[str]:
    """Values as text, one for each position; a figure is a finite decimal, a look one of its choices."""
    wanted = max(1, len(measure.positions))
    if len(values) != wanted:
        raise ValidationError(
            {"values": f"{measure.name} wants {wanted} value{'s' if wanted > 1 else ''}; {len(values)} came."}
        )
    texts = ["" if value is None else str(value).strip() for value in values]
    if not any(texts):
        raise ValidationError({"values": "No value was written down."})
    if measure.judgement == Judgement.LOOK:
        return texts
    return [f"{decimal(_in_its_unit(text, measure), 'values'):f}" if text else "" for text in texts]


def _in_its_unit(text: str, measure: Measure) -> str:
    try:
        return figure_in(text, measure.unit)[0]
    except ValueError as trouble:
        raise ValidationError({"values": str(trouble)}) from trouble


def _as_typed(measure: Measure, values: Sequence[Figure | None], note: str) -> str:
    """The note, with what the gauge showed where it was read in another unit."""
    if measure.judgement == Judgement.LOOK:
        return note.strip()
    other = [
        typed
        for value in values
        if value not in (None, "") and (typed := figure_in(str(value), measure.unit)[1])
    ]
    said = f"Read as {', '.join(other)}." if other else ""
    return " ".join(part for part in (note.strip(), said) if part)[:200]


def _history(measure: Measure, until: dt.datetime, before_pk: int | None) -> list[Reading]:
    rows: Any = measure.readings.filter(at__lte=until, replaced_by=None).order_by("-at", "-pk")
    if before_pk is not None:
        rows = rows.filter(pk__lt=before_pk)
    return list(rows[:HISTORY])


def _judged(measure: Measure, texts: list[str], at: dt.datetime, before_pk: int | None) -> Reading:
    earlier = _history(measure, at, before_pk)
    before = earlier[0] if earlier else None
    minutes = Decimal(int((at - before.at).total_seconds())) / 60 if before is not None else None
    row = museum()
    try:
        verdict, used = judge_values(
            measure, texts, near_share=row.near_share if row else Decimal(0), before=before.values if before else None,
            history=[one.values for one in earlier], minutes=minutes,
        )  # fmt: skip
    except ValueError as trouble:
        raise ValidationError({"values": str(trouble)}) from trouble
    return Reading(
        measure=measure,
        values=texts,
        at=at,
        verdict=verdict.word,
        verdict_words=verdict.sentence[:200],
        limit_used=used,
    )


def measures_for(card: JobCard) -> Iterable[Measure]:
    """What may be read on this job: the readings of its system, wanted ones among them."""
    if card.subsystem is None:
        return card.vehicle.measures.all()
    return card.vehicle.measures.filter(system__startswith=card.subsystem.group)
