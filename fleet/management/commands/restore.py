from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.backup import BackupError, check_backup, restore_backup


class Command(BaseCommand):
    help = "Check every byte of a backup, then put it in place of what is here. Stop web, worker and clock first."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path)
        parser.add_argument("--replace", action="store_true", help="even if there is a museum here already")
        parser.add_argument("--check", action="store_true", help="only check the backup; change nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        folder: Path = options["folder"].absolute()
        try:
            if options["check"]:
                manifest = check_backup(folder)
                self.stdout.write(
                    f"The backup of {manifest['made_at']} is whole: {len(manifest['files'])} files."
                )
                return
            taken = restore_backup(folder, replace=options["replace"])
        except BackupError as trouble:
            raise CommandError(str(trouble)) from trouble
        # A backup of an older version gets the changes made since.
        call_command("migrate", interactive=False, verbosity=0)
        self.stdout.write(
            f"Restored the museum of {taken.made_at} (version {taken.version}): {taken.photographs} photographs."
        )
