"""Each act: kept before it is sent, sent again when its answer was lost, and done once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from fleet.models import Act
from maintenance.models import (
    Defect,
    JobPhoto,
    JobSignature,
    JobTest,
    LeaveSafe,
    PartNeed,
    Reading,
    StripItem,
    UseCheck,
    WorkLog,
)
from maintenance.services import bench
from tests.factories.fleet import PASSWORD
from tests.maintenance.offline.test_no_signal import tick

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def acts(name: str) -> Callable[[], int]:
    return lambda: Act.objects.filter(act=name).count()


def rows(model: Any) -> Callable[[], int]:
    return lambda: model.objects.count()


def press(page: Any, section: str, words: str) -> None:
    page.locator(f"#sec-{section}").get_by_role("button", name=words).first.click()


def fold(page: Any, section: str, words: str, /, **typed: str) -> None:
    """Open a form behind its press, fill it in, hand it in."""
    part = page.locator(f"#sec-{section}")
    more = part.locator("details.more", has=page.locator(f"summary:has-text('{words}')")).first
    more.locator("summary").first.click()
    for name, value in typed.items():
        more.locator(f"[name={name}]").first.fill(value)
    more.locator("button.go").last.click()


def read(page: Any) -> None:
    box = page.locator(".read").first
    box.locator("[data-value]").fill("3.4")
    box.locator(".opt", has_text="As left").click()
    box.get_by_role("button", name="Write down the reading").click()


def photograph(page: Any) -> None:
    page.locator("#sec-photos summary").first.click()
    page.set_input_files("#sec-photos input[type=file]", PICTURE)
    page.wait_for_selector("#sec-photos >> text=Photograph ready")
    page.locator("#sec-photos button.go").click()


def test_it(page: Any) -> None:
    page.locator("#sec-tests summary").first.click()
    page.locator("#sec-tests [name=kind]").select_option("road")
    page.locator("#sec-tests .opt", has_text="Passed").click()
    page.locator("#sec-tests [name=words]").fill("Runs straight")
    page.locator("#sec-tests button.go").click()


test_it.__test__ = False


def sign(page: Any) -> None:
    page.locator("#sec-sign summary").first.click()
    page.locator("#sec-sign select").select_option(label="Gudrun Ash")
    page.locator("#sec-sign input[type=password]").fill(PASSWORD)
    page.locator("#sec-sign button.go").last.click()


def close(page: Any) -> None:
    page.locator("[name=outcome][value='not run']").check()
    page.locator("#sec-close textarea").fill("Cylinder seized")
    page.locator("[data-close]").click()


@dataclass(frozen=True)
class Case:
    do: Callable[[Any], None]
    count: Callable[[], int]
    job: str = "mine"  # which fixture's job it is done on
    path: str = ""


PICTURE = Path()
CASES = {
    "take": Case(lambda page: press(page, "head", "Take it"), acts("card.take"), "job"),
    "cautions": Case(lambda page: press(page, "cautions", "I have read these"), acts("card.cautions"), "job"),
    "step": Case(tick, acts("card.step_done")),
    "reading": Case(read, rows(Reading)),
    "photo": Case(photograph, rows(JobPhoto)),
    "off": Case(lambda page: fold(page, "strip", "Something came off", what="Drum", count="1"), rows(StripItem)),
    "refit": Case(lambda page: press(page, "strip", "Refit done"), acts("card.refit")),
    "hours": Case(lambda page: fold(page, "hours", "Add my hours", hours="1.5"), rows(WorkLog)),
    "safe": Case(
        lambda page: fold(
            page, "safe", "leave it safe", state_of_strip="On stands", parts_where="Tray 2", next_step="Measure"
        ),
        rows(LeaveSafe),
    ),
    "found": Case(lambda page: fold(page, "found", "Report what", words="Hose chafed"), rows(Defect)),
    "part": Case(lambda page: fold(page, "parts", "A part is wanted", name="Split pin"), rows(PartNeed)),
    "test": Case(test_it, rows(JobTest), "ready"),
    "sign": Case(sign, rows(JobSignature), "ready"),
    "close": Case(close, acts("card.close")),
}  # fmt: skip


@pytest.mark.parametrize("name", list(CASES))
def test_kept_first_sent_again_after_a_lost_answer_and_done_once(
    name, request, phones, wire, inspector, mechanic, tmp_path, monkeypatch
):
    case = CASES[name]
    job = request.getfixturevalue(case.job)
    card = getattr(job, "card", job)
    picture = tmp_path / "p.jpg"
    Image.effect_noise((900, 600), 60).convert("RGB").save(picture)
    monkeypatch.setattr("tests.maintenance.offline.test_each_act.PICTURE", picture)
    phone = phones(wire.url)
    phone.sign_in(mechanic)
    phone.open(f"/jobs/{card.pk}/")
    phone.ready()
    before = case.count()
    phone.signal(False)
    case.do(phone.page)
    assert len(phone.kept(1)) == 1
    assert "Saved on this phone. Will send when there is signal." in phone.page.locator("main").inner_text()
    phone.open(f"/jobs/{card.pk}/")  # from the phone's own copy: what waits is shown there too
    phone.page.wait_for_selector("main >> text=Saved on this phone. Will send when there is signal.")
    assert "1 waiting to send" in phone.strip()
    assert case.count() == before
    assert wire.posts == 0
    wire.lose = 1
    phone.signal(True)
    phone.until("() => Outbox.drain().then(() => Outbox.all()).then(rows => rows.length === 0)")
    assert (wire.lost, wire.posts) == (1, 2)
    assert case.count() == before + 1


def test_a_fault_slip_and_a_use_check_wait_too(phones, wire, museum, mine, mechanic, vehicle):
    phone = phones(wire.url)
    phone.sign_in(mechanic)
    phone.open(f"/jobs/{mine.pk}/")
    phone.ready()
    phone.signal(False)
    phone.open(f"/vehicles/{vehicle.code}/report/")
    phone.page.get_by_label("Leak", exact=True).check()
    phone.page.locator("textarea").fill("Oil on the turntable")
    phone.page.locator(".three").get_by_label("No", exact=True).check()
    phone.page.get_by_role("button", name="Hand it in").click()
    phone.kept(1)
    assert "Oil on the turntable" in phone.page.locator(".onphone").inner_text()
    phone.open(f"/vehicles/{vehicle.code}/checks/")
    form = phone.page.locator("#f-check")
    form.locator("[name=kind][value='after use']").check(force=True)
    form.locator("[name=nil_defect]").check(force=True)
    form.get_by_role("button", name="Hand it in").click()
    phone.kept(2)
    wire.lose = 2
    phone.signal(True)
    phone.until("() => Outbox.drain().then(() => Outbox.all()).then(rows => rows.length === 0)")
    assert wire.lost == 2
    assert Defect.objects.get().words == "Oil on the turntable"
    assert UseCheck.objects.exclude(done_at=None).count() == 1


def test_what_came_off_without_signal_goes_back_on_without_signal(at_the_vehicle, mine, mechanic):
    phone = at_the_vehicle
    phone.signal(False)
    fold(phone.page, "strip", "Something came off", what="Drum", count="1")
    phone.kept(1)
    phone.page.locator(".onphone").get_by_role("button", name="Back on").click()
    rows_ = phone.kept(2)
    assert rows_[1]["target"] == f"key:{rows_[0]['key']}"
    phone.signal(True)
    phone.sent()
    assert mine.strip_items.get().back_by == mechanic


def test_nothing_is_ticked_before_the_cautions_even_without_signal(phones, wire, job, mechanic):
    phone = phones(wire.url)
    phone.sign_in(mechanic)
    phone.open(f"/jobs/{job.pk}/")
    phone.ready()
    phone.signal(False)
    tick(phone.page)
    phone.page.wait_for_selector("#sec-steps >> text=Read the cautions first")
    assert phone.rows() == []
    press(phone.page, "cautions", "I have read these")
    phone.kept(1)
    tick(phone.page)
    phone.kept(2)
    phone.signal(True)
    phone.sent()
    assert job.steps.first().done_by == mechanic
    assert bench.CautionRead.objects.count() == 1
