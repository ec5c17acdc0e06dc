"""What must not lose anything: a full phone, an ended sign-in, a new program, a killed browser, a wrong clock, another's hands."""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import signal
import subprocess
import time
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.utils import timezone
from PIL import Image

from fleet.models import Act
from maintenance.models import JobCard, JobPhoto, LeaveSafe, StripItem, Submission, WorkLog
from maintenance.phone import manifest
from maintenance.services import bench, cards, ending
from tests.factories.fleet import PASSWORD
from tests.maintenance.offline.conftest import Phone
from tests.maintenance.offline.test_each_act import close, fold
from tests.maintenance.offline.test_no_signal import tick
from tests.maintenance.phone.test_in_the_browser import session_of
from tests.plugins.services import CHROMIUM_FLAGS

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SHIFT = "window.shift = 0; const now = Date.now; Date.now = () => now.call(Date) + window.shift;"


def hours(page: Any, figure: str = "1.5") -> None:
    fold(page, "hours", "Add my hours", hours=figure)


def noise(path: Path, side: int) -> Path:
    Image.effect_noise((side, side), 90).convert("RGB").save(path, quality=92)
    return path


def test_the_server_is_switched_off_and_on_again(at_the_vehicle, wire, mine, mechanic):
    phone = at_the_vehicle
    wire.stop()
    phone.open(f"/jobs/{mine.pk}/")
    assert "phone's own copy" in phone.strip()
    tick(phone.page)
    hours(phone.page)
    phone.kept(2)
    phone.page.locator("[data-sending]").get_by_role("button", name="Send now").click()
    phone.page.wait_for_function(
        "() => document.querySelector('#live').textContent.includes('No signal yet')"
    )
    assert len(phone.rows()) == 2
    wire.start()
    phone.page.locator("[data-sending]").get_by_role("button", name="Send now").click()
    phone.sent()
    assert (mine.steps.first().done_by, WorkLog.objects.count()) == (mechanic, 1)


def test_a_new_program_takes_over_and_touches_no_entry(at_the_vehicle, wire, mine, mechanic, monkeypatch):
    phone = at_the_vehicle
    wire.stop()
    tick(phone.page)
    hours(phone.page)
    before = phone.kept(2)
    wire.start()
    phone.page.evaluate("() => { Outbox.drain = async () => 'offline'; }")  # nothing is sent while it changes
    old = manifest.shell()
    monkeypatch.setattr(manifest, "shell", lambda: ("another-version", old[1]))
    phone.page.evaluate("() => navigator.serviceWorker.getRegistration().then(reg => reg.update())")
    phone.until(
        """() => navigator.serviceWorker.getRegistration().then(async (reg) => !reg.installing && !reg.waiting
        && reg.active.state === "activated" && (await caches.keys()).includes("shell-another-version"))"""
    )
    assert [(row["key"], row["fields"]) for row in phone.rows()] == [
        (row["key"], row["fields"]) for row in before
    ]
    wire.stop()
    phone.open(f"/jobs/{mine.pk}/")  # the older copy of the card, under the new worker
    assert phone.page.locator("main .onphone").count() == 2
    wire.start()
    phone.page.locator("[data-sending]").get_by_role("button", name="Send now").click()
    phone.sent()
    assert (mine.steps.first().done_by, WorkLog.objects.count()) == (mechanic, 1)
    phone.until("(old) => caches.keys().then(names => !names.includes('shell-' + old))", old[0])


def test_an_entry_of_a_newer_format_is_left_alone_and_an_older_one_is_lifted(at_the_vehicle):
    phone = at_the_vehicle
    phone.signal(False)
    tick(phone.page)
    row = phone.kept(1)[0]
    phone.page.evaluate("(seq) => Outbox.change(seq, { format: 2 })", row["seq"])
    phone.signal(True)
    assert phone.page.evaluate("() => Outbox.drain()") == "done"
    assert [one["format"] for one in phone.rows()] == [2]
    lifted = phone.page.evaluate(
        "() => Outbox.lift({ format: 0, words: 'a' }, [row => ({ ...row, said: row.words }), row => ({ ...row, twice: row.said + row.said })], 2)"
    )
    assert lifted == {"format": 2, "words": "a", "said": "a", "twice": "aa"}
    phone.open("/phone/kept/")
    assert "newer version" in phone.page.locator("main").inner_text()


