from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.backup import BackupError, make_backup


class Command(BaseCommand):
    help = "Write the database and the photographs to a new folder, with the hash of every file."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path, help="where to; it must not exist yet")

    def handle(self, *args: Any, **options: Any) -> None:
        folder: Path = options["folder"]
        try:
            made = make_backup(folder.absolute(), now=timezone.now())
        except BackupError as trouble:
            raise CommandError(str(trouble)) from trouble
        self.stdout.write(
            f"Backed up to {folder}: {made.photographs} photographs, {made.bytes / 2**20:.1f} MiB in all."
        )
