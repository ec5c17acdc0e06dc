"""Tables out: the same tables that come in, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction

from fleet.exchange.cells import NOTHING_SIGN, NUMBER, Calendar, safe
from fleet.exchange.kinds import Amount, Whole, natural
from fleet.exchange.known import Known, Shelf
from fleet.exchange.tables import Column, Table
from fleet.models import Museum

EXAMPLE_MARK = "# "
EXACT_DIGITS = 15
"""A spreadsheet keeps so many digits of a number; a longer one is written as text."""

Rows = list[list[str]]


def written(tables: Mapping[str, Table]) -> Iterator[tuple[Table, Rows]]:
    """Every table with its rows as text, in an order that does not depend on the database."""
    zone = Museum.objects.values_list("time_zone", flat=True).first() or settings.TIME_ZONE
    with transaction.atomic():  # one moment, although it takes a statement a table
        known = Known(tables, Calendar(zone=ZoneInfo(zone)))
        for table in tables.values():
            if not table.hidden:
                yield table, _rows(table, known.shelf(table.name))


def _rows(table: Table, shelf: Shelf) -> Rows:
    keyed = [
        (natural(shelf.label(one)), [_cell(column, table, one, shelf) for column in table.columns])
        for one in shelf.on_file
    ]
    return [cells for _, cells in sorted(keyed)]


def _cell(column: Column, table: Table, instance: Any, shelf: Shelf) -> str:
    text = column.kind.write(table.value(column, instance, shelf), shelf.known)
    if text:
        return safe(text)
    return NOTHING_SIGN if column.dash else ""


def csv_bytes(header: list[str], rows: Rows) -> bytes:
    """Comma, CRLF and UTF-8 with its mark: what spreadsheets of every make open without asking."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(header)
    writer.writerows(rows)
    return text.getvalue().encode("utf-8-sig")


def export_files(tables: Mapping[str, Table]) -> dict[str, bytes]:
    """File name to content, for every table, empty ones too."""
    return {
        f"{table.name}.csv": csv_bytes([column.name for column in table.columns], rows)
        for table, rows in written(tables)
    }


def export_folder(tables: Mapping[str, Table], folder: Path) -> list[Path]:
    """Writes every table into a folder; no half file ever stands under its final name."""
    folder.mkdir(parents=True, exist_ok=True)
    done = []
    for name, content in export_files(tables).items():
        path, half = folder / name, folder / f".{name}.half"
        half.write_bytes(content)
        half.replace(path)
        done.append(path)
    return done


def workbook_bytes(tables: Mapping[str, Table]) -> bytes:
    """All tables in one workbook, a sheet each; only those with rows, as a workbook without a sheet is none."""
    import xlsxwriter  # heavy, and needed for workbooks only

    content = io.BytesIO()
    options = {
        "in_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
    }
    with xlsxwriter.Workbook(content, options) as book:
        bold = book.add_format({"bold": True})
        for table, rows in written(tables):
            sheet = book.add_worksheet(table.name)
            sheet.freeze_panes(1, 0)
            sheet.write_row(0, 0, [column.name for column in table.columns], bold)
            for number, cells in enumerate(rows, start=1):
                for place, (column, cell) in enumerate(zip(table.columns, cells, strict=True)):
                    if not cell:
                        continue
                    if (
                        isinstance(column.kind, (Amount, Whole))
                        and NUMBER.fullmatch(cell)
                        and len(cell) <= EXACT_DIGITS
                    ):
                        sheet.write_number(number, place, float(cell))
                    else:
                        sheet.write_string(number, place, cell)
    return content.getvalue()


def template_bytes(table: Table) -> bytes:
    """An empty table to fill in: its header, and an example row that is skipped on the way in."""
    example = [column.example for column in table.columns]
    return csv_bytes(
        [column.name for column in table.columns], [[EXAMPLE_MARK + example[0], *map(safe, example[1:])]]
    )
