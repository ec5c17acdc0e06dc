"""Scanning: a tag's code, or the number typed as it is painted."""

from __future__ import annotations

import pytest
from django.urls import reverse

from fleet.services.vehicles import tag_key_renew
from maintenance.tags_link import link_of

pytestmark = pytest.mark.django_db
URL = "/scan/"


@pytest.mark.parametrize(
    "said",
    [
        "B 02",
        "b02",
        " B\u00a002 ",
        "V01",
        "v01",
        "https://shed.example/vehicles/V01/",
        "/vehicles/V01/report/",
    ],
)
def test_what_opens_the_vehicle(login, museum, vehicle, driver, said):
    answer = login(driver).get(URL, {"text": said})
    assert (answer.status_code, answer.url) == (302, "/vehicles/V01/")


def test_a_tag_opens_its_vehicle_until_it_is_renewed(login, museum, vehicle, driver, lead):
    link = link_of(vehicle)
    browser = login(driver)
    assert browser.get(URL, {"text": link}).url == "/vehicles/V01/"
    assert browser.get(URL, {"text": link, "to": "report"}).url == reverse("maintenance:report", args=["V01"])
    tag_key_renew(by=lead, vehicle=vehicle)
    answer = browser.get(URL, {"text": link})
    assert answer.status_code == 404
    assert "no longer in use" in answer.content.decode()


@pytest.mark.parametrize(
    "said",
    [
        "B 03",
        "https://elsewhere.example/",
        "javascript:alert(1)",
        "<b>",
        "//evil.example/vehicles/V99/",
        "x" * 5000,
        "\0",
    ],
)
def test_what_opens_nothing(login, museum, vehicle, driver, said):
    answer = login(driver).get(URL, {"text": said})
    page = answer.content.decode()
    assert answer.status_code == 404
    assert "No such vehicle" in page
    assert '<b>"' not in page
    assert 'id="text" name="text"' in page


def test_a_stranger_is_asked_to_sign_in(client, museum, vehicle):
    assert client.get(URL).url.startswith("/sign-in/")


def test_without_a_camera_the_number_can_be_typed(login, museum, driver):
    page = login(driver).get(URL).content.decode()
    assert "<div data-camera hidden>" in page
    assert "Number, as it is painted" in page
