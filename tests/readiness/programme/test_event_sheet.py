"""The whole-event sheet: a page a day, nothing smaller than ten point, fonts inside, and what each vehicle may not do."""

import io

import pytest
from django.urls import reverse
from pypdf import PdfReader

from fleet.models import Act, Person
from readiness.models import Printout
from readiness.prints.event_sheet import cause_words, event_sheet, number_key, pages, short_name
from readiness.queries.programme import event_rows
from readiness.services import assessing
from readiness.services.prints import printout_record
from tests.prints.test_checklist import fonts_of

pytestmark = [pytest.mark.django_db, pytest.mark.prints]


@pytest.fixture
def sheet(demo) -> PdfReader:
    event = event_rows(demo.code)
    printout = printout_record(by=Person.objects.get(code="P01"), kind="event sheet", event=event)
    return PdfReader(io.BytesIO(event_sheet(event, assessing.latest(event), printout)))


def text_of(page) -> str:
    return " ".join(page.extract_text().replace("\u00a0", " ").split())


def test_two_days_are_two_pages_with_fonts_inside_and_no_small_print(sheet: PdfReader) -> None:
    assert len(sheet.pages) == 2
    fonts = fonts_of(sheet)
    assert {name.split("+")[1] for name, _ in fonts} >= {"RO-Text", "RO-Text-Bold", "RO-Plate-Ultra-Bold"}
    assert all(embedded for _, embedded in fonts)
    sizes: list[float] = []
    for page in sheet.pages:
        page.extract_text(
            visitor_text=lambda text, cm, tm, font, size: (
                sizes.append(size * abs(tm[3] * cm[3])) if text.strip() else None
            )
        )
    in_points = [round(s, 2) for s in sizes]
    assert len(in_points) > 200
    assert min(in_points) >= 10


def test_each_day_has_its_vehicles_slots_limits_and_signatures(sheet: PdfReader) -> None:
    saturday, sunday = (text_of(p) for p in sheet.pages)
    for text in (saturday, sunday):
        for wanted in (
            "Hythe Working Weekend",
            "Freeze",
            "version 1",
            "Coordinator",
            "Lead",
            "Manager",
            "no go",
            "channel 3",
        ):
            assert wanted in text, wanted
    assert "Page 1 of 2" in saturday
    assert "Page 2 of 2" in sunday
    assert "Dusk parade" in saturday
    assert "Dusk parade" not in sunday
    assert "Lady Oram 13:30 S5, 15:45 S8, 20:30 S12 Barred W. Tarle" in saturday
    assert "daylight only; 120 min per outing; battery charged overnight" in saturday
    assert "arena only; not above 20 km/h; no passengers; inspect after each run" in sunday
    assert "Moorhen in no slot Stood down" in saturday
    assert "thorough examination of lifting gear, valid to" in saturday
    assert "winch rope 20 m, not ordered" in saturday
    assert "engine oil: valid to 4050 hours" in sunday


def test_vehicles_stand_in_number_order_and_each_slot_once(demo) -> None:
    found = pages(event_rows(demo.code), assessing.latest(demo))
    assert [line.number for line in found[0].lines] == [
        "1", "3", "4", "5", "7", "9", "11", "14", "15", "17", "21", "22", "31", "32", "41", "42", "44", "46",
    ]  # fmt: skip
    slots = [s.code for half in found[0].slots for s in half]
    assert sorted(slots) == sorted(set(slots))
    assert len(slots) == 11


def test_standing_on_paper_is_the_standing_of_the_day(demo) -> None:
    saturday, sunday = pages(event_rows(demo.code), assessing.latest(demo))
    on = {(n, x.number): x.word for n, page in enumerate((saturday, sunday)) for x in page.lines}
    assert (on[0, "3"], on[0, "15"]) == ("Barred", "Fit with limits")
    assert on[1, "15"] == "Unlikely"


@pytest.mark.parametrize(
    ("code", "status"), [("P01", 200), ("P02", 200), ("P12", 200), ("P03", 403), ("P11", 403), ("P10", 403)]
)
def test_who_prints_it(demo, login, code: str, status: int) -> None:
    browser = login(Person.objects.get(code=code))
    answer = browser.post(reverse("readiness:event_sheet", args=[demo.code]))
    assert answer.status_code == status
    assert Printout.objects.count() == (status == 200)


def test_each_printing_is_written_down_with_its_version(demo, login) -> None:
    browser = login(Person.objects.get(code="P01"))
    address = reverse("readiness:event_sheet", args=[demo.code])
    assert browser.get(address).status_code == 405
    first, second = (browser.post(address) for _ in range(2))
    assert first["Content-Type"] == "application/pdf"
    assert first.content[:5] == b"%PDF-"
    assert [p.version for p in Printout.objects.order_by("pk")] == [1, 2]
    assert "event-sheet-HWW-2.pdf" in second["Content-Disposition"]
    lines = Act.objects.filter(act="print.paper").order_by("pk")
    assert [line.detail["code"] for line in lines] == [p.code for p in Printout.objects.order_by("pk")]


def test_small_helps() -> None:
    assert sorted(["T 12", "T 9", "7", "44", "A 2"], key=number_key) == ["7", "44", "A 2", "T 9", "T 12"]
    assert (short_name("Jarek Lind"), short_name("Mo")) == ("J. Lind", "Mo")
    assert cause_words("brake rod worn") == "brake rod worn"
    cut = cause_words("Exhaust manifold joint blows; gas enters the crew space badly")
    assert cut == "Exhaust manifold joint blows; gas enters the ..."
