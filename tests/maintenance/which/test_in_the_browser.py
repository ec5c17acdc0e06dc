"""The which-part sheet in a real browser, on a phone and on a laptop: filled in, taken back, read without the table."""

from __future__ import annotations

import random
from typing import Any

import pytest

from maintenance.fault_finding import posterior
from maintenance.services.which_part import which_open, which_result
from maintenance.services.which_templates import template_copy
from maintenance.sheets import SHEETS
from tests.conftest import person_of
from tests.factories import CardFactory, VehicleFactory
from tests.factories.fleet import MuseumFactory
from tests.maintenance.phone.test_in_the_browser import AXE, Hand
from tests.maintenance.which.conftest import RUN

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
WIDE = "() => document.documentElement.scrollWidth - window.innerWidth"
SMALL = """() => [...document.querySelectorAll("main button, main summary, main select, main .btn, main .wpick label, main input")]
.filter(e => e.offsetParent && !["hidden", "checkbox", "radio", "file"].includes(e.type))
.filter(e => { const b = e.getBoundingClientRect(); return b.height > 0 && b.height < 47.5; })
.map(e => e.tagName + " " + (e.textContent || e.name).trim().slice(0, 40) + " " + Math.round(e.getBoundingClientRect().height))"""
SIZES = {"phone": (390, 844), "laptop": (1440, 900)}


@pytest.fixture
def bench():
    from fleet.http import forget_museum

    forget_museum()
    MuseumFactory()
    mechanic, lead = person_of("mechanic"), person_of("lead")
    vehicle = VehicleFactory(code="V01", number="B 02", name="Thistle")
    card = CardFactory(vehicle=vehicle, title="Brakes pull")
    sheet = which_open(by=mechanic, vehicle=vehicle, template="brakes-pull", card=card)
    yield {"mechanic": mechanic, "lead": lead, "vehicle": vehicle, "card": card, "sheet": sheet}
    forget_museum()


@pytest.fixture
def at(chromium, live_server, bench):
    """at(who, width, height) is a page of somebody."""
    holders: list[Hand] = []

    def make(role: str, size: str = "phone", **words: Any) -> Hand:
        width, height = SIZES.get(size, (320, 640))
        context = chromium.new_context(viewport={"width": width, "height": height}, **words)
        holder = Hand(context, live_server.url)
        holder.sign_in(bench[role])
        holders.append(holder)
        return holder

    yield make
    for holder in holders:
        holder.context.close()
        assert holder.troubles == []


def choose(hand: Hand, number: int, result: str) -> None:
    card = hand.page.locator(f"#test-{number}")
    if card.locator("> details").get_attribute("open") is None:
        card.locator("> details > summary").click()
    card.locator(f'input[value="{result}"]').check()


def write(hand: Hand, number: int) -> None:
    """Hand the test in, and wait until the outbox has sent it and the page shows it."""
    hand.page.locator(f"#test-{number}").get_by_role("button", name="Write it down").click()
    hand.page.wait_for_selector(f"#test-{number}.got")
    hand.rest()


@pytest.mark.parametrize("size", SIZES)
def test_filled_in_and_taken_back(bench, at, size):
    hand = at("mechanic", size)
    hand.open(f"/which-part/{bench['sheet'].pk}/")
    for test, result in RUN.items():
        choose(hand, int(test[1:]), result)
        write(hand, int(test[1:]))
    row = hand.page.locator('[data-cause="C5"]')
    assert row.locator(".wpc").inner_text() == "99%"
    assert row.locator(".v").get_attribute("width") == "99%"
    assert "99%. Stop testing" in hand.page.locator("#told").inner_text()
    seen = [hand.page.locator(".wtab .wx").first.is_visible(), hand.page.locator(".wtab tfoot").is_visible()]
    assert seen == [size == "laptop"] * 2
    hand.page.locator("#test-7 > details > summary").click()
    hand.page.locator("#test-7").get_by_role("button", name="Take it back").click()
    hand.rest()
    assert hand.page.locator('[data-cause="C5"] .wpc').inner_text() == "82%"
    assert "taken back by Asta Finch" in hand.page.locator(".wlog").inner_text()


def test_what_a_result_would_make_of_it_is_said_before_it_is_written(bench, at):
    hand = at("mechanic")
    hand.open(f"/which-part/{bench['sheet'].pk}/")
    choose(hand, 1, "alike")
    said = hand.page.locator("#test-1 [data-if]")
    assert said.inner_text() == "Then: Offside wheel cylinder stuck, 22%; Offside lining wet, 20%."
    choose(hand, 1, "not possible today")
    assert said.inner_text() == "No evidence: the chances stay as they are."


