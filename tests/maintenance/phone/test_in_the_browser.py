"""What the script of the phone adds, in a real browser; and what still works without it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from PIL import Image

from fleet.models import Person, Photo
from maintenance.models import Defect, JobCard, Reading
from maintenance.services import bench, cards
from maintenance.tags_link import token_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
AXE = "() => axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa', 'best-practice']}).then(r => r.violations.map(v => v.id))"


def session_of(person: Person) -> str:
    store = SessionStore()
    store[SESSION_KEY] = str(person.pk)
    store[BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
    store[HASH_SESSION_KEY] = person.get_session_auth_hash()
    store.create()
    return str(store.session_key)


class Hand:
    """A phone of 390 by 844 in somebody's hand."""

    def __init__(self, context: Any, address: str) -> None:
        self.context, self.address = context, address
        self.page = context.new_page()
        self.troubles: list[str] = []
        self.page.on("pageerror", lambda trouble: self.troubles.append(str(trouble)))

    def open(self, path: str) -> Any:
        answer = self.page.goto(self.address + path)
        self.page.wait_for_load_state("networkidle")
        return answer

    def sign_in(self, person: Person) -> None:
        self.context.add_cookies(
            [{"name": settings.SESSION_COOKIE_NAME, "value": session_of(person), "url": self.address}]
        )

    def rest(self) -> None:
        self.page.wait_for_load_state("networkidle")
        self.page.wait_for_timeout(200)


@pytest.fixture
def hand(chromium, live_server, request) -> Iterator[Hand]:
    words = getattr(request, "param", {})
    context = chromium.new_context(viewport={"width": 390, "height": 844}, **words)
    holder = Hand(context, live_server.url)
    yield holder
    context.close()
    assert holder.troubles == []


@pytest.fixture
def mine(job, mechanic) -> JobCard:
    cards.card_take(card=job, by=mechanic)
    bench.cautions_read(card=job, by=mechanic)
    return JobCard.objects.get(pk=job.pk)


def test_a_verdict_comes_while_typing_and_the_server_says_the_same(hand, mine, mechanic):
    hand.sign_in(mechanic)
    hand.open(f"/jobs/{mine.pk}/")
    box = hand.page.locator(".read").first
    field = box.locator("[data-value]")
    field.fill("2,6")
    at_once = box.locator(".answer").inner_text().split()
    with hand.page.expect_response("**/verdict/**") as said:
        field.blur()
    hand.rest()
    assert at_once == ["Past", "the", "limit", "by", "0.4", "mm"]
    assert box.locator(".answer").inner_text().split() == at_once
    assert said.value.status == 200
    box.locator(".plus").click()
    assert field.input_value() == "2.7"
    assert "by 0.3 mm" in box.locator(".answer").inner_text()
    assert not Reading.objects.exists()


def test_a_step_is_ticked_by_one_touch_and_other_words_stay(hand, mine, mechanic):
    hand.sign_in(mechanic)
    hand.open(f"/jobs/{mine.pk}/")
    hand.page.locator("#sec-close textarea").fill("half written")
    hand.page.locator(".step input[type=checkbox]").first.check(force=True)
    hand.page.wait_for_function(
        "() => document.querySelector('#sec-steps').innerText.includes('1 of 2 done')"
    )
    assert mine.steps.first().done_by == mechanic
    assert "1 of 2 done" in hand.page.locator("#sec-steps").inner_text()
    assert hand.page.locator("#job-foot").inner_text().split()[:2] == ["Steps", "1/2"]
    assert hand.page.locator("#sec-close textarea").input_value() == "half written"


def test_two_presses_on_the_button_are_one_act(hand, mine, mechanic):
    hand.sign_in(mechanic)
    hand.open(f"/jobs/{mine.pk}/")
    hand.page.locator("#sec-hours summary").click()
    hand.page.locator("#f-hours [name=hours]").fill("1.5")
    hand.page.evaluate(
        "() => { const b = document.querySelector('#f-hours button'); b.click(); b.click(); b.click(); }"
    )
    hand.rest()
    assert [str(log.hours) for log in mine.hours.all()] == ["1.50"]


def test_what_is_typed_outlives_an_ended_sign_in(hand, mine, mechanic):
    hand.sign_in(mechanic)
    hand.open(f"/jobs/{mine.pk}/")
    hand.page.locator("#sec-safe summary").click()
    hand.page.locator("#f-safe textarea").fill("On stands, drum off")
    hand.page.locator("#f-safe [name=parts_where]").fill("Tray 2")
    hand.page.locator("#f-safe [name=next_step]").fill("Measure")
    hand.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    hand.page.locator("#f-safe button").click()
    hand.page.wait_for_selector("[data-sending] >> text=Your sign-in has ended")
    assert (
        hand.page.locator("[data-sending] a:visible").first.get_attribute("href")
        == f"/sign-in/?next=%2Fjobs%2F{mine.pk}%2F"
    )
    assert not mine.left_safe.exists()
    hand.sign_in(mechanic)
    hand.open(f"/jobs/{mine.pk}/")
    hand.page.wait_for_selector("#sec-safe >> text=Tray 2")
    assert mine.left_safe.get().parts_where == "Tray 2"
    hand.open(f"/jobs/{mine.pk}/")
    assert hand.page.locator("#f-safe textarea").input_value() == ""  # taken: nothing is kept any longer


