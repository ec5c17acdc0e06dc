"""A test whose service is missing says so: left out with what to install, and a failure where everything must run."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.services.house import ROOT

NEEDS = "def test_queue(redis_url):\n    pass\n\n\ndef test_browser(chromium_path):\n    pass\n\n\ndef test_rows(postgres):\n    pass\n"
# The server's programs lie outside PATH; the plugin is told that there are none.
NOWHERE = (
    "import tests.plugins.servers as s\nfrom pathlib import Path\ns.DEBIAN_POSTGRES = Path('/nowhere')\n"
)
WORDS = [
    "NOT RUN: 1 tests. chromium is not installed: apt-get install chromium",
    "NOT RUN: 1 tests. initdb is not installed: apt-get install postgresql",
    "NOT RUN: 1 tests. redis-server is not installed: apt-get install redis-server",
]


@pytest.mark.parametrize(("ci", "status", "outcome"), [("", 0, "3 skipped"), ("true", 1, "3 errors")])
def test_what_is_missing_is_told(ci: str, status: int, outcome: str, tmp_path: Path) -> None:
    (tmp_path / "test_needs.py").write_text(NEEDS)
    (tmp_path / "conftest.py").write_text(NOWHERE)
    (tmp_path / "bin").mkdir()
    words = ["-p", "tests.plugins.services", "-p", "no:cacheprovider", "--rootdir", str(tmp_path), "-q"]
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "pytest",
            *words,
            "-c",
            str(ROOT / "pyproject.toml"),
            str(tmp_path / "test_needs.py"),
        ],
        cwd=ROOT,
        env={"PATH": str(tmp_path / "bin"), "HOME": str(tmp_path), **({"CI": ci} if ci else {})},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == status, done.stdout + done.stderr
    assert [line for line in done.stdout.splitlines() if line.startswith("NOT RUN: 1 tests.")] == WORDS
    assert outcome in done.stdout.splitlines()[-1]