def test_with_no_signal_the_bars_follow_what_lies_on_the_phone(bench, at):
    """The outbox keeps the form; the page counts what was picked, marked as kept, and sends it when it can."""
    hand = at("mechanic")
    hand.open(f"/which-part/{bench['sheet'].pk}/")
    hand.context.set_offline(True)
    for test in ("T1", "T2", "T4", "T3"):
        choose(hand, int(test[1:]), RUN[test])
        hand.page.locator(f"#test-{test[1:]}").get_by_role("button", name="Write it down").click()
    hand.page.wait_for_selector("#verdict >> text=With 4 kept")
    assert hand.page.locator("#verdict").inner_text() == (
        "With 4 kept on this phone (*): Offside wheel cylinder stuck, 34%."
    )
    assert hand.page.locator('[data-cause="C5"] .wpc').inner_text() == "10%"
    assert not bench["sheet"].results.exists()
    hand.context.set_offline(False)
    hand.page.wait_for_selector("#test-3.got")
    assert hand.page.locator('[data-cause="C5"] .wpc').inner_text() == "10%"
    assert hand.page.locator("[data-cause].kept").count() == 0
    assert sorted(bench["sheet"].results.values_list("test", flat=True)) == ["T1", "T2", "T3", "T4"]


def test_the_phone_works_out_what_the_server_does(bench, at):
    hand = at("mechanic")
    hand.open(f"/which-part/{bench['sheet'].pk}/")
    address = hand.page.locator('script[src*="which"]').get_attribute("src")
    dice = random.Random(4)
    for sheet in SHEETS.values():
        known = {test.key: dice.choice(list(test.table)) for test in sheet.tests if dice.random() < 0.7}
        causes = [{"key": one.key, "chance": one.chance} for one in sheet.causes]
        tests = {one.key: [[name, list(row)] for name, row in one.table.items()] for one in sheet.tests}
        found = hand.page.evaluate(
            "async ([at, causes, tests, known]) => (await import(at)).posterior(causes, tests, known)",
            [address, causes, tests, known],
        )
        assert found == pytest.approx(list(posterior(sheet, known).values()))


def test_two_people_at_once_see_each_others_results(bench, at):
    one, two = at("mechanic"), at("lead", "laptop")
    for hand in (one, two):
        hand.open(f"/which-part/{bench['sheet'].pk}/")
    choose(one, 1, "alike")
    write(one, 1)
    choose(two, 4, "firm")
    write(two, 4)
    assert "Meanwhile Asta Finch wrote “alike”" in two.page.locator("[data-sending]").inner_text()
    assert sorted(bench["sheet"].results.values_list("test", "result")) == [("T1", "alike"), ("T4", "firm")]


@pytest.mark.parametrize("dark", [False, True], ids=["daylight", "shed"])
@pytest.mark.parametrize("size", SIZES)
def test_every_page_of_it_is_for_everybody(bench, at, axe_script, size, dark):
    own = template_copy(by=bench["lead"], based_on="ram-creeps")
    which_result(by=bench["mechanic"], sheet=bench["sheet"], test="T1", result="alike")
    hand = at("lead", size, color_scheme="dark" if dark else "light")
    sheet = f"/which-part/{bench['sheet'].pk}/"
    paths = (
        "/which-part/", f"/which-part/start/?card={bench['card'].pk}", sheet, f"{sheet}finish/", f"{sheet}paper/",
        f"/which-part/sheets/{own.pk}/",
    )  # fmt: skip
    for path in paths:
        hand.open(path)
        hand.page.evaluate(
            "() => { for (const one of document.querySelectorAll('details')) one.open = true; }"
        )
        hand.page.evaluate(axe_script)
        assert hand.page.evaluate(AXE) == [], path
        assert hand.page.evaluate(WIDE) <= 1, path
        if size == "phone":
            assert hand.page.evaluate(SMALL) == [], path


def test_nothing_scrolls_sideways_at_320(bench, at):
    hand = at("lead", "narrow")
    for path in ("", "finish/", "paper/"):
        hand.open(f"/which-part/{bench['sheet'].pk}/{path}")
        hand.page.evaluate(
            "() => { for (const one of document.querySelectorAll('details')) one.open = true; }"
        )
        assert hand.page.evaluate(WIDE) <= 1, path


def test_the_editor_checks_while_one_types(bench, at):
    own = template_copy(by=bench["lead"], based_on="ram-creeps")
    hand = at("lead", "laptop")
    hand.open(f"/which-part/sheets/{own.pk}/")
    hand.page.fill("[name=c-0-chance]", "90")
    hand.page.press("[name=c-0-chance]", "Tab")
    hand.page.wait_for_selector("#which-check >> text=Cannot be kept yet")
    own.refresh_from_db()
    assert own.version == 1
