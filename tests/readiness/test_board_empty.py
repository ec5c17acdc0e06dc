"""The board in a season with no event, and for somebody who has not signed in."""

from __future__ import annotations

import pytest
from django.test import Client

from fleet.models import Person

pytestmark = pytest.mark.django_db


def test_without_an_event_the_board_says_what_that_means(client: Client, coordinator: Person) -> None:
    client.force_login(coordinator)
    assert "No event is coming" in client.get("/").content.decode()


def test_the_stranger_sees_nothing(client: Client, coordinator: Person) -> None:
    for path in (
        "/",
        "/board/rows/",
        "/how/HWW/",
        "/vehicles/V01/",
        "/events/HWW/vehicles/V01/checklist.pdf",
    ):
        answer = client.get(path)
        assert (answer.status_code, "/sign-in/" in answer.url) == (302, True)
    assert client.get("/board/rows/", headers={"HX-Request": "true"}).status_code == 401
