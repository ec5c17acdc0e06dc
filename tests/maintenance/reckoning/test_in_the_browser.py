"""Reckoning in a real browser: worked out while typing and without a signal, kept from a phone, nothing too small to press."""

from __future__ import annotations

from typing import Any

import pytest

from maintenance.models import Reading
from maintenance.reckoning.pages import RECKONINGS
from maintenance.services.readings import measure_add
from tests.conftest import person_of
from tests.factories import VehicleFactory
from tests.factories.fleet import MuseumFactory
from tests.maintenance.phone.test_in_the_browser import Hand
from tests.maintenance.reckoning.test_pages import GOOD
from tests.maintenance.which.test_in_the_browser import SMALL, WIDE

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def hand(chromium, live_server):
    from fleet.http import forget_museum

    forget_museum()
    MuseumFactory()
    vehicle = VehicleFactory(code="V01", number="B 02", name="Thistle")
    measure_add(
        by=person_of("lead"), vehicle=vehicle, system="IGN", name="Timing", judgement="range", unit="°", low="10", high="14", source="manual"
    )  # fmt: skip
    context = chromium.new_context(viewport={"width": 390, "height": 844})
    holder = Hand(context, live_server.url)
    holder.sign_in(person_of("mechanic"))
    yield holder
    context.close()
    forget_museum()
    assert holder.troubles == []


def test_worked_out_while_typing_and_without_a_signal(hand: Hand) -> None:
    hand.open("/reckoning/timing/?vehicle=V01")
    out = hand.page.locator("#worked")
    assert not out.is_visible()
    hand.context.set_offline(True)
    hand.page.fill("[name=found]", "8")
    assert not out.is_visible()  # half a form says nothing yet
    hand.page.fill("[name=wanted]", "12")
    assert "Turn the body 2.0° anticlockwise, seen from its drive end" in out.inner_text()
    assert "Worked out on this phone. Nothing is kept." in out.inner_text()
    hand.page.fill("[name=wanted]", "wet")
    assert not out.is_visible()
    hand.page.get_by_role("button", name="Work it out").click()
    assert "Should spark at, before top dead centre, °: wet is not a number." in out.inner_text()
    hand.context.set_offline(False)


def test_what_the_server_said_goes_when_a_figure_is_changed(hand: Hand) -> None:
    hand.open("/reckoning/timing/?found=12&wanted=12&vehicle=V01")
    out = hand.page.locator("#worked")
    assert "On its mark" in out.inner_text()
    assert hand.page.get_by_role("button", name="Keep it").is_visible()
    hand.page.fill("[name=found]", "16")
    assert "On its mark" not in out.inner_text() and "Early" in out.inner_text()
    assert not hand.page.get_by_role("button", name="Keep it").is_visible()


def test_kept_from_the_phone(hand: Hand) -> None:
    hand.open("/reckoning/timing/?vehicle=V01")
    hand.page.fill("[name=found]", "11,5")
    hand.page.fill("[name=wanted]", "12")
    hand.page.fill("[name=origin]", "lamp on the flywheel")
    hand.page.get_by_role("button", name="Work it out").click()
    hand.rest()
    hand.page.get_by_label("Keep it as").select_option(label="Timing, °")
    hand.page.get_by_role("button", name="Keep it").click()
    hand.rest()
    assert "Every reading" in hand.page.locator("main").inner_text()
    row = Reading.objects.get()
    assert (row.values, row.verdict) == (["11.5"], "within")
    assert "11,5°" in row.note


@pytest.mark.parametrize("size", [(390, 844), (320, 640)], ids=["390", "320"])
def test_nothing_is_too_small_to_press_or_too_wide(hand: Hand, size: tuple[int, int]) -> None:
    hand.page.set_viewport_size({"width": size[0], "height": size[1]})
    told: dict[str, Any] = {}
    for slug in RECKONINGS:
        for query in ("", GOOD[slug] + "&vehicle=V01"):
            hand.open(f"/reckoning/{slug}/?{query}")
            told[f"{slug} {query}"] = (hand.page.evaluate(SMALL), max(0, hand.page.evaluate(WIDE)))
    assert {name: found for name, found in told.items() if found != ([], 0)} == {}
