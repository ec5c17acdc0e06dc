"""What app.js does, in the system's Chromium. Pages come from a table in this file; nothing leaves the machine."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import django_htmx
import pytest
from playwright.sync_api import Page, Route

from tests.look.palette import ROOT

pytestmark = pytest.mark.browser
HTMX = Path(django_htmx.__file__).parent / "static/django_htmx/htmx-2.min.js"
HOME = "http://look.test"
HEAD = """<!doctype html><html lang="en-GB"><title>t</title><script src="/htmx.js"></script>
<script src="/app.js" type="module"></script><body><div id="live" role="status"></div><main id="main">"""


class Bench:
    """A browser page whose every request is answered here and written down."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.answers: dict[str, dict[str, Any]] = {}
        self.sent: list[str] = []
        page.route("**/*", self.answer)

    def answer(self, route: Route) -> None:
        path = route.request.url.removeprefix(HOME)
        if path == "/app.js":
            route.fulfill(path=ROOT / "static/js/app.js", content_type="text/javascript")
        elif path == "/htmx.js":
            route.fulfill(path=HTMX, content_type="text/javascript")
        else:
            if path != "/":
                self.sent.append(f"{route.request.method} {path} {route.request.post_data or ''}".strip())
            given = self.answers.get(path, {"status": 204})
            if not given.get("never"):
                route.fulfill(**{"content_type": "text/html", **given})

    def open(self, body: str) -> None:
        self.answers["/"] = {"body": HEAD + body + "</main>"}
        self.page.goto(HOME + "/")
        self.page.wait_for_load_state("networkidle")


@pytest.fixture
def bench(chromium: Any) -> Iterator[Bench]:
    page = chromium.new_page()
    yield Bench(page)
    page.close()


def test_a_second_press_sends_nothing_and_loses_nothing(bench: Bench) -> None:
    bench.answers["/close/"] = {"never": True}
    bench.open(
        '<form method="post" action="/close/"><input name="mm" value="3.4"><button name="act" value="shut">Close</button></form>'
    )
    bench.page.evaluate(
        "() => { const b = document.querySelector('button'); b.click(); b.click(); b.click(); }"
    )
    bench.page.wait_for_timeout(300)
    assert bench.sent == ["POST /close/ mm=3.4&act=shut"]


def test_an_htmx_form_is_free_again_after_its_answer(bench: Bench) -> None:
    bench.answers["/act/"] = {"body": "done"}
    bench.open(
        '<form method="post" hx-post="/act/" hx-target="#out"><input name="a" value="1"><button>Go</button></form><p id="out"></p>'
    )
    for _ in range(2):
        bench.page.evaluate("() => { const b = document.querySelector('button'); b.click(); b.click(); }")
        bench.page.wait_for_timeout(300)
    assert bench.sent == ["POST /act/ a=1"] * 2


def test_the_header_speaks_and_marks_rows(bench: Bench) -> None:
    bench.answers["/act/"] = {
        "body": "x",
        "headers": {"HX-Trigger": '{"say": "B 02 is now Doubtful.", "rows-changed": ["row-7"]}'},
    }
    bench.open(
        '<button hx-post="/act/" hx-target="#out">Go</button><p id="out"></p><p id="row-7"></p><p id="row-8"></p>'
    )
    bench.page.click("button")
    bench.page.wait_for_timeout(400)
    assert bench.page.inner_text("#live") == "B 02 is now Doubtful."
    assert bench.page.eval_on_selector_all(".changed", "rows => rows.map(r => r.id)") == ["row-7"]


def test_focus_and_scroll_stay_over_a_swap(bench: Bench) -> None:
    row = '<button name="move" value="{}" hx-post="/list/" hx-target="#list">Move</button>'
    rows = "".join(f"<p>{row.format(n)}</p>" for n in range(80))
    bench.answers["/list/"] = {"body": rows}
    bench.open(f'<div id="list">{rows}</div>')
    bench.page.locator("button").nth(60).scroll_into_view_if_needed()
    before = bench.page.evaluate("scrollY")
    bench.page.locator("button").nth(60).click()
    bench.page.wait_for_timeout(400)
    assert before > 0
    assert bench.page.evaluate("scrollY") == before
    assert bench.page.evaluate("document.activeElement.value") == "60"


def test_what_is_refused_takes_the_focus(bench: Bench) -> None:
    bench.answers["/act/"] = {"body": '<div tabindex="-1" data-takes-focus id="no">Not taken yet</div>'}
    bench.open('<button hx-post="/act/" hx-target="#out">Go</button><div id="out"></div>')
    bench.page.click("button")
    bench.page.wait_for_timeout(300)
    assert bench.page.evaluate("document.activeElement.id") == "no"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"status": 401, "body": "Your sign-in has ended."}, "Your sign-in has ended."),
        ({"status": 500, "body": "<h1>Oh</h1>"}, "The server could not do that. Nothing was changed."),
        ({"status": 403, "body": "Only the lead may.", "content_type": "text/plain"}, "Only the lead may."),
    ],
)
def test_a_failed_act_says_so_where_it_is_seen(bench: Bench, given: dict[str, Any], said: str) -> None:
    bench.answers["/act/"] = given
    bench.open('<button hx-post="/act/" hx-target="#out">Go</button><p id="out">old</p>')
    bench.page.click("button")
    bench.page.wait_for_timeout(300)
    assert bench.page.inner_text("#refusal") == said
    assert bench.page.evaluate("document.activeElement.id") == "refusal"
    assert bench.page.inner_text("#out") == "old"


@pytest.mark.parametrize(("touch", "asked"), [(False, 0), (True, 1)])
def test_leaving_a_half_filled_form_asks_first(bench: Bench, touch: bool, asked: int) -> None:
    dialogs: list[str] = []
    bench.page.on("dialog", lambda d: (dialogs.append(d.type), d.accept()))
    bench.open('<form method="post" data-guard><input name="a"></form>')
    bench.page.click("input")
    if touch:
        bench.page.keyboard.type("3.4")
    bench.page.goto(HOME + "/")
    assert dialogs == ["beforeunload"] * asked


def test_a_filter_sends_itself(bench: Bench) -> None:
    bench.open(
        '<form method="get" action="/list/" data-auto><select name="s"><option>a<option>b</select></form>'
    )
    bench.page.select_option("select", "b")
    bench.page.wait_for_timeout(300)
    assert bench.sent == ["GET /list/?s=b"]
