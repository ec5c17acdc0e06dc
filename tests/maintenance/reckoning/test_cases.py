"""One table of cases for both: the sums in Python here, those of the phone in a real browser below."""

import json
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from maintenance.forms.reckoning import ReckoningForm
from maintenance.reckoning.pages import OFFLINE, RECKONINGS
from maintenance.reckoning.pages.base import units_of
from tests.look.palette import ROOT

CASES = json.loads((Path(__file__).parent / "cases.json").read_text(encoding="utf-8"))
NAMES = [f"{one['slug']}: {' '.join(one['typed'].values())}" for one in CASES]
SCRIPT = ROOT / "static/js/reckoning.js"
ASK = """async ([table, cases]) => {
  const sums = await import("/reckoning.js");
  sums.useUnits(table);
  return cases.map((one) => sums.work(one.slug, one.typed));
}"""


def expected(one: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in one.items() if name not in {"slug", "typed"}}


def test_every_sum_of_the_phone_is_tried_taken_and_refused() -> None:
    taken = Counter(one["slug"] for one in CASES if "lines" in one)
    refused = Counter(one["slug"] for one in CASES if "refused" in one)
    assert set(taken) == set(refused) == set(OFFLINE)


def test_the_table_holds_published_values() -> None:
    """FAA-H-8083-32 ratios of a magneto, and the slider-crank figures of stroke 100, rod 200."""
    first = {json.dumps(one["typed"]): one.get("lines", [[None, None]])[0][1] for one in CASES}
    ratios = {(4, 2): "1", (6, 4): "0.75", (9, 4): "1.125", (14, 4): "1.75", (18, 4): "2.25"}
    found = {
        (int(one["typed"]["cylinders"]), int(one["typed"]["sparks"])): one["lines"][0][1]
        for one in CASES
        if one["slug"] == "magneto" and "lines" in one and one["typed"]["strokes"] == "4"
    }
    assert found == ratios
    travel = {"5": "0.24", "10": "0.95", "15": "2.12", "20": "3.75", "25": "5.8", "30": "8.27", "45": "17.79"}
    for degrees, wanted in (travel | {"90": "56.35", "180": "100"}).items():
        typed = {"degrees": degrees, "stroke": "100", "rod": "200", "diameter": "300"}
        assert first[json.dumps(typed)] == wanted


@pytest.mark.parametrize("one", CASES, ids=NAMES)
def test_python(one: dict[str, Any]) -> None:
    form = ReckoningForm(one["typed"], page=RECKONINGS[one["slug"]], vehicles=[])
    if "refused" in one:
        assert not form.is_valid()
        assert next(iter(form.errors)) == one["refused"]
        return
    assert form.is_valid(), form.errors
    result = form.result
    assert result is not None
    assert [[row.label, row.value, row.unit, row.beside] for row in result.lines] == one["lines"]
    assert [[row.kind, row.head, row.detail] for row in result.said[:1]] == [
        said for said in [one.get("said")] if said
    ]
    assert [list(row) for row in result.table.rows] == one["rows"] if "rows" in one else result.table is None


@pytest.mark.browser
def test_browser(chromium: Any) -> None:
    page = chromium.new_page()
    page.route("**/reckoning.js", lambda route: route.fulfill(path=SCRIPT, content_type="text/javascript"))
    page.route(
        "**/empty",
        lambda route: route.fulfill(body="<!doctype html><title>t</title>", content_type="text/html"),
    )
    page.goto("http://sums.test/empty")
    answers = page.evaluate(ASK, [units_of(), CASES])
    page.close()
    wrong = []
    for one, answer, name in zip(CASES, answers, NAMES, strict=True):
        told: dict[str, Any] = {"refused": answer["refused"]} if "refused" in answer else {
            "lines": [[row["label"], row["value"], row["unit"], row["beside"]] for row in answer["lines"]]
        }  # fmt: skip
        if "said" in answer:
            told["said"] = [answer["said"][word] for word in ("kind", "head", "detail")]
        if "rows" in answer:
            told["rows"] = answer["rows"]
        if told != expected(one):
            wrong.append((name, told, expected(one)))
    assert wrong == []
