"""A person's walk through the main job: a slip on a phone, assessed, taken, closed with a reading and a photograph,
while a board left open changes by itself; then the checklist.
"""

from __future__ import annotations

import io
import json
import re
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from pypdf import PdfReader

from tests.browser.conftest import Browser, Site

pytestmark = pytest.mark.browser
VEHICLE = "V10"


def picture(folder: Path) -> Path:
    path = folder / "leak.jpg"
    Image.new("RGB", (1600, 1200), (120, 90, 60)).save(path)
    return path


def ask(site: Site, code: str) -> str:
    return site.manage("shell", "-v0", "-c", code).strip().splitlines()[-1]


def standing(site: Site, vehicle: str) -> str:
    return ask(
        site,
        f"from readiness.models import Assessment as A; a = A.objects.get(is_latest=True); print(next(v['word'] for v in a.result['vehicles'] if v['vehicle'] == '{vehicle}'))",
    )


def row(page: Any) -> Any:
    return page.locator(f"#row-{VEHICLE}")


def hand_in(page: Any, form: str, **fields: str) -> None:
    """Fill a form of the job card and send it; folded forms are opened first, as a thumb would."""
    found = page.locator(f"#{form}")
    for _ in range(20):  # the last answer may still be on its way into the page, and folds what was open
        page.wait_for_timeout(300)
        if found.is_visible():
            break
        page.locator("details:not([open])", has=page.locator(f"#{form}")).first.locator(
            "summary"
        ).first.click()
    for name, value in fields.items():
        control = found.locator(f"[name={name}]").first
        kind = control.get_attribute("type") or control.evaluate("e => e.tagName")
        if kind == "radio":
            found.locator(f"[name={name}][value='{value}']").check(force=True)
        elif kind == "file":
            control.set_input_files(value)
        elif kind == "SELECT":
            control.select_option(value)
        else:
            control.fill(value)
    with page.expect_response(lambda r: r.request.method == "POST") as sent:
        found.locator("button:not([type=button])").last.click()
    assert sent.value.status < 400, (form, sent.value.status, page.inner_text("main")[:600])
    page.wait_for_load_state("networkidle")


def report(browser: Browser, site: Site, photo: Path) -> str:
    """A driver reports from the tag, without signing in; gives the number of the slip."""
    code = f"from fleet.models import Vehicle as V; from maintenance.tags_link import token_of as t; print(t(V.objects.get(code='{VEHICLE}')))"
    phone = browser.page(width=390, height=844)
    phone.goto(f"{site.url}/t/{ask(site, code)}/")
    assert "Clover" in phone.inner_text("body")
    phone.locator("#f-slip [name=does][value=leak]").check(force=True)
    phone.locator("#f-slip [name=words]").fill("Smell of paraffin round the tap after the run")
    phone.locator("#f-slip [name=photo]").set_input_files(str(photo))
    phone.locator("#f-slip [name=move][value=yes]").check(force=True)
    phone.locator("#f-slip [name=stopped][value=yes]").check(force=True)
    phone.get_by_role("button", name="Hand it in").click()
    phone.wait_for_load_state("networkidle")
    found = re.search(r"\d\d/\d{3}", phone.inner_text("main"))
    assert found is not None, phone.inner_text("main")[:400]
    return found.group(0)


def assess(lead: Any, site: Site, serial: str) -> int:
    """The lead assesses it and makes a job of it; gives the key of the card."""
    lead.goto(f"{site.url}/defects/")
    lead.get_by_role("link", name=serial).first.click()
    lead.get_by_role("link", name=re.compile("Assess")).first.click()
    form = lead.locator("form#assess")
    fuel = form.locator(
        "[name=subsystem] option", has_text=re.compile("Fuel, as a whole")
    ).first.get_attribute("value")
    form.locator("[name=subsystem]").select_option(fuel)
    lead.wait_for_load_state("networkidle")
    form.locator("[name=effect_FUEL]").select_option("reduced")
    form.locator("[name=severity][value='3']").check()
    form.locator("[name=probability][value='C']").check()
    form.locator("[name=then][value=job]").check()
    lead.wait_for_load_state("networkidle")
    for name, value in (("hours_best", "1"), ("hours_usual", "2"), ("hours_bad", "3")):
        form.locator(f"[name={name}]").fill(value)
    form.get_by_role("button", name="Write it down").click()
    lead.wait_for_load_state("networkidle")
    return int(
        ask(
            site,
            f"from maintenance.models import Defect as D; print(D.objects.get(serial='{serial}').cards.get().pk)",
        )
    )


