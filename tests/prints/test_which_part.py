"""The which-part sheet on paper: cautions first, every test with its boxes, what stands is written in."""

import io

import pytest
from django.urls import reverse
from pypdf import PdfReader

from maintenance.services.which_part import which_open, which_result
from maintenance.sheets import SHEETS

pytestmark = [pytest.mark.django_db, pytest.mark.prints]


def words(client, sheet):
    answer = client.get(reverse("maintenance:which_print", args=[sheet.pk]))
    assert answer.headers["Content-Type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(answer.content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split()), len(pages)


@pytest.mark.parametrize("based_on", ["brakes-pull", "twin-ignition", "brake-air-loss"])
def test_every_test_and_every_caution_is_on_the_paper(based_on, vehicle, cast, museum, login):
    sheet = which_open(by=cast.mechanic, vehicle=vehicle, template=based_on)
    said, pages = words(login(cast.mechanic), sheet)
    assert pages <= 3
    squeezed = said.replace(" ", "")
    for test in SHEETS[based_on].tests:
        assert test.name.replace(" ", "") in squeezed
        for result in test.table:
            assert result.replace(" ", "") in squeezed
    assert said.index("WARNING: read this before any test") < said.index("Tests: one box each")
    for line in SHEETS[based_on].cautions:
        assert line.removeprefix("WARNING. ").removeprefix("CAUTION. ").replace(" ", "") in squeezed
    assert "manual, local rules and licensed practice" in said


def test_what_stands_is_written_in(vehicle, cast, museum, login):
    sheet = which_open(by=cast.mechanic, vehicle=vehicle, template="brakes-pull")
    which_result(by=cast.mechanic, sheet=sheet, test="T7", raw="1.5")
    said, _ = words(login(cast.driver), sheet)
    assert "more than 0.5 mm apart: written down" in said
    assert "Asta Finch" in said
    assert "59%" in said  # .07 x .97 against .93 x .05
