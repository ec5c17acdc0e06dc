"""A museum in its own folder, run as its keepers run it: through manage.py and real processes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
import urllib.error
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
KEPT = ("PATH", "HOME", "LANG", "LC_ALL", "TMPDIR", "TZ", "COVERAGE_PROCESS_START")


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    data: Path
    settings: str = "config.settings.dev"
    extra: dict[str, str] = field(default_factory=dict)

    @property
    def env(self) -> dict[str, str]:
        kept = {name: os.environ[name] for name in KEPT if name in os.environ}
        return {**kept, "DATA_DIR": str(self.data), "DJANGO_SETTINGS_MODULE": self.settings, **self.extra}

    def try_to(self, *words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=self.env,
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )

    def manage(self, *words: str) -> str:
        done = self.try_to(*words)
        assert done.returncode == 0, done.stderr
        return done.stdout

    def python(self, code: str) -> str:
        return self.manage("shell", "--no-imports", "--verbosity", "0", "-c", code).strip()


def prod(data: Path, **extra: str) -> House:
    """The settings of a museum's server, with stand-in values."""
    told = {
        "SECRET_KEY": "k" * 60 + "0123456789",
        "ALLOWED_HOSTS": "board.example.org",
        "SITE_ADDRESS": "https://board.example.org",
    }
    return House(data=data, settings="config.settings.prod", extra={**told, **extra})


def get(url: str) -> tuple[int, str]:
    try:
        with urllib.request.urlopen(url, timeout=5) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as refused:
        return refused.code, refused.read().decode()
    except (urllib.error.URLError, OSError) as nobody:
        return 0, str(nobody)


def wait_for_fit(url: str, *, within: float = 60.0) -> dict[str, str]:
    """Ask /readyz until every check is fit; the last answer either way."""
    deadline = time.monotonic() + within
    found: dict[str, str] = {}
    while time.monotonic() < deadline:
        status, body = get(f"{url}/readyz")
        if status in {200, 503}:
            found = json.loads(body)["checks"]
        if status == 200:
            break
        time.sleep(0.1)
    return found
