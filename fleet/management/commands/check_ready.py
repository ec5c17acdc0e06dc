from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.views.health import findings


class Command(BaseCommand):
    help = "Say whether database, migrations, queue, disk and worker are fit; fails if one is not."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("names", nargs="*", help="only these checks")

    def handle(self, *args: Any, **options: Any) -> None:
        found = findings()
        names: list[str] = options["names"] or list(found)
        if unknown := sorted(set(names) - set(found)):
            raise CommandError(f"There is no check {unknown[0]}. There are: {', '.join(found)}.")
        for name in names:
            self.stdout.write(f"{name}: {found[name]}")
        if any(found[name] != "fit" for name in names):
            raise CommandError("Not fit.")
