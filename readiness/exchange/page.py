"""The page docs/import.md, made from the tables themselves so that the two cannot drift apart."""

from __future__ import annotations

from collections.abc import Iterator

from fleet.exchange.tables import Column, Table
from readiness.exchange import TABLES

LONG_LIST = 14

INTRO = """\
# Bringing tables in, taking tables out

<!-- Made by scripts/make_import_docs.py from the tables themselves. Change those, not this page. -->

A museum has its vehicles, people and jobs in lists already. They come in as tables, one for each kind of thing:

    python manage.py import_museum FOLDER --dry-run
    python manage.py import_museum FOLDER
    python manage.py export_museum FOLDER --xlsx everything.xlsx

`FOLDER` holds files named like the tables below, such as `people.csv` and `jobs.csv`. One `.xlsx` workbook with a sheet
for each table will do as well. Start with `people`, `vehicles` and `jobs`; every other table may come later, and in any
order. An empty table with its columns and an example can be fetched from the page where tables are handed in. What comes out
of `export_museum` can be brought in as it is. Passwords, photographs and the act book are in no table: they belong to the
backup ([backup.md](backup.md)).

## How it goes

- **All or nothing.** Every row is looked at first, and everything that is wrong is told at once: table, row as your spreadsheet
  numbers it, column, what is wrong, and what would be right. Nothing is written until nothing is wrong.
- **A second time changes nothing.** Rows are known by their short name. A row that says what is on file already is left alone; one
  that says something else is changed; nothing is ever deleted.
- **`--dry-run`** tells what would be new and what would be changed, field by field, and writes nothing.
- Meter readings, outings, hours, results, tests, signatures and notes are only ever added to. What was rated or signed
  is not rewritten by a table.
- Each table leaves one line in the act book.

## What may stand in a cell

| | |
|---|---|
| nothing | says nothing: a new row takes what is usual, a row on file keeps what it has |
| `-` | empties the field |
| text | as it is; a first `'` before `=`, `+`, `-`, `@` or `#` is taken off again (it keeps spreadsheets from calculating) |
| number | with a point: `1.5`; spaces between thousands are fine: `18 204` |
| yes or no | `yes`, `no` |
| day | `2027-05-01`, or days from an event's first day: `HWW-35`, `HWW`, `HWW+1` |
| day and time | `2027-05-01 18:00` or `HWW-2 18:00`, in the museum's own time; without a time it is midday |
| several | between semicolons: `petrol; carburettors` |
| rating | figure and letter of MIL-STD-882E, Table III: `2C` |
| effects | `STOP:reduced ROLL:lost`, each function lost, reduced or watch |
| limits | `max speed=20; daylight only; text: battery charged overnight` |
| signers | `P02 as lead; P12 as manager` |

A row whose first cell begins with `#` is skipped. CSV files are UTF-8, with commas, semicolons or tabs between the cells.

## A job and its defect in one row

A row of `jobs` that carries `rating` or `effects` makes the defect as well, under the same short name: `deferrals`, `notes` and
`fact_uses` point at it with that name. The table `defects` is for defects without a job, and for jobs that clear several.

## What is refused, and what is only said

Refused: a name that is not known, a short name that stands twice, a meter that runs backwards without having been changed, hours
that do not rise from best to bad, a slot that ends before it starts, a deferral that ends before it is signed, a High risk
put off, an inspector who worked on the job, a tag lifted by somebody else than the lead, jobs that wait for each other, an
unknown column or table.

Taken, and said as a warning: too few signers (it is no deferral until they have signed), a term longer than the ladder allows
(it ends where the ladder says), a limit without its source, a job carried forward without a deferral, a person on two
duties at the same time.
"""


def _kind(column: Column) -> str:
    values = column.kind.values()
    if values and column.kind.words != "yes or no" and len(values) <= LONG_LIST:
        several = (
            "; between semicolons" if "semicolon" in column.kind.words or "words" in column.kind.words else ""
        )
        return " \\| ".join(f"`{value}`" for value in values) + several
    return column.kind.words


def _row(column: Column) -> str:
    needed = "needed" if column.required else ""
    example = f"`{column.example}`".replace("|", "\\|") if column.example else ""
    words = column.help.replace("|", "\\|")
    return f"| `{column.name}` | {needed} | {_kind(column)} | {example} | {words} |"


def _long_lists(table: Table) -> Iterator[str]:
    for column in table.columns:
        values = column.kind.values()
        if len(values) > LONG_LIST:
            yield f"`{column.name}` takes: " + ", ".join(f"`{value}`" for value in values) + ".\n"


def _section(table: Table) -> Iterator[str]:
    yield f"### {table.name}\n"
    yield f"{table.title}. {table.purpose}\n"
    names = " or ".join(f"`{name}`" for name in table.codes)
    if table.key:
        together = ", ".join(f"`{name}`" for name in table.key)
        names = (
            f"{names}, or without it by {together}"
            if names
            else f"{together} together"
            if len(table.key) > 1
            else together
        )
    if names:
        yield f"A row is known by {names}.{' The same may stand more than once.' if table.repeats else ''}\n"
    yield "| column | | kind | example | what it says |\n|---|---|---|---|---|"
    yield "\n".join(_row(column) for column in table.columns) + "\n"
    yield from _long_lists(table)


def import_page() -> str:
    """The whole page."""
    shown = [table for table in TABLES.values() if not table.hidden]
    index = " · ".join(f"[{table.name}](#{table.name})" for table in shown)
    parts = [INTRO, "## The tables\n", index + "\n", *(part for table in shown for part in _section(table))]
    return "\n".join(parts).rstrip() + "\n"
