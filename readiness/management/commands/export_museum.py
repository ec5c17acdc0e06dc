"""`manage.py export_museum FOLDER [--xlsx FILE]`: all tables out, in the form in which they come in."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from readiness.exchange import export_museum, export_workbook


class Command(BaseCommand):
    help = "Write every table as CSV into a folder, and with --xlsx all of them into one workbook as well."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "folder", help="Folder to write into; tables of an earlier export there are replaced."
        )
        parser.add_argument(
            "--xlsx", metavar="FILE", help="Also write one workbook with a sheet for each table."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        files = export_museum(Path(options["folder"]))
        self.stdout.write(
            f"Wrote {len(files)} tables into {options['folder']}. Photographs and passwords are not in them."
        )
        if options["xlsx"]:
            Path(options["xlsx"]).write_bytes(export_workbook())
            self.stdout.write(f"Wrote {options['xlsx']}.")