def test_a_full_phone_says_so_and_loses_nothing(phones, wire, mine, mechanic, tmp_path):
    phone = phones(wire.url)
    picture = noise(tmp_path / "big.jpg", 1600)
    devtools = phone.context.new_cdp_session(phone.page)  # room for the pages, not for 1.7 MB more
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": phone.address, "quotaSize": 1_500_000})
    phone.sign_in(mechanic)
    phone.open(f"/jobs/{mine.pk}/")
    phone.ready()
    phone.signal(False)
    phone.page.locator("#sec-photos summary").first.click()
    phone.page.set_input_files("#sec-photos input[type=file]", picture)
    phone.page.wait_for_selector("#sec-photos >> text=Photograph ready")
    phone.page.locator("#sec-photos [name=shows]").fill("Cracked drum")
    phone.page.locator("#sec-photos button.go").click()
    phone.page.wait_for_selector("#sec-photos >> text=This phone is full")
    assert phone.page.locator("#sec-photos [name=shows]").input_value() == "Cracked drum"
    assert phone.rows() == []
    phone.signal(True)
    phone.page.locator("#sec-photos button.go").click()  # with signal it goes straight to the server
    phone.page.wait_for_selector("#sec-photos .phrow img")
    assert JobPhoto.objects.count() == 1


def test_a_large_photograph_is_kept_small(at_the_vehicle, tmp_path):
    phone = at_the_vehicle
    phone.signal(False)
    phone.page.locator("#sec-photos summary").first.click()
    phone.page.set_input_files("#sec-photos input[type=file]", noise(tmp_path / "big.jpg", 4000))
    phone.page.wait_for_selector("#sec-photos >> text=Photograph ready")
    phone.page.locator("#sec-photos button.go").click()
    phone.kept(1)
    side = phone.page.evaluate(
        "() => Outbox.all().then(rows => createImageBitmap(rows[0].files[0][1])).then(one => one.width)"
    )
    assert side == 2000


def test_the_queue_waits_for_an_ended_sign_in(at_the_vehicle, mine, mechanic):
    phone = at_the_vehicle
    phone.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    hours(phone.page)
    phone.page.wait_for_selector("[data-sending] >> text=Your sign-in has ended")
    assert (len(phone.rows()), WorkLog.objects.count()) == (1, 0)
    phone.page.locator("[data-sending]").get_by_role("link", name="Sign in again").click()
    phone.page.fill("[name=username]", mechanic.username)
    phone.page.fill("[name=password]", PASSWORD)
    phone.page.press("[name=password]", "Enter")
    phone.page.wait_for_url(f"**/jobs/{mine.pk}/")
    phone.sent()
    assert WorkLog.objects.get().person == mechanic


def test_another_person_sees_nothing_and_sends_nothing_of_the_first(
    at_the_vehicle, phones, wire, mine, mechanic, lead
):
    phone = at_the_vehicle
    phone.signal(False)
    hours(phone.page)
    phone.kept(1)
    phone.signal(True)
    phone.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    phone.sign_in_by_hand(lead, PASSWORD)
    phone.ready()
    assert phone.page.evaluate("() => Outbox.drain()") == "signed out"
    phone.signal(False)
    phone.open("/phone/kept/")
    words = phone.page.locator("main").inner_text()
    assert "1 entry of Asta Finch waits here" in words
    assert "Add my hours" not in words
    names = phone.page.evaluate("() => caches.keys()")
    assert [name for name in names if name.startswith("pages-")] == [f"pages-{lead.pk}"]
    assert not WorkLog.objects.exists()
    phone.signal(True)
    phone.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    phone.sign_in_by_hand(mechanic, PASSWORD)
    phone.sent()
    assert WorkLog.objects.get().person == mechanic


def test_the_server_refuses_one_persons_entry_under_anothers_sign_in(client, mine, mechanic, lead, login):
    answer = login(lead).post(
        f"/jobs/{mine.pk}/",
        {"act": "hours", "key": "11111111-2222-3333-4444-555555555555", "hours": "1"},
        headers={"X-Person": str(mechanic.pk), "Accept": "application/json"},
    )
    assert (answer.status_code, WorkLog.objects.count()) == (401, 0)


def test_signing_out_hides_the_cards_and_says_what_is_unsent(at_the_vehicle, wire, mine):
    phone = at_the_vehicle
    phone.signal(False)
    hours(phone.page)
    phone.kept(1)
    wire.deaf = b"/phone/token/"  # a thin signal: pages come, nothing is sent
    phone.signal(True)
    phone.open("/vehicles/")
    phone.page.locator(".tailwho").get_by_role("button", name="Sign out").click()
    phone.page.wait_for_url("**/sign-in/**")
    phone.page.wait_for_function("() => window.Outbox")
    phone.page.wait_for_selector("[data-sending] >> text=1 waiting to send")
    assert "Of Asta Finch: sent when they sign in again" in phone.strip()
    assert not [n for n in phone.page.evaluate("() => caches.keys()") if n.startswith("pages-")]
    phone.signal(False)
    phone.open(f"/jobs/{mine.pk}/")
    assert "not on this phone" in phone.page.locator("main").inner_text()
    assert mine.title not in phone.page.locator("body").inner_text()


