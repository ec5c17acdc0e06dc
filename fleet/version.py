"""The program's version, read from the first dated heading of CHANGELOG.md: there is no second place to forget."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

CHANGELOG = Path(__file__).resolve().parent.parent / "CHANGELOG.md"
HEADING = re.compile(r"^## (?P<version>\d+\.\d+\.\d+) - (?P<day>\d{4}-\d{2}-\d{2})$", re.MULTILINE)


def read_version(changelog: str) -> str:
    """The version of the topmost dated heading.

    Raises:
        ValueError: no heading like `## 1.2.3 - 2026-11-25` is there.
    """
    found = HEADING.search(changelog)
    if found is None:
        raise ValueError("CHANGELOG.md has no heading like '## 1.2.3 - 2026-11-25'.")
    return found["version"]


@cache
def version() -> str:
    return read_version(CHANGELOG.read_text(encoding="utf-8"))
