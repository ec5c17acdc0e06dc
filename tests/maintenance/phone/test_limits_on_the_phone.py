"""The phone judges by the same table of cases as the server. The script is run as it is served."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from maintenance.units import exact, unit

ROOT = Path(__file__).parents[3]
CASES = json.loads((ROOT / "tests/maintenance/limit_cases.json").read_text(encoding="utf-8"))
NODE = shutil.which("node")
RUN = """
import { readFileSync } from "node:fs";
const { judge } = await import(process.argv[1]);
const cases = JSON.parse(readFileSync(0, "utf8"));
process.stdout.write(JSON.stringify(cases.map((one) => judge(one.limit, one.values, one))));
"""


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
def verdicts(tmp_path_factory) -> list[dict[str, Any]]:
    if NODE is None:
        pytest.skip("no node on this machine")
    script = tmp_path_factory.mktemp("js") / "phone.mjs"
    script.write_text((ROOT / "static/js/phone.js").read_text())
    sent = json.dumps([with_exact_units(case) for case in CASES])
    done = subprocess.run(
        [NODE, "--input-type=module", "-e", RUN, script.as_uri()],
        input=sent,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


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