def test_what_is_not_taken_comes_back_and_is_changed_and_sent(at_the_vehicle, mine, mechanic, lead, vehicle):
    other = cards.card_open(by=lead, vehicle=vehicle, title="Second job", steps=["Look at it."])
    cards.card_take(card=other, by=mechanic)
    bench.cautions_read(card=other, by=mechanic)
    phone = at_the_vehicle
    phone.open(f"/jobs/{mine.pk}/")
    phone.page.evaluate(
        "() => navigator.serviceWorker.ready.then(reg => reg.active.postMessage({ keep: true }))"
    )
    phone.until("(path) => caches.match(path).then(found => !!found)", f"/jobs/{other.pk}/")
    phone.signal(False)
    hours(phone.page, "ninety")
    fold(phone.page, "safe", "leave it safe", state_of_strip="On stands", parts_where="Tray", next_step="Fit")
    phone.kept(2)
    phone.open(f"/jobs/{other.pk}/")
    tick(phone.page)
    phone.kept(3)
    phone.signal(True)
    phone.until("() => Outbox.drain().then(() => Outbox.all()).then(rows => rows.length === 2)")
    assert other.steps.first().done_by == mechanic  # the other job is not held
    assert not LeaveSafe.objects.exists()  # the same job's next one waits behind
    assert "1 entry not taken" in phone.strip()
    phone.open("/phone/kept/")
    text = phone.page.locator("main").inner_text()
    assert "Not taken 1" in text.replace("\n", " ")
    assert "ninety" in text
    assert "Waits behind one on the same job" in text
    phone.page.get_by_role("link", name="Change it on its page").click()
    phone.page.wait_for_url(f"**/jobs/{mine.pk}/#again-*")
    field = phone.page.locator("#f-hours [name=hours]")
    phone.page.wait_for_function("() => document.querySelector('#f-hours [name=hours]').value === 'ninety'")
    field.fill("9")
    phone.page.locator("#f-hours button.go").click()
    phone.sent()
    assert str(WorkLog.objects.get().hours) == "9.00"
    assert LeaveSafe.objects.count() == 1


def test_set_aside_takes_two_presses_and_can_be_taken_back(at_the_vehicle, mine):
    phone = at_the_vehicle
    phone.signal(False)
    hours(phone.page, "ninety")
    fold(phone.page, "safe", "leave it safe", state_of_strip="On stands", parts_where="Tray", next_step="Fit")
    phone.kept(2)
    phone.signal(True)
    phone.until("() => Outbox.drain().then(() => Outbox.all()).then(rows => rows[0].state === 'refused')")
    phone.open("/phone/kept/")
    phone.page.get_by_role("button", name="Set aside").click()
    assert phone.rows()[0]["state"] == "refused"
    phone.page.get_by_role("button", name="Set aside: press again").click()
    phone.kept(1)
    assert phone.rows()[0]["state"] == "aside"
    assert LeaveSafe.objects.count() == 1
    assert "ninety" in phone.page.locator("main").inner_text()
    phone.page.get_by_role("button", name="Take it back").click()
    phone.until("() => Outbox.all().then(rows => rows[0].state === 'refused')")


def test_two_phones_hand_in_one_job_and_the_lead_settles(phones, wire, mine, mechanic, lead):
    bench.cautions_read(card=mine, by=lead)
    first, second = phones(wire.url), phones(wire.url)
    for phone, person in ((first, mechanic), (second, lead)):
        phone.sign_in(person)
        phone.open(f"/jobs/{mine.pk}/")
        phone.ready()
        phone.signal(False)
    close(first.page)
    first.page.wait_for_timeout(50)
    second.page.locator("[name=outcome][value='as found']").check()
    second.page.locator("#sec-close textarea").fill("Put together again")
    second.page.locator("[data-close]").click()
    second.kept(1)
    first.kept(1)
    first.signal(True)
    first.sent()
    second.signal(True)
    second.sent()
    card = JobCard.objects.get(pk=mine.pk)
    assert card.outcome_words == "Cylinder seized"
    assert Act.objects.get(act="card.second_hand_in").detail["words"] == "Put together again"
    second.page.wait_for_selector("main >> text=Handed in twice")
    more = second.page.locator("#sec-head details.more", has_text="Settle the two")
    more.locator("summary").click()
    more.locator("textarea").fill("The cylinder is seized: I looked.")
    more.locator("button.go").click()
    second.page.wait_for_selector("main >> text=Handed in twice", state="detached")
    second.sent()
    assert Act.objects.filter(act="card.hand_ins_settled").count() == 1


