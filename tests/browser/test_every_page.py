"""Every screen in both themes at both widths: no accessibility violation, no sideways scroll, no complaint of the console."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.browser.conftest import Browser

pytestmark = pytest.mark.browser

PAGES = [
    ("", "/sign-in/"), ("odette", "/"), ("odette", "/?show=barred"), ("odette", "/how/HWW/"), ("odette", "/what-if/?line=book%20J32"),
    ("wilmot", "/vehicles/"), ("wilmot", "/vehicles/V01/"), ("wilmot", "/vehicles/V05/"), ("wilmot", "/vehicles/V17/"),
    ("jarek", "/jobs/mine/"), ("jarek", "card:J21"), ("wilmot", "card:J01"), ("wilmot", "/workshop/"), ("wilmot", "/defects/"),
    ("odette", "/stores/"), ("odette", "/programme/"), ("odette", "/programme/HWW/"), ("odette", "/record/"), ("odette", "/find/?q=rope"),
    ("odette", "/workshop/days/"), ("wilmot", "/inspections/"), ("wilmot", "/role-table/"), ("sefa", "/people/"), ("sefa", "/settings/"), ("sefa", "/kit/"), ("sefa", "/import/"),
    ("jarek", "/me/"), ("jarek", "/scan/"), ("isla", "/vehicles/V04/report/"), ("wilmot", "/vehicles/V01/readings/"),
    ("jarek", "/reckoning/?vehicle=V01"), ("jarek", "/reckoning/timing/?found=8&wanted=12&vehicle=V01"), ("isla", "/reckoning/degrees/?degrees=twelve"),
    ("jarek", "/reckoning/compression/?set=445+440+405+435+psi&altitude=500"), ("jarek", "/reckoning/firing-order/?cylinders=6&order=1+5+3+6+2+4"),
    ("isla", "/vehicles/V14/checks/"), ("wilmot", "defect:V01"), ("wilmot", "assess:V01"), ("wilmot", "put-off:V12"), ("", "slip:V01"),
    ("wilmot", "/accidents/"), ("jarek", "/accidents/new/"), ("wilmot", "/accidents/1/"), ("jarek", "/to-copy/1/"), ("jarek", "/vehicles/V06/to-copy/"),
    ("odette", "/outside/"), ("odette", "/outside/1/"), ("odette", "/outside/new/"), ("pru", "/vehicles/V18/fabric/"), ("pru", "/fabric/3/"),
    ("wilmot", "/facts/1/rests/"), ("wilmot", "/vehicles/V10/inspections/usual/"), ("wilmot", "/stores/tools/1/drawing/"), ("jarek", "/phone/kept/"),
    ("wilmot", "/which-part/"), ("jarek", "/which-part/1/"), ("odette", "/programme/HWW/ran/"), ("odette", "/record/learnt/"), ("odette", "/record/came-true/"),
]  # fmt: skip
AXE = """async () => (await axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}))
.violations.map(v => v.id + ": " + v.nodes.slice(0, 3).map(n => n.target.join(" ")).join(" | "))"""
WIDE = "() => document.documentElement.scrollWidth - window.innerWidth"


@pytest.fixture(scope="session")
def addresses(site: Any) -> dict[str, str]:
    """Addresses with database keys in them, asked of the museum itself."""
    asked = """
from maintenance.models import Defect, JobCard
from maintenance.tags_link import token_of
from fleet.models import Vehicle
for c in JobCard.objects.exclude(code=""): print(f"card:{c.code} /jobs/{c.pk}/")
for d in Defect.objects.select_related("vehicle").order_by("-pk"):
    print(f"defect:{d.vehicle.code} /defects/{d.pk}/"); print(f"assess:{d.vehicle.code} /defects/{d.pk}/assess/")
    print(f"put-off:{d.vehicle.code} /defects/{d.pk}/put-off/")
for v in Vehicle.objects.all(): print(f"slip:{v.code} /t/{token_of(v)}/")
"""
    lines = site.manage("shell", "-v0", "-c", asked).splitlines()
    return dict(line.split(" ", 1) for line in lines if re.match(r"^[a-z-]+:\w+ /", line))


def address(path: str, addresses: dict[str, str]) -> str:
    return path if path.startswith("/") else addresses[path]


@pytest.mark.parametrize("dark", [False, True], ids=["daylight", "shed"])
@pytest.mark.parametrize("width", [1440, 390])
@pytest.mark.parametrize(("who", "path"), PAGES, ids=[p for _, p in PAGES])
def test_page(
    browser: Browser, axe_script: str, addresses: dict[str, str], who: str, path: str, width: int, dark: bool
) -> None:
    page = browser.page(who, width=width, height=900 if width > 500 else 844, dark=dark)
    before = len(browser.complaints)
    answer = page.goto(browser.site.url + address(path, addresses))
    assert answer.status == 200
    page.wait_for_load_state("load")
    assert page.evaluate(WIDE) <= 1
    page.evaluate(axe_script)
    assert page.evaluate(AXE) == []
    assert browser.complaints[before:] == []
    page.context.close()


@pytest.mark.parametrize(
    ("who", "path"),
    [p for p in PAGES if p[1] in {"/", "/vehicles/V01/", "/jobs/mine/", "card:J01", "slip:V01", "/stores/"}],
)
def test_nothing_scrolls_sideways_at_320(
    browser: Browser, addresses: dict[str, str], who: str, path: str
) -> None:
    page = browser.page(who, width=320, height=640)
    page.goto(browser.site.url + address(path, addresses))
    assert page.evaluate(WIDE) <= 1
    page.context.close()


SMALL = """() => [...document.querySelectorAll("main a, main button, main summary, main select, main input, nav a")]
.filter(e => e.offsetParent && !e.closest(".vh") && !["hidden", "checkbox", "radio", "file"].includes(e.type))
.filter(e => { const b = e.getBoundingClientRect(); return b.height > 0 && b.height < 47.5 && getComputedStyle(e).display !== "inline"; })
.map(e => e.tagName + " " + (e.textContent || e.name).trim().slice(0, 40) + " " + Math.round(e.getBoundingClientRect().height))"""


@pytest.mark.parametrize(
    ("who", "path"), [p for p in PAGES if p[1] in {"/jobs/mine/", "card:J01", "slip:V01"}]
)
def test_targets_are_48_px_on_a_phone(
    browser: Browser, addresses: dict[str, str], who: str, path: str
) -> None:
    page = browser.page(who, width=390, height=844)
    page.goto(browser.site.url + address(path, addresses))
    assert page.evaluate(SMALL) == []
    page.context.close()
