"""What is done without signal: it is there, it is kept, it is sent in order, once."""

from __future__ import annotations

from typing import Any

import pytest

from maintenance.models import JobCard, Reading, Submission

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def tick(page: Any, place: int = 0) -> None:
    page.locator(".step input[type=checkbox]").nth(place).click(force=True)


def test_with_signal_an_act_is_taken_and_the_card_shows_it(at_the_vehicle, mine, mechanic):
    phone = at_the_vehicle
    tick(phone.page)
    phone.sent()
    phone.page.wait_for_function(
        "() => document.querySelector('#sec-steps').innerText.includes('1 of 2 done')"
    )
    assert mine.steps.first().done_by == mechanic
    assert "Step 1 done." in phone.strip()


def test_the_card_opens_without_signal_and_what_is_done_waits(at_the_vehicle, mine, mechanic):
    phone = at_the_vehicle
    phone.signal(False)
    phone.open("/jobs/mine/")
    phone.page.get_by_role("link", name=mine.title).click()
    phone.page.wait_for_url(f"**/jobs/{mine.pk}/")
    phone.page.wait_for_function("() => window.Outbox")
    assert "phone's own copy" in phone.strip()
    assert "Before you touch it" in phone.page.locator("#sec-cautions").inner_text()
    tick(phone.page)
    box = phone.page.locator(".read").first
    box.locator("[data-value]").fill("2,6")
    assert "Past the limit" in box.locator(".answer").inner_text()
    box.locator(".opt", has_text="As found").click()
    box.get_by_role("button", name="Write down the reading").click()
    rows = phone.kept(2)
    assert [row["act"] for row in rows] == ["step", "reading"]
    assert "2 waiting to send" in phone.strip()
    assert "Saved on this phone. Will send when there is signal." in phone.page.locator("main").inner_text()
    assert not Reading.objects.exists()
    phone.signal(True)
    phone.sent()
    assert mine.steps.first().done_by == mechanic
    assert Reading.objects.get().verdict == "past"
    assert Submission.objects.count() == 2
    assert JobCard.objects.get(pk=mine.pk).version == mine.version + 2