@pytest.mark.parametrize(
    ("at_keeping", "at_sending"), [(86400, 86400), (-86400, -86400), (86400, 0), (-86400, 0), (0, 86400)]
)
def test_no_clock_of_a_phone_is_believed(phones, wire, mine, mechanic, at_keeping, at_sending):
    phone = phones(wire.url)
    phone.context.add_init_script(SHIFT)
    phone.sign_in(mechanic)
    phone.open(f"/jobs/{mine.pk}/")
    phone.ready()
    phone.signal(False)
    phone.page.evaluate("(seconds) => { window.shift = seconds * 1000; }", at_keeping)
    tick(phone.page)
    phone.kept(1)
    phone.page.evaluate("(seconds) => { window.shift = seconds * 1000; }", at_sending)
    phone.signal(True)
    phone.sent()
    made = dt.datetime.fromisoformat(Submission.objects.get().answer["made"])
    assert abs(timezone.now() - made) < dt.timedelta(minutes=1)


def test_a_job_closed_by_another_gives_the_words_back(at_the_vehicle, mine, lead):
    phone = at_the_vehicle
    phone.signal(False)
    fold(phone.page, "strip", "Something came off", what="Drum, with its shims", count="1")
    phone.kept(1)
    ending.no_fault_found(card=JobCard.objects.get(pk=mine.pk), by=lead, words="Sound when looked at")
    phone.signal(True)
    phone.until("() => Outbox.drain().then(() => Outbox.all()).then(rows => rows[0].state === 'refused')")
    phone.page.wait_for_selector("main >> text=has ended")
    assert "Drum, with its shims" in phone.page.locator("main").inner_text()
    assert not StripItem.objects.exists()


class Killed:
    """A browser of its own with a profile on the disk, that can be ended as by a flat battery."""

    def __init__(self, driver: Any, program: Path, folder: Path) -> None:
        self.driver, self.program, self.folder = driver, program, folder

    def start(self) -> Any:
        for stale in ("DevToolsActivePort", "SingletonLock", "SingletonCookie", "SingletonSocket"):
            (self.folder / stale).unlink(missing_ok=True)
        flags = [*CHROMIUM_FLAGS, *(["--no-sandbox"] if os.geteuid() == 0 else [])]
        self.child = subprocess.Popen(
            [self.program, "--headless=new", f"--user-data-dir={self.folder}", "--remote-debugging-port=0", *flags, "about:blank"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip
        note = self.folder / "DevToolsActivePort"
        end = time.monotonic() + 30
        while not (note.exists() and note.read_text().strip()):
            assert time.monotonic() < end, "the browser did not start"
            time.sleep(0.1)
        port = note.read_text().split()[0]
        return self.driver.connect_over_cdp(f"http://127.0.0.1:{port}").contexts[0]

    def kill(self) -> None:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.child.pid, signal.SIGKILL)
        self.child.wait(timeout=10)


def test_a_killed_browser_keeps_every_entry(chromium, chromium_path, wire, mine, mechanic, tmp_path):
    folder = tmp_path / "profile"
    folder.mkdir()
    own = Killed(chromium.browser_type, chromium_path, folder)
    try:
        context = own.start()
        later = time.time() + 86400
        cookie = {
            "name": settings.SESSION_COOKIE_NAME,
            "value": session_of(mechanic),
            "url": wire.url,
            "expires": later,
        }
        context.add_cookies([cookie])
        phone = Phone(context, wire.url)
        phone.open(f"/jobs/{mine.pk}/")
        phone.ready()
        wire.stop()
        tick(phone.page)
        hours(phone.page)
        before = phone.kept(2)
        own.kill()
        phone = Phone(own.start(), wire.url)
        phone.open(f"/jobs/{mine.pk}/")  # still no server: the card and the queue come from the disk
        assert phone.rows() == before
        assert phone.page.locator("main .onphone").count() == 2
        wire.start()
        phone.page.evaluate("() => Outbox.drain()")
        if phone.rows():  # the cookie was not on the disk yet: signing in again is all it takes
            phone.context.add_cookies([cookie])
        phone.until("() => Outbox.drain().then(() => Outbox.all()).then(rows => rows.length === 0)")
    finally:
        own.kill()
    assert (mine.steps.first().done_by, WorkLog.objects.count()) == (mechanic, 1)
