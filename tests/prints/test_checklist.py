"""The pre-event checklist: one page for every vehicle of the demo, fonts inside, nothing left out."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from fleet.models import Vehicle
from readiness.models import Event
from readiness.prints.checklist import checklist, sheet_code
from readiness.services import assessing

pytestmark = [pytest.mark.django_db, pytest.mark.prints]


def read(event: Event, code: str) -> tuple[PdfReader, str]:
    pdf = PdfReader(io.BytesIO(checklist(event, Vehicle.objects.get(code=code), assessing.latest(event))))
    return pdf, "\n".join(page.extract_text() for page in pdf.pages)


def test_every_vehicle_of_the_demo_has_one_page(demo: Event) -> None:
    pages = {code: len(read(demo, code)[0].pages) for code in Vehicle.objects.values_list("code", flat=True)}
    assert pages == dict.fromkeys(pages, 1)
    assert len(pages) == 18


def fonts_of(pdf: PdfReader) -> list[tuple[str, bool]]:
    found = []
    for page in pdf.pages:
        for font in page["/Resources"]["/Font"].values():
            whole = font.get_object()
            for part in whole.get("/DescendantFonts", [whole]):
                descriptor = part.get_object()["/FontDescriptor"].get_object()
                found.append(
                    (
                        str(whole["/BaseFont"]),
                        any(k in descriptor for k in ("/FontFile", "/FontFile2", "/FontFile3")),
                    )
                )
    return found


def test_fonts_are_inside(demo: Event) -> None:
    fonts = fonts_of(read(demo, "V01")[0])
    assert len(fonts) >= 3
    assert all(embedded for _, embedded in fonts), fonts


def test_it_says_how_it_stands_and_when_it_was_printed(demo: Event) -> None:
    _, text = read(demo, "V06")
    latest = assessing.latest(demo)
    assert latest is not None
    row = next(v for v in latest.result["vehicles"] if v["vehicle"] == "V06")
    assert row["word"] == "Barred"
    for wanted in (
        "Lady Oram",
        "Barred",
        "daylight only",
        "120 min per outing",
        "Printed",
        "One cross under Not",
        "Hythe Working Weekend",
    ):
        assert wanted in text.replace("\n", " "), wanted


def test_the_tag_stands_on_it(demo: Event) -> None:
    _, text = read(demo, "V01")
    assert "do not run" in text
    tag = Vehicle.objects.get(code="V01").tags.get()
    assert tag.stub in text
    _, other = read(demo, "V02")
    assert "do not run" not in other


def test_gating_cards_have_a_box(demo: Event) -> None:
    _, text = read(demo, "V01")
    latest = assessing.latest(demo)
    assert latest is not None
    needed = {
        n
        for e in latest.result["entries"]
        if e["vehicle"] == "V01"
        for n in e["needs"]
        if not n.startswith("inspection:")
    }
    serials = {c.serial for c in Vehicle.objects.get(code="V01").cards.all() if c.code in needed}
    assert serials
    assert all(serial in text for serial in serials)


def test_the_code_belongs_to_the_board_that_it_was_printed_from(demo: Event) -> None:
    v1, v2 = Vehicle.objects.get(code="V01"), Vehicle.objects.get(code="V02")
    latest = assessing.latest(demo)
    assert sheet_code(demo, v1, latest) == sheet_code(demo, v1, latest)
    assert sheet_code(demo, v1, latest) != sheet_code(demo, v2, latest)
    assert sheet_code(demo, v1, latest) != sheet_code(demo, v1, None)
