"""`manage.py vehicle_book FOLDER [CODE ...]`: the record books as ZIPs of text, pictures and a PDF."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.models import Vehicle
from maintenance.prints.vehicle_book import book_zip
from maintenance.queries.vehicle_book import vehicle_book


class Command(BaseCommand):
    help = "Write the record book of each vehicle into a folder, as a ZIP that needs no program to be read."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", help="Folder to write into; a book of the same name there is replaced.")
        parser.add_argument("codes", nargs="*", help="Short names such as V04. None: every vehicle.")

    def handle(self, *args: Any, **options: Any) -> None:
        codes = options["codes"]
        rows = Vehicle.objects.select_related("keeper").order_by("code")
        vehicles = list(rows.filter(code__in=codes) if codes else rows)
        unknown = sorted(set(codes) - {vehicle.code for vehicle in vehicles})
        if unknown:
            raise CommandError(f"No vehicle is called {', '.join(unknown)}. Nothing was written.")
        folder = Path(options["folder"])
        folder.mkdir(parents=True, exist_ok=True)
        for vehicle in vehicles:
            missing = self._write(vehicle, folder / f"record-book-{vehicle.code}.zip")
            for name in missing:
                self.stderr.write(f"{vehicle.code}: {name} is on file, and its picture is not on the disk.")
        self.stdout.write(
            f"Wrote {len(vehicles)} record book{'' if len(vehicles) == 1 else 's'} into {folder}."
        )

    def _write(self, vehicle: Vehicle, path: Path) -> list[str]:
        """Never half a book under its name."""
        handle, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                missing = book_zip(vehicle_book(vehicle), file)
                file.flush()
                os.fsync(file.fileno())
            Path(name).replace(path)
        finally:
            Path(name).unlink(missing_ok=True)
        return missing
