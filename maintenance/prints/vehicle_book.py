"""The book of one vehicle as plain text, as a PDF, and as a ZIP with both and every picture: files that need no program."""

from __future__ import annotations

import textwrap
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from fleet.models import Photo
from fleet.printing import picture_data, render_page
from maintenance.queries.vehicle_book import Entry, VehicleBook, day

WIDTH = 96
READ_ME = """This is the record book of one vehicle. It needs no program: book.txt is plain text (UTF-8), book.pdf is the
same for printing, and photos/ holds every picture under the number by which the text names it.
"""


def photo_name(photo: Photo) -> str:
    return f"photos/{photo.pk:06d}.jpg"


def book_text(book: VehicleBook) -> str:
    """The whole book as text, lines of at most 96 letters."""
    return "\n".join(_text(book)) + "\n"


def _text(book: VehicleBook) -> Iterator[str]:
    title = f"Record book of {book.vehicle.number} {book.vehicle.name}"
    yield title
    yield "=" * len(title)
    yield f"Written out {day(book.made_at)}."
    yield "Nothing in it was ever rubbed out; what was wrong is ruled through."
    for section in book.sections:
        yield ""
        yield section.title
        yield "-" * len(section.title)
        if not any(entry.head or entry.lines for entry in section.entries):
            yield section.none
        for entry in section.entries:
            yield ""
            yield from textwrap.wrap(entry.head, WIDTH) or [""]
            for line in entry.lines:
                yield from _wrapped(line)
            if entry.photos:
                yield from _wrapped(f"Photographs: {', '.join(f'{pk:06d}' for pk in entry.photos)}")


def _wrapped(line: str) -> Iterator[str]:
    for part in line.splitlines() or [""]:
        yield from textwrap.wrap(part, WIDTH, initial_indent="  ", subsequent_indent="    ") or [""]


def book_pdf(book: VehicleBook) -> bytes:
    """The same on A4, with the small pictures beside what they belong to."""
    small = {photo.pk: data for photo in book.photos if (data := _small(photo)) is not None}

    def shown(entry: Entry) -> list[tuple[int, str]]:
        return [(pk, small[pk]) for pk in entry.photos if pk in small]

    sections = [(section, [(entry, shown(entry)) for entry in section.entries]) for section in book.sections]
    return render_page(
        "print/vehicle_book.html", {"book": book, "vehicle": book.vehicle, "sections": sections}
    )


def _small(photo: Photo) -> str | None:
    path = Path((photo.small or photo.file).path)
    return picture_data(path) if path.is_file() else None


def book_zip(book: VehicleBook, into: IO[bytes]) -> list[str]:
    """Write the ZIP. Returns the pictures that are on file and whose picture is missing on the disk, which the text says too."""
    missing = []
    with zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED) as kept:
        for photo in book.photos:
            path = Path(photo.file.path)
            if path.is_file():
                kept.write(path, photo_name(photo), compress_type=zipfile.ZIP_STORED)
            else:
                missing.append(photo_name(photo))
        text = book_text(book)
        if missing:
            text += (
                "\nPictures that could not be found when this was written out\n" + "\n".join(missing) + "\n"
            )
        kept.writestr("READ ME.txt", READ_ME)
        kept.writestr("book.txt", text)
        kept.writestr("book.pdf", book_pdf(book))
    return missing
