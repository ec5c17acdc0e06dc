"""What is hung on a vehicle: readable codes, one sheet, and a red label that says it without red."""

from __future__ import annotations

import io
import re

import pytest
from django.urls import reverse
from pypdf import PdfReader

from fleet.enums import VehicleStatus
from fleet.services.museum import museum_change
from maintenance.prints import labels
from maintenance.services import cards
from maintenance.services.tags import tag_hang
from maintenance.tags_link import link_of
from tests.factories import VehicleFactory

pytestmark = [pytest.mark.django_db, pytest.mark.prints]
MM = 72 / 25.4


def read(answer) -> PdfReader:
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "application/pdf"
    return PdfReader(io.BytesIO(answer.content))


def words(reader: PdfReader) -> str:
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages)).replace("\u00a0", " ")


def test_one_vehicle_is_one_sheet_of_tags(login, museum, vehicle, lead, administrator):
    museum_change(by=administrator, slip_note="Yard telephone 204.")
    reader = read(login(lead).get(reverse("maintenance:labels", args=[vehicle.code])))
    text = words(reader)
    assert len(reader.pages) == 1
    assert text.count("Something wrong? Scan this") == labels.COPIES
    assert text.count("Yard telephone 204.") == labels.COPIES
    assert "B 02" in text


def test_all_vehicles_have_one_tag_each(login, museum, vehicle, driver):
    for place in range(7):
        VehicleFactory(systems=False, number=f"Q {place}")
    VehicleFactory(systems=False, status=VehicleStatus.OUT_OF_USE, name="Gone away", number="Q 9")
    text = words(read(login(driver).get(reverse("maintenance:labels_all"))))
    assert text.count("Something wrong? Scan this") == 8
    assert "Gone away" not in text


def test_the_code_holds_the_vehicle_s_own_link(museum, vehicle, monkeypatch):
    coded = []
    monkeypatch.setattr(labels, "qr_svg", lambda text, **words: coded.append((text, words["mm"])) or "")
    labels.tag_sheet([vehicle])
    assert coded == [(link_of(vehicle), 42)]
    assert coded[0][0].startswith("http")


def test_the_red_label_says_it_in_words_and_in_shape(login, museum, vehicle, lead):
    card = cards.card_open(by=lead, vehicle=vehicle, title="Drum cracked")
    tag = tag_hang(
        vehicle=vehicle, by=lead, reason="Front drum cracked right through", card=card, stub="0412"
    )
    reader = read(login(lead).get(reverse("maintenance:tag_label", args=[tag.pk])))
    page = reader.pages[0]
    assert len(reader.pages) == 1
    assert (round(float(page.mediabox.width) / MM), round(float(page.mediabox.height) / MM)) == (210, 148)
    text = words(reader)
    for said in (
        "DO NOT RUN",
        "B 02",
        "Thistle",
        "Front drum cracked right through",
        "0412",
        card.serial,
        "Berit Holm",
    ):
        assert said in text


def test_the_edge_is_bars_as_well_as_red():
    edge = str(labels.hatched_edge())
    assert edge.count("M") > 20
    assert "style=" not in edge


def test_a_stranger_prints_nothing(client, museum, vehicle, lead):
    tag = tag_hang(vehicle=vehicle, by=lead, reason="Cracked drum")
    for name, args in (("labels", [vehicle.code]), ("labels_all", []), ("tag_label", [tag.pk])):
        assert client.get(reverse(f"maintenance:{name}", args=args)).url.startswith("/sign-in/")


def test_what_is_not_there_is_not_printed(login, museum, driver):
    browser = login(driver)
    assert browser.get(reverse("maintenance:labels", args=["V99"])).status_code == 404
    assert browser.get(reverse("maintenance:tag_label", args=[99])).status_code == 404
