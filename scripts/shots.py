#!/usr/bin/env python
"""Take a picture of every screen and print of the demonstration museum, into shots/.

A museum of its own is built in a scratch folder and served on a free port. What to look at stands in scripts/shots.toml:
each [[shot]] has a name, a path and who is signed in; `first` follows the first link on that page which matches; a path
marked `print` is turned into one picture a page (`post` presses the form that `first` found). Words on the command line
choose shots by name.
"""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import tomllib
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any
from urllib.parse import urljoin

ROOT = Path(__file__).resolve().parent.parent
TO = ROOT / "shots"
SIZES = {"desk": {"width": 1440, "height": 900}, "phone": {"width": 390, "height": 844}}
LAMPS = ("daylight", "shed")
START_WITHIN = 240.0
DOTS_PER_INCH = "110"


def serve(folder: Path) -> tuple[subprocess.Popen[bytes], str]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    kept = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "REDIS_URL"}}
    env = {**kept, "DATA_DIR": str(folder / "data"), "DJANGO_SETTINGS_MODULE": "config.settings.dev"}
    with (folder / "log").open("wb") as log:
        child = subprocess.Popen(
            [sys.executable, "scripts/run.py", "--demo", "--port", str(port)],
            cwd=ROOT,
            env=env,
            stdout=log,
            stderr=log,
        )
    url = f"http://127.0.0.1:{port}"
    deadline = time.monotonic() + START_WITHIN
    while not fit(url):
        if child.poll() is not None or time.monotonic() > deadline:
            stop(child)
            raise SystemExit(f"The demonstration museum did not start:\n{(folder / 'log').read_text()}")
        time.sleep(0.5)
    return child, url


def fit(url: str) -> bool:
    try:
        with urllib.request.urlopen(f"{url}/readyz", timeout=5) as answer:
            return answer.status == 200
    except (urllib.error.URLError, OSError):
        return False


def stop(child: subprocess.Popen[bytes]) -> None:
    if child.poll() is None:
        child.send_signal(signal.SIGTERM)
    child.wait(60)


class Camera:
    """One browser; one signed-in context for each person, size and lamp."""

    def __init__(self, browser: Any, url: str, password: str) -> None:
        self.browser, self.url, self.password = browser, url, password
        self.rooms: dict[tuple[str, str, str], Any] = {}
        self.refused: list[str] = []

    def room(self, who: str, size: str, lamp: str) -> Any:
        key = (who, size, lamp)
        if key not in self.rooms:
            phone = size == "phone"
            room = self.browser.new_context(
                viewport=SIZES[size], is_mobile=phone, has_touch=phone, device_scale_factor=2 if phone else 1
            )
            room.add_cookies([{"name": "lamp", "value": lamp, "url": self.url}])
            if who:
                self.sign_in(room, who)
            self.rooms[key] = room
        return self.rooms[key]

    def sign_in(self, room: Any, who: str) -> None:
        page = room.new_page()
        page.goto(f"{self.url}/sign-in/")
        page.fill("[name=username]", who)
        page.fill("[name=password]", self.password.format(name=who))
        page.click("main button, form button")
        page.wait_for_load_state()
        if "/sign-in" in page.url:
            raise SystemExit(f"{who} could not sign in; look at the password in scripts/shots.toml.")
        page.close()

    def find(self, room: Any, shot: dict[str, Any]) -> str:
        """The address to look at, through the first matching link if one is asked for."""
        address = urljoin(self.url, shot["path"])
        for selector in shot.get("first", []):
            page = room.new_page()
            page.goto(address)
            link = page.locator(selector).first
            if link.count() == 0:
                raise LookupError(f"no link {selector} on {address.removeprefix(self.url)}")
            address = urljoin(address, link.get_attribute("href") or link.get_attribute("action"))
            page.close()
        return address

    def screens(self, shot: dict[str, Any]) -> int:
        taken = 0
        for size in shot.get("sizes", list(SIZES)):
            for lamp in shot.get("lamps", LAMPS):
                room = self.room(shot.get("sign_in", ""), size, lamp)
                page = room.new_page()
                answer = page.goto(self.find(room, shot))
                page.wait_for_load_state("networkidle")
                wanted = shot.get("status", 200)
                if answer is None or answer.status != wanted:
                    self.refused.append(f"{shot['name']}: answered {answer and answer.status}, not {wanted}")
                page.screenshot(
                    path=TO / f"{shot['name']}-{size}-{lamp}.png", full_page=shot.get("whole", True)
                )
                page.close()
                taken += 1
        return taken

    def sheets(self, shot: dict[str, Any], address: str) -> int:
        room = self.room(shot.get("sign_in", ""), "desk", "daylight")
        if shot.get("post"):
            token = next(cookie["value"] for cookie in room.cookies() if cookie["name"] == "csrftoken")
            answer = room.request.post(
                address, form={"csrfmiddlewaretoken": token}, headers={"Referer": address}, timeout=120_000
            )
        else:
            answer = room.request.get(address, timeout=120_000)
        if answer.status != 200 or not answer.body().startswith(b"%PDF-"):
            self.refused.append(f"{shot['name']}: answered {answer.status}, not a print")
            return 0
        target = TO / f"{shot['name']}.pdf"
        target.write_bytes(answer.body())
        subprocess.run(["pdftoppm", "-png", "-r", DOTS_PER_INCH, target, TO / shot["name"]], check=True)
        return len(list(TO.glob(f"{shot['name']}-*.png")))

    def take(self, shot: dict[str, Any]) -> int:
        try:
            if shot.get("print"):
                room = self.room(shot.get("sign_in", ""), "desk", "daylight")
                return self.sheets(shot, self.find(room, shot))
            return self.screens(shot)
        except LookupError as missing:
            self.refused.append(f"{shot['name']}: {missing}")
            return 0


def main(names: list[str]) -> int:
    from playwright.sync_api import sync_playwright

    told = tomllib.loads((ROOT / "scripts" / "shots.toml").read_text(encoding="utf-8"))
    shots = [shot for shot in told["shot"] if not names or shot["name"] in names]
    browser_path = next(
        filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
    )
    if browser_path is None or shutil.which("pdftoppm") is None:
        print("Pictures need Chromium and pdftoppm: sudo apt-get install chromium poppler-utils")
        return 1
    TO.mkdir(exist_ok=True)
    flags = ["--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
    flags += [
        "--disable-component-update",
        "--disable-sync",
        *(["--no-sandbox"] if os.geteuid() == 0 else []),
    ]
    with tempfile.TemporaryDirectory(prefix="running-order-shots-") as scratch:
        child, url = serve(Path(scratch))
        try:
            with sync_playwright() as driver:
                browser = driver.chromium.launch(executable_path=browser_path, args=flags)
                camera = Camera(browser, url, told["password"])
                for shot in shots:
                    print(f"{shot['name']}: {camera.take(shot)}", flush=True)
                browser.close()
        finally:
            stop(child)
    for words in camera.refused:
        print(f"NOT TAKEN: {words}")
    return 1 if camera.refused else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
