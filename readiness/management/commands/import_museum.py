"""`manage.py import_museum FOLDER [--dry-run]`: bring in tables, all or nothing."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from readiness.exchange import import_folder


class Command(BaseCommand):
    help = "Bring in the tables of a folder, or of one .csv or .xlsx file. Nothing is written unless all is right."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "folder", help="Folder of .csv tables, or one .csv or .xlsx file. See docs/import.md."
        )
        parser.add_argument("--dry-run", action="store_true", help="Only say what would be new or changed.")

    def handle(self, *args: Any, **options: Any) -> None:
        report = import_folder(options["folder"], dry_run=options["dry_run"])
        for line in report.lines():
            self.stdout.write(line)
        if not report.ok:
            raise CommandError(f"{len(report.errors)} to put right; nothing was written.", returncode=1)