def test_another_who_signs_in_on_the_phone_sees_nothing_of_it(hand, mine, mechanic, lead):
    hand.sign_in(mechanic)
    hand.open(f"/jobs/{mine.pk}/")
    hand.page.locator("#sec-close textarea").fill("Not for other eyes")
    hand.sign_in(lead)
    hand.open(f"/jobs/{mine.pk}/")
    assert hand.page.locator("#sec-close textarea").input_value() == ""
    assert "Not for other eyes" not in json.dumps(hand.page.evaluate("() => ({...sessionStorage})"))


def test_the_close_button_waits_only_for_what_is_chosen(hand, mine, mechanic):
    hand.sign_in(mechanic)
    hand.open(f"/jobs/{mine.pk}/")
    button = hand.page.locator("[data-close]")
    assert button.get_attribute("aria-disabled") == "true"
    hand.page.locator("[name=outcome][value='not run']").check()
    assert button.get_attribute("aria-disabled") is None
    hand.page.locator("[name=outcome][value=done]").check()
    assert button.get_attribute("aria-disabled") == "true"


def test_a_photograph_is_made_smaller_before_it_is_sent(hand, mine, mechanic, tmp_path: Path):
    item = bench.strip_add(card=mine, by=mechanic, what="Drum")
    big = tmp_path / "big.jpg"
    Image.effect_noise((4000, 3000), 90).convert("RGB").save(big, quality=95)
    hand.sign_in(mechanic)
    hand.open(f"/jobs/{mine.pk}/")
    hand.page.set_input_files(".strip .slot input[type=file] >> nth=0", big)
    hand.page.wait_for_selector(".strip figure")
    photo = Photo.objects.get()
    assert (photo.width, photo.height) == (2000, 1500)  # the server alone would keep 2400
    assert item.photos.get().moment == "as found"


@pytest.mark.parametrize("hand", [{"java_script_enabled": False}], indirect=True)
def test_the_whole_card_works_without_script(hand, mine, mechanic):
    hand.sign_in(mechanic)
    hand.open(f"/jobs/{mine.pk}/")
    hand.page.locator(".step input[type=checkbox]").first.check(force=True)
    hand.page.get_by_role("button", name="Write down step 1").click()
    assert mine.steps.first().done_by == mechanic
    hand.page.locator(".read [data-value]").first.fill("3.4")
    hand.page.get_by_role("button", name="Write down the reading").first.click()
    assert Reading.objects.get().verdict == "within"
    hand.page.locator("[name=outcome][value='as found']").check()
    hand.page.locator("#sec-close textarea").fill("No time left")
    hand.page.locator("[data-close]").click(force=True)
    assert JobCard.objects.get(pk=mine.pk).outcome == "as found"
    assert "Handed in: put back as found" in hand.page.locator("main").inner_text()


def test_a_slip_from_a_fresh_phone(hand, museum, vehicle, tmp_path):
    picture = tmp_path / "p.jpg"
    Image.new("RGB", (400, 300), (90, 60, 30)).save(picture)
    hand.open(f"/t/{token_of(vehicle)}/")
    hand.page.get_by_label("Leak", exact=True).check()
    hand.page.locator("textarea").fill("Oil on the turntable")
    hand.page.set_input_files("input[type=file]", picture)
    hand.page.wait_for_selector("text=Photograph ready")
    hand.page.locator(".three").get_by_label("No", exact=True).check()
    hand.page.get_by_role("button", name="Hand it in").click()
    hand.page.wait_for_selector("text=Leave it where it stands")
    row = Defect.objects.get()
    assert row.serial in hand.page.locator("main").inner_text()
    assert row.photos.count() == 1
    hand.page.get_by_text("Report something else").click()
    hand.page.wait_for_load_state()
    assert hand.page.locator("textarea").input_value() == ""


@pytest.mark.parametrize(
    "hand",
    [{"color_scheme": "light", "bypass_csp": True}, {"color_scheme": "dark", "bypass_csp": True}],
    indirect=True,
)
def test_nothing_for_axe_and_nothing_sideways(hand, ready, mechanic, vehicle, axe_script):
    slip = f"/t/{token_of(vehicle)}/"
    hand.sign_in(mechanic)
    found = {}
    for path in (
        "/jobs/mine/",
        f"/jobs/{ready.card.pk}/",
        f"/vehicles/{vehicle.code}/report/",
        "/scan/",
        slip,
        slip[:-2] + "/",
    ):
        hand.page.set_viewport_size({"width": 390, "height": 844})
        hand.open(path)
        hand.page.evaluate("() => document.querySelectorAll('details').forEach(one => { one.open = true; })")
        hand.page.evaluate(axe_script)
        troubles = hand.page.evaluate(AXE)
        hand.page.set_viewport_size({"width": 320, "height": 700})
        wide = hand.page.evaluate("document.documentElement.scrollWidth")
        found[path] = (troubles, wide)
    assert found == dict.fromkeys(found, ([], 320))
