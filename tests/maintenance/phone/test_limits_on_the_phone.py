"""The phone judges by the same table of cases as the server. The script runs in Chromium."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from maintenance.units import exact, unit

pytestmark = pytest.mark.browser
ROOT = Path(__file__).parents[3]
CASES = json.loads((ROOT / "tests/maintenance/limit_cases.json").read_text(encoding="utf-8"))
JUDGE = """async ([script, cases]) => {
  const address = URL.createObjectURL(new Blob([script], { type: "text/javascript" }));
  const { judge } = await import(address);
  return cases.map((one) => judge(one.limit, one.values, one));
}"""


def with_exact_units(case: dict[str, Any]) -> dict[str, Any]:
    """Another unit goes to the script as an exact scale and shift: only the server keeps the table of units."""
    if "unit" not in case:
        return case
    read, own = unit(case["unit"]), unit(case["limit"]["unit"])
    scale = read.factor / own.factor
    shift = read.offset * scale - own.offset
    return {
        **case,
        "scale": f"{scale.numerator}/{scale.denominator}",
        "shift": f"{shift.numerator}/{shift.denominator}",
    }


@pytest.fixture(scope="module")
def verdicts(chromium) -> list[dict[str, Any]]:
    script = (ROOT / "static/js/phone.js").read_text(encoding="utf-8")
    page = chromium.new_page()
    found = page.evaluate(JUDGE, [script, [with_exact_units(case) for case in CASES]])
    page.close()
    return found


@pytest.mark.parametrize("place", range(len(CASES)), ids=[case["name"] for case in CASES])
def test_the_phone_says_what_the_server_says(verdicts, place):
    expected = CASES[place]["expect"]
    found = verdicts[place]
    by = None if found["by"] is None else exact(found["by"])
    assert {**found, "by": by} == {
        **expected,
        "by": None if expected["by"] is None else exact(expected["by"]),
    }


def test_the_cases_that_need_another_unit_are_there():
    assert sum("unit" in case for case in CASES) == 4
