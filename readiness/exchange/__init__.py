"""Tables in and out: the only place that sees those of all three apps."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Protocol

from django.db import transaction

from fleet.exchange import exporting, fleet_tables
from fleet.exchange.importing import Overrides, run
from fleet.exchange.report import Report
from fleet.exchange.tables import Table
from fleet.models import Person
from fleet.services.permit import permit
from maintenance import exchange as workshop_tables
from maintenance.signals import work_changed
from readiness.exchange import events
from readiness.models import Event

TABLES: dict[str, Table] = {
    table.name: table for table in (*fleet_tables.TABLES, *workshop_tables.TABLES, *events.TABLES)
}
"""Every table by its name, in the order in which they are written."""


class Upload(Protocol):
    """A file as a form hands it over."""

    name: str | None

    def read(self) -> bytes: ...


def _first_days() -> dict[str, dt.date]:
    return dict(Event.objects.values_list("code", "first_day"))


def import_folder(
    source: Path | str | Mapping[str, bytes],
    *,
    by: Person | None = None,
    dry_run: bool = False,
    overrides: Overrides | None = None,
) -> Report:
    """Brings in the tables of a folder, of one file, or of a mapping from file name to content.

    `overrides` replaces cells: `{"events": {"HWW": {"first_day": date}}}`. Nothing is written unless all is right.
    `by` must be allowed to bring in tables; None is the command line, which whoever keeps the machine may use.
    """
    if by is not None:
        permit(by, "data.import")
    report = run(TABLES, source, by=by, dry_run=dry_run, overrides=overrides, anchors=_first_days)
    if report.written and (report.total.new or report.total.changed):
        transaction.on_commit(_announce)
    return report


def _announce() -> None:
    work_changed.send(sender=Report, vehicle_id=None, act="table.import")


def import_upload(files: Iterable[Upload], *, by: Person | None = None, dry_run: bool = False) -> Report:
    """The same for files handed in by a form."""
    contents: dict[str, bytes] = {}
    for place, file in enumerate(files, start=1):
        name = Path(str(file.name or f"file {place}")).name
        contents[name if name not in contents else f"{place}-{name}"] = file.read()
    return import_folder(contents, by=by, dry_run=dry_run)


def export_museum(folder: Path) -> list[Path]:
    """Every table as CSV into a folder. Photographs, passwords and the act book are left to the backup."""
    return exporting.export_folder(TABLES, folder)


def export_files() -> dict[str, bytes]:
    """The same as file names and contents."""
    return exporting.export_files(TABLES)


def export_workbook() -> bytes:
    """Every table as a sheet of one workbook."""
    return exporting.workbook_bytes(TABLES)


def template(name: str) -> bytes:
    """An empty CSV table with its header and an example row; KeyError for a name that is no table's."""
    table = TABLES[name]
    if table.hidden:
        raise KeyError(name)
    return exporting.template_bytes(table)


__all__ = [
    "TABLES",
    "Report",
    "export_files",
    "export_museum",
    "export_workbook",
    "import_folder",
    "import_upload",
    "template",
]
