"""The page of reason codes cannot drift from the code."""

import re
from pathlib import Path

from readiness.engine.reasons import Code

PAGE = Path(__file__).resolve().parents[2] / "docs" / "reason-codes.md"


def test_every_code_has_one_row_and_no_row_is_invented() -> None:
    rows = re.findall(r"^\| `([a-z-]+)` \|", PAGE.read_text(), flags=re.MULTILINE)
    assert sorted(rows) == sorted(str(code) for code in Code)