def test_the_main_job(browser: Browser, site: Site, tmp_path: Path) -> None:
    board = browser.page("odette")
    board.goto(f"{site.url}/")
    row(board).get_by_text(re.compile("^Fit$")).first.wait_for(timeout=60_000)

    serial = report(browser, site, picture(tmp_path))
    # The open board changes by itself: a fault that nobody has assessed is not judged.
    row(board).get_by_text("Not judged").first.wait_for(timeout=60_000)
    assert board.url == f"{site.url}/"

    lead = browser.page("wilmot")
    card = assess(lead, site, serial)
    row(board).get_by_text(re.compile("^(Likely|Doubtful|Unlikely)$")).first.wait_for(timeout=60_000)

    mechanic = browser.page("jarek", width=390, height=844)
    mechanic.goto(f"{site.url}/jobs/{card}/")
    hand_in(mechanic, "f-take")
    hand_in(mechanic, "f-cautions")
    hand_in(mechanic, "f-photo", photo=str(picture(tmp_path)), shows="Tap after cleaning")
    hand_in(mechanic, "f-hours", hours="1.5")
    hand_in(mechanic, "f-refit")
    hand_in(mechanic, "f-test", kind="functional", result="passed")
    hand_in(mechanic, "f-close", outcome="done", words="Gland nipped up, no weep after ten minutes")
    state = f"from maintenance.models import JobCard as J; c = J.objects.get(pk={card}); print(c.state, c.card_photos.count(), c.defects.get().state)"
    assert ask(site, state) == "passed 1 cleared"

    # The board is back where it was, still without being touched.
    row(board).get_by_text(re.compile("^Fit$")).first.wait_for(timeout=60_000)
    assert standing(site, VEHICLE) == "Fit"

    manager = browser.page("hamish")
    manager.goto(f"{site.url}/vehicles/{VEHICLE}/")
    link = manager.get_by_role("link", name="Print checklist").get_attribute("href")
    answer = manager.request.get(site.url + link)
    assert answer.headers["content-type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(answer.body())).pages
    assert len(pages) == 1
    assert "Clover" in pages[0].extract_text()


def test_a_card_with_a_reading_past_its_limit_says_so_at_once(browser: Browser, site: Site) -> None:
    pk = ask(site, "from maintenance.models import JobCard as J; print(J.objects.get(code='J21').pk)")
    page = browser.page("jarek", width=390, height=844)
    page.goto(f"{site.url}/jobs/{pk}/")
    field = page.locator("form[id^=f-reading] [name=value_0]").first
    field.fill("75")
    page.get_by_text("Past the limit").first.wait_for(timeout=5_000)
    field.fill("30")
    page.get_by_text("Within the limit").first.wait_for(timeout=5_000)


def test_two_people_need_not_share_a_page_to_see_the_same_number(browser: Browser, site: Site) -> None:
    board, page = browser.page("odette"), browser.page("wilmot")
    board.goto(f"{site.url}/")
    shown = board.locator("#row-V08 .vin b").inner_text()
    page.goto(f"{site.url}/vehicles/V08/")
    assert f"{shown} in 100" in page.inner_text("main")
    plain = json.loads(
        ask(
            site,
            "import json; from readiness.models import Assessment as A; print(json.dumps([v['percent'] for v in A.objects.get(is_latest=True).result['vehicles'] if v['vehicle'] == 'V08']))",
        )
    )
    assert plain == [int(shown)]
