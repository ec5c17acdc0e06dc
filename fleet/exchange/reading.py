"""Files into rows of text: CSV in UTF-8, or a workbook with one sheet a table."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fleet.exchange.cells import NOTHING, NOTHING_SIGN, norm, unsafe
from fleet.exchange.report import Problem

MAX_BYTES = 25 * 1024 * 1024
MAX_UNPACKED = 200 * 1024 * 1024
MAX_ROWS = 200_000
MAX_CELL = 32_767
SUFFIXES = (".csv", ".xlsx")


class FileError(Exception):
    """A file that cannot be read as a table; says what to do about it."""


@dataclass(slots=True, kw_only=True)
class Sheet:
    """A table as it lay in the file. Rows are numbered as a spreadsheet numbers them, the header being row 1."""

    name: str
    header: list[str]
    rows: list[tuple[int, list[str]]] = field(default_factory=list)


def read_path(path: Path) -> dict[str, bytes]:
    """The tables of a folder, or of one file."""
    if path.is_dir():
        files = sorted(
            file for file in path.iterdir() if file.suffix.lower() in SUFFIXES and file.name[0] not in "~."
        )
        if not files:
            raise FileError(f"There is no .csv or .xlsx file in {path}.")
    elif path.is_file():
        files = [path]
    else:
        raise FileError(f"There is no folder or file {path}.")
    return {file.name: _bytes_of(file) for file in files}


def _bytes_of(file: Path) -> bytes:
    if file.stat().st_size > MAX_BYTES:
        raise FileError(f"{file.name} is larger than {MAX_BYTES // 1024 // 1024} MB. Split it.")
    return file.read_bytes()


def read_sheets(files: Mapping[str, bytes]) -> tuple[list[Sheet], list[Problem]]:
    """Every table of every file, and what kept a file from being read."""
    sheets: list[Sheet] = []
    problems: list[Problem] = []
    for name, content in files.items():
        try:
            sheets.extend(_sheets_of(name, content))
        except FileError as wrong:
            problems.append(Problem(table=name, words=str(wrong)))
    return sheets, problems


def _sheets_of(name: str, content: bytes) -> Iterator[Sheet]:
    suffix = Path(name).suffix.lower()
    if len(content) > MAX_BYTES:
        raise FileError(f"The file is larger than {MAX_BYTES // 1024 // 1024} MB. Split it.")
    if suffix == ".csv":
        yield _sheet(norm(Path(name).stem), _csv_rows(content))
    elif suffix == ".xlsx":
        yield from _workbook(content)
    else:
        raise FileError("Only .csv and .xlsx files are read.")


def _csv_rows(content: bytes) -> Iterator[list[str]]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = content[: wrong.start].count(b"\n") + 1
        word = (
            content[max(0, wrong.start - 12) : wrong.end + 8]
            .splitlines()[0]
            .decode("cp1252", "replace")
            .strip()
        )
        raise FileError(
            f"The file is not UTF-8: line {line} holds the byte {content[wrong.start]:#04x} near '{word}'. "
            "Save it again as CSV UTF-8 (comma delimited)."
        ) from None
    if "\x00" in text:
        raise FileError("The file holds null characters; it is no CSV text. Save it again as CSV UTF-8.")
    head = text.split("\n", 1)[0]
    bare = "".join(part for number, part in enumerate(head.split('"')) if number % 2 == 0)
    delimiter = max(",;\t", key=bare.count)
    try:
        yield from csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    except csv.Error as wrong:
        raise FileError(
            f"The file is no CSV table: {wrong}. Look for a quotation mark that is not closed."
        ) from None


def _workbook(content: bytes) -> Iterator[Sheet]:
    from python_calamine import CalamineError, CalamineWorkbook  # heavy, and needed for workbooks only

    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if sum(part.file_size for part in packed.infolist()) > MAX_UNPACKED:
                raise FileError("The workbook unpacks to more than is read here. Split it.")
        book = CalamineWorkbook.from_filelike(io.BytesIO(content))
        for name in book.sheet_names:
            rows = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
            if any(cell != "" for row in rows for cell in row):
                yield _sheet(norm(name), ([plain(cell) for cell in row] for row in rows))
    except (CalamineError, zipfile.BadZipFile, OSError) as wrong:
        raise FileError(
            f"The workbook cannot be opened ({wrong}). Save it again as .xlsx without a password."
        ) from None


def plain(cell: Any) -> str:
    """What stood in a workbook's cell, in the words that a CSV table uses."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    if isinstance(cell, dt.datetime):
        return (
            cell.date().isoformat() if cell.time() == dt.time(0) else cell.isoformat(sep=" ", timespec="auto")
        )
    if isinstance(cell, dt.timedelta):
        minutes, seconds = divmod(int(cell.total_seconds()), 60)
        return f"{minutes // 60:02d}:{minutes % 60:02d}" + (f":{seconds:02d}" if seconds else "")
    if isinstance(cell, (dt.date, dt.time)):
        return cell.isoformat()
    return str(cell)


def _sheet(name: str, rows: Iterator[list[str]]) -> Sheet:
    header: list[str] = []
    sheet = Sheet(name=name, header=header)
    for number, cells in enumerate(rows, start=1):
        if number > MAX_ROWS:
            raise FileError(f"More than {MAX_ROWS} rows. Split the table.")
        if not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#"):
            continue
        if not header:
            header.extend(norm(cell).replace(" ", "_") for cell in cells)
            while header and not header[-1]:
                header.pop()
            continue
        if any(len(cell) > MAX_CELL for cell in cells):
            raise FileError(f"Row {number} holds a cell of more than {MAX_CELL} characters.")
        sheet.rows.append((number, [_cell(cell.strip()) for cell in cells]))
    if not header:
        raise FileError(f"{name} has no header row.")
    return sheet


def _cell(text: str) -> str:
    return NOTHING if text == NOTHING_SIGN else unsafe(text)
