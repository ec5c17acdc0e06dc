"""Tables in: read all, check all, then write all or nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from fleet.exchange.cells import Calendar, CellError, nearest, norm, read_day
from fleet.exchange.known import Known
from fleet.exchange.reading import FileError, Sheet, read_path, read_sheets
from fleet.exchange.report import Count, Problem, Report
from fleet.exchange.rows import Batch, Raw
from fleet.exchange.tables import Table
from fleet.exchange.writing import write_batches
from fleet.http import forget_museum
from fleet.models import Museum, Person

Overrides = Mapping[str, Mapping[str, Mapping[str, Any]]]
Anchors = Callable[[], dict[str, dt.date]]


def run(
    tables: Mapping[str, Table],
    source: Path | str | Mapping[str, bytes],
    *,
    by: Person | None = None,
    dry_run: bool = False,
    overrides: Overrides | None = None,
    anchors: Anchors = dict,
) -> Report:
    """Brings tables in. `anchors` gives the first days of the events on file, which dates are counted from."""
    report = Report(dry_run=dry_run)
    try:
        files = source if isinstance(source, Mapping) else read_path(Path(source))
    except FileError as wrong:
        report.errors.append(Problem(table=str(source), words=str(wrong)))
        return report
    sheets, problems = read_sheets(files)
    report.errors.extend(problems)
    raws, headers = _raw_rows(tables, sheets, overrides or {}, report)
    calendar = _calendar(raws, anchors)
    with timezone.override(calendar.zone), transaction.atomic():
        known = Known(tables, calendar)
        batches = _plan(tables, raws, headers, known, report)
        _tell(batches, known, report)
        if report.ok and not dry_run:
            try:
                with transaction.atomic():
                    write_batches(batches, known, by=by)
                report.written = True
                transaction.on_commit(forget_museum)
            except (IntegrityError, ValidationError) as wrong:
                report.errors.append(
                    Problem(table="database", words=f"The database refused what the tables say: {wrong}")
                )
    return report


def _raw_rows(
    tables: Mapping[str, Table], sheets: list[Sheet], overrides: Overrides, report: Report
) -> tuple[dict[str, list[Raw]], dict[str, frozenset[str]]]:
    raws: dict[str, list[Raw]] = {}
    headers: dict[str, frozenset[str]] = {}
    visible = [name for name, table in tables.items() if not table.hidden]
    for sheet in sheets:
        table = tables.get(sheet.name)
        if table is None or table.hidden:
            report.errors.append(
                Problem(table=sheet.name, words="no table has this name", right=nearest(sheet.name, visible))
            )
            continue
        if sheet.name in headers:
            report.errors.append(Problem(table=sheet.name, words="the table was handed in twice"))
            continue
        headers[sheet.name] = frozenset(sheet.header)
        _check_header(table, sheet, report)
        for number, cells in sheet.rows:
            _unfold(tables, table, _raw(sheet, number, cells, report), raws, overrides)
    return raws, headers


def _check_header(table: Table, sheet: Sheet, report: Report) -> None:
    for place, name in enumerate(sheet.header):
        if not name:
            report.errors.append(Problem(table=sheet.name, row=1, words=f"column {place + 1} has no name"))
        elif name not in table.by_name:
            right = nearest(name, [other for other in table.by_name if other not in sheet.header])
            report.errors.append(
                Problem(table=sheet.name, row=1, column=name, words="no column has this name", right=right)
            )
        elif name in sheet.header[:place]:
            report.errors.append(
                Problem(table=sheet.name, row=1, column=name, words="the column stands twice")
            )


def _raw(sheet: Sheet, number: int, cells: list[str], report: Report) -> Raw:
    if any(cells[len(sheet.header) :]):
        report.errors.append(
            Problem(
                table=sheet.name,
                row=number,
                words=f"more cells than the {len(sheet.header)} columns",
                right="quotation marks round a cell that holds the delimiter",
            )
        )
    return Raw(
        source=sheet.name,
        number=number,
        cells={name: cell for name, cell in zip(sheet.header, cells, strict=False) if cell},
    )


def _unfold(
    tables: Mapping[str, Table], table: Table, raw: Raw, raws: dict[str, list[Raw]], overrides: Overrides
) -> None:
    for code, wanted in overrides.get(table.name, {}).items():
        if any(norm(raw.cells.get(name, "")) == norm(code) for name in table.naming):
            raw.cells.update({name: str(value) for name, value in wanted.items()})
    if table.unfold is not None:
        for other, cells in table.unfold(raw.cells):
            raws.setdefault(other, []).append(Raw(source=raw.source, number=raw.number, cells=cells))
    raws.setdefault(table.name, []).append(raw)


def _calendar(raws: Mapping[str, list[Raw]], anchors: Anchors) -> Calendar:
    """The zone, and each event's first day: on file or, first, in the tables handed in."""
    stored = Museum.objects.values_list("time_zone", flat=True).first()
    named = next((raw.cells.get("time_zone") for raw in raws.get("museum", ())), None)
    zone = ZoneInfo(settings.TIME_ZONE)
    for name in (stored, named):
        try:
            zone = ZoneInfo(name) if name else zone
        except (ValueError, KeyError, OSError):  # the museum's row tells it
            continue
    found = {norm(code): day for code, day in anchors().items()}
    calendar = Calendar(zone=zone)
    for raw in raws.get("events", ()):
        try:
            found[norm(raw.cells.get("code", ""))] = read_day(raw.cells.get("first_day", ""), calendar)
        except CellError:  # told when the row itself is read
            continue
    calendar.anchors = found
    return calendar


def _plan(
    tables: Mapping[str, Table],
    raws: Mapping[str, list[Raw]],
    headers: Mapping[str, frozenset[str]],
    known: Known,
    report: Report,
) -> dict[str, Batch]:
    batches = {
        name: Batch(table=table, known=known, report=report, header=headers.get(name, frozenset()))
        for name, table in tables.items()
        if name in headers or raws.get(name)
    }
    for name, batch in batches.items():
        if not batch.table.late:
            batch.name_rows(raws.get(name, []))
    for table in tables.values():
        if table.after_names is not None:
            table.after_names(known, batches)
    for name, batch in batches.items():
        if batch.table.late:
            batch.name_rows(raws.get(name, []))
        batch.read_rows()
        batch.check_unique()
    for batch in batches.values():
        for check in batch.table.checks:
            check(batch)
    order = list(tables)
    report.errors.sort(key=lambda p: (order.index(p.table) if p.table in tables else -1, p.row or 0))
    report.warnings.sort(key=lambda p: (order.index(p.table) if p.table in tables else -1, p.row or 0))
    return batches


def _tell(batches: Mapping[str, Batch], known: Known, report: Report) -> None:
    for name in [*batches, *(name for name in known.made if name not in batches)]:
        if known.tables[name].hidden:
            continue
        batch = batches.get(name) or Batch(
            table=known.tables[name], known=known, report=report, header=frozenset()
        )
        report.counts[name] = batch.count() if name in batches else Count(new=len(known.made[name]))
        report.changes.extend(batch.changes())
