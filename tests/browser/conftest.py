"""A whole demo museum as `make demo` runs it, web server and worker, on a free port with a folder of its own."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
START_WITHIN = 180.0


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Site:
    """Its address, its data folder, and what it printed."""

    def __init__(self, url: str, folder: Path, lines: list[str]) -> None:
        self.url, self.folder, self.lines = url, folder, lines

    def manage(self, *words: str) -> str:
        env = os.environ | {"DATA_DIR": str(self.folder), "DJANGO_SETTINGS_MODULE": "config.settings.dev"}
        env.pop("DATABASE_URL", None)
        return subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=env,
            check=True,
            capture_output=True,
            text=True,
        ).stdout


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    folder = tmp_path_factory.mktemp("demo-site")
    port = free_port()
    env = {
        k: v
        for k, v in os.environ.items()
        if k not in {"DATABASE_URL", "REDIS_URL", "DJANGO_SETTINGS_MODULE"}
    }
    env |= {
        "DATA_DIR": str(folder),
        "PORT": str(port),
        "HOST": "127.0.0.1",
        "FORECAST_SAMPLES": "200",
        "SLIP_POSTS_PER_HOUR": "1000",
    }
    child = subprocess.Popen(
        [sys.executable, "scripts/run.py", "--demo"],
        cwd=ROOT,
        env=env,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    lines: list[str] = []

    def read() -> None:
        assert child.stdout is not None
        lines.extend(iter(child.stdout.readline, ""))

    reader = threading.Thread(target=read, daemon=True)
    reader.start()
    url = f"http://127.0.0.1:{port}"
    try:
        _wait_until_ready(child, url, lines)
        yield Site(url, folder, lines)
    finally:
        child.send_signal(signal.SIGINT)
        try:
            child.wait(timeout=40)
        except subprocess.TimeoutExpired:
            child.kill()
            raise
        finally:
            reader.join(timeout=10)
            if child.stdout is not None:
                child.stdout.close()


def _wait_until_ready(child: subprocess.Popen[str], url: str, lines: list[str]) -> None:
    end = time.monotonic() + START_WITHIN
    while time.monotonic() < end:
        if child.poll() is not None:
            raise AssertionError("the demo stopped: " + "".join(lines[-20:]))
        try:
            with urllib.request.urlopen(f"{url}/healthz", timeout=2) as answer:
                if answer.status == 200:
                    return
        except (urllib.error.URLError, OSError):
            time.sleep(0.3)
    raise AssertionError("the demo did not start: " + "".join(lines[-20:]))


class Browser:
    """Opens pages as one of the demo's people, and keeps what the console complained of."""

    def __init__(self, chromium: Any, site: Site) -> None:
        self.chromium, self.site = chromium, site
        self.states: dict[str, Any] = {}
        self.complaints: list[str] = []

    def page(self, username: str = "", *, width: int = 1440, height: int = 900, dark: bool = False) -> Any:
        context = self.chromium.new_context(
            viewport={"width": width, "height": height}, color_scheme="dark" if dark else "light",
            storage_state=self.states.get(username), has_touch=width < 500, locale="en-GB",
        )  # fmt: skip
        page = context.new_page()
        page.on(
            "console",
            lambda m: self.complaints.append(f"{page.url}: {m.text}") if m.type == "error" else None,
        )
        page.on("pageerror", lambda e: self.complaints.append(f"{page.url}: {e}"))
        if username and username not in self.states:
            page.goto(f"{self.site.url}/sign-in/")
            page.fill("[name=username]", username)
            page.fill("[name=password]", f"hythe-{username}")
            page.press("[name=password]", "Enter")
            page.wait_for_url(re.compile(r"^(?!.*sign-in).*$"))
            self.states[username] = context.storage_state()
        return page


@pytest.fixture(scope="session")
def browser(chromium: Any, site: Site) -> Browser:
    return Browser(chromium, site)
