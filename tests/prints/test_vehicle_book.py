"""The record book of a vehicle as files that need no program: text, PDF, every picture."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image
from pypdf import PdfReader

from fleet.models import Fact, Person, Photo, Vehicle
from maintenance.models import Defect, JobCard
from maintenance.prints.vehicle_book import book_text, book_zip
from maintenance.queries.vehicle_book import vehicle_book
from readiness.models import Event

pytestmark = [pytest.mark.django_db, pytest.mark.prints]


def zipped(code: str) -> zipfile.ZipFile:
    kept = io.BytesIO()
    book_zip(vehicle_book(Vehicle.objects.get(code=code)), kept)
    return zipfile.ZipFile(kept)


def flat(text: str) -> str:
    return " ".join(text.split())


def test_everything_on_file_is_in_the_text(demo: Event) -> None:
    text = flat(book_text(vehicle_book(Vehicle.objects.get(code="V01"))))
    for fact in Fact.objects.filter(vehicle__code="V01"):
        assert f"{fact.about}: {fact.value}" in text
    for row in [*Defect.objects.filter(vehicle__code="V01"), *JobCard.objects.filter(vehicle__code="V01")]:
        assert f"{row.serial} {row.title}" in text
    assert "Ruled through by: second oversize, bore +1.5 mm" in text
    assert "\t" not in text
    assert max(map(len, book_text(vehicle_book(Vehicle.objects.get(code="V01"))).splitlines())) <= 96


def test_the_pdf_says_the_same_and_carries_its_fonts(demo: Event) -> None:
    pdf = PdfReader(io.BytesIO(zipped("V01").read("book.pdf")))
    said = flat(" ".join(page.extract_text() for page in pdf.pages))
    for row in JobCard.objects.filter(vehicle__code="V01"):
        assert row.serial in said
    assert "What we know" in said


def test_every_picture_opens_and_is_named_in_the_text(demo: Event) -> None:
    book = zipped("V06")
    pictures = [name for name in book.namelist() if name.startswith("photos/")]
    assert len(pictures) == Photo.objects.filter(vehicle__code="V06").count() > 0
    text = book.read("book.txt").decode()
    for name in pictures:
        Image.open(io.BytesIO(book.read(name))).verify()
        assert Path(name).stem in text


def test_a_picture_that_is_gone_from_the_disk_is_said(demo: Event) -> None:
    photo = Photo.objects.filter(vehicle__code="V06").get()
    path = Path(photo.file.path)
    kept = path.read_bytes()
    path.unlink()
    try:
        assert "could not be found" in zipped("V06").read("book.txt").decode()
    finally:
        path.write_bytes(kept)


def test_the_book_costs_the_same_however_long_it_is(demo: Event) -> None:
    def asked(code: str) -> int:
        vehicle = Vehicle.objects.select_related("keeper").get(code=code)
        with CaptureQueriesContext(connection) as caught:
            book_text(vehicle_book(vehicle))
        return len(caught)

    fullest = max(Vehicle.objects.all(), key=lambda vehicle: vehicle.cards.count())
    full = asked(fullest.code)
    for defect in list(fullest.defects.all()):
        defect.notes.create(text="Looked again.")
        defect.pk, defect.serial, defect.code = None, f"99/{defect.pk:03d}", ""
        defect.save()
    assert asked(fullest.code) == full


@pytest.mark.parametrize(("who", "may"), [("wilmot", True), ("pru", True), ("isla", False)])
def test_who_may_take_it(demo: Event, client: Client, who: str, may: bool) -> None:
    client.force_login(Person.objects.get(username=who))
    answer = client.get(reverse("maintenance:book_zip", args=["V06"]))
    assert answer.status_code == (200 if may else 403)
    if may:
        content = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
        assert "book.txt" in zipfile.ZipFile(io.BytesIO(content)).namelist()
    answer.close()


def test_the_command_writes_whole_books(
    demo: Event, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("vehicle_book", str(tmp_path), "V06", "V10")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["record-book-V06.zip", "record-book-V10.zip"]
    with pytest.raises(CommandError, match="V99"):
        call_command("vehicle_book", str(tmp_path / "other"), "V06", "V99")
    assert not (tmp_path / "other").exists()
