"""A phone without signal: opening from its own copy against opening from the server, what it loads, and a long queue sent.

`python -m bench.phone [acts] [photographs]`. Needs Chromium. A demo museum is made in a scratch folder and served from there.
"""

from __future__ import annotations

import http.client
import json
import os
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

ROUNDS = 15
SECONDS = 240
OPEN = "() => { const one = performance.getEntriesByType('navigation')[0]; return one.domContentLoadedEventEnd - one.startTime; }"
READY = """async () => {
  for (const name of await caches.keys()) {
    if (name.startsWith("pages-") && await (await caches.open(name)).match("/phone/marks/")) return true;
  }
  return false;
}"""
FILL = """async ([acts, photographs, path]) => {
  const owner = document.body.dataset.person;
  const canvas = new OffscreenCanvas(1600, 1200);
  const draw = canvas.getContext("2d");
  const base = { owner, name: "", url: path, lane: path, page: path, target: "", version: "", secrets: [], where: "", what: "", typed: [], form: "" };
  for (let place = 0; place < acts; place += 1) {
    const files = [];
    const fields = [["act", "hours"], ["hours", "0.25"], ["note", `n${place}`]];
    if (place % Math.floor(acts / photographs) === 0) {
      for (let spot = 0; spot < 900; spot += 1) {
        draw.fillStyle = `hsl(${(spot * 37 + place * 11) % 360} 60% ${20 + (spot * 7) % 60}%)`;
        draw.fillRect((spot * 53) % 1600, (spot * 97) % 1200, 120, 90);
      }
      files.push(["photo", await canvas.convertToBlob({ type: "image/jpeg", quality: 0.85 }), "p.jpg"]);
      fields.splice(0, 3, ["act", "photo"], ["moment", "note"], ["shows", `n${place}`]);
    }
    await Outbox.keep({ ...base, act: fields[0][1], fields, files });
  }
  return (await Outbox.all()).reduce((sum, row) => sum + row.files.reduce((all, one) => all + one[1].size, 0), 0);
}"""


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Museum:
    """A demo museum in a scratch folder, served by the project's own command."""

    def __init__(self, folder: Path) -> None:
        self.port = free_port()
        self.url = f"http://localhost:{self.port}"
        self.env = {**os.environ, "DJANGO_SETTINGS_MODULE": "config.settings.dev", "DATA_DIR": str(folder)}
        self.manage("migrate", "--noinput", "--verbosity", "0")
        self.manage("demo")
        self.child = subprocess.Popen(
            [sys.executable, "manage.py", "runserver", "--noreload", str(self.port)],
            env=self.env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        until = time.monotonic() + 60
        while True:
            try:
                self.size("/sign-in/", "")
                return
            except OSError:
                if time.monotonic() > until:
                    raise
                time.sleep(0.2)

    def manage(self, *words: str) -> str:
        done = subprocess.run(
            [sys.executable, "manage.py", *words], env=self.env, check=True, capture_output=True, text=True
        )
        return done.stdout

    def ask(self, python: str) -> Any:
        """What a line of Python says about the museum, as JSON."""
        return json.loads(self.manage("shell", "--verbosity", "0", "-c", python).strip().splitlines()[-1])

    def size(self, path: str, cookie: str) -> int:
        """Bytes of one answer as they go over the wire."""
        wire = http.client.HTTPConnection("localhost", self.port, timeout=20)
        wire.request("GET", path, headers={"Accept-Encoding": "gzip", "Cookie": cookie})
        length = len(wire.getresponse().read())
        wire.close()
        return length

    def stop(self) -> None:
        self.child.terminate()
        self.child.wait(timeout=20)


WHO = """
import json
from fleet.models import Person
from maintenance.models import JobCard
from maintenance.enums import OPEN_STATES
from readiness.demo.build import demo_sign_in
who = next(p for p in Person.objects.order_by("code") if p.is_mechanic and JobCard.objects.filter(taken_by=p, state__in=OPEN_STATES).exists())
card = JobCard.objects.filter(taken_by=who, state__in=OPEN_STATES).first()
print(json.dumps([who.username, demo_sign_in(who)[0], card.pk]))
"""
DONE = """
import json
from maintenance.models import JobPhoto, WorkLog
mine = lambda rows: len(set(rows)) if len(set(rows)) == len(rows) else -1
print(json.dumps([mine([n for n in WorkLog.objects.values_list("note", flat=True) if n.startswith("n") and n[1:].isdigit()]),
    mine([n for n in JobPhoto.objects.values_list("photo__shows", flat=True) if n.startswith("n") and n[1:].isdigit()])]))
"""
SHELL = """
import json
from fleet.models import Person
from maintenance.phone.manifest import pages_of, shell
told = pages_of(Person.objects.get(username="{who}"))
print(json.dumps([shell()[1], list(told["pages"]), told["pictures"]]))
"""


def opened(page: Any, address: str) -> float:
    """Median milliseconds until the page can be used, over all rounds."""
    times = []
    for _ in range(ROUNDS):
        page.goto(address, wait_until="load")
        times.append(page.evaluate(OPEN))
    return statistics.median(times)


def until(page: Any, ask: str, seconds: float) -> None:
    end = time.monotonic() + seconds
    while not page.evaluate(ask):
        if time.monotonic() > end:
            raise SystemExit(f"never came true: {ask}")
        page.wait_for_timeout(200)


def measure(museum: Museum, browser: Any, acts: int, photographs: int) -> dict[str, Any]:
    name, password, card = museum.ask(WHO)
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(f"{museum.url}/sign-in/")
    page.fill("[name=username]", name)
    page.fill("[name=password]", password)
    page.press("[name=password]", "Enter")
    page.wait_for_url(lambda url: "/sign-in/" not in url)
    path = f"/jobs/{card}/"
    page.goto(museum.url + path)
    until(page, READY, 60)
    figures: dict[str, Any] = {}
    for what, where in (("job list", "/jobs/mine/"), ("job card", path)):
        server = opened(page, museum.url + where)
        context.set_offline(True)
        own = opened(page, museum.url + where)
        context.set_offline(False)
        figures[what] = {
            "from the phone": round(own),
            "from the server": round(server),
            "ratio": round(own / server, 2),
        }
    shell, pages, pictures = museum.ask(SHELL.format(who=name))
    cookie = "; ".join(f"{one['name']}={one['value']}" for one in context.cookies())
    sizes = [sum(museum.size(one, cookie) for one in group) for group in (shell, pages, pictures)]
    figures["loads"] = {
        "shell, KB": round(sizes[0] / 1024), "pages, KB": round(sizes[1] / 1024), "pages": len(pages),
        "pictures, KB": round(sizes[2] / 1024), "first time, KB": round(sum(sizes) / 1024), "each day after, KB": round(sizes[1] / 1024),
    }  # fmt: skip
    context.set_offline(True)
    weight = page.evaluate(FILL, [acts, photographs, path])
    context.set_offline(False)
    begun = time.monotonic()
    page.evaluate("() => { Outbox.drain(); }")
    until(page, "() => Outbox.all().then((rows) => rows.every((row) => row.state === 'refused'))", SECONDS)
    took = time.monotonic() - begun
    figures["queue"] = {
        "acts": acts, "photographs": photographs, "MB": round(weight / 1e6, 1), "seconds": round(took, 1),
        "not taken": page.evaluate("() => Outbox.all().then((rows) => rows.length)"), "in the tables, each once": museum.ask(DONE),
    }  # fmt: skip
    context.close()
    return figures


def main(acts: int, photographs: int) -> None:
    program = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if program is None:
        raise SystemExit("NOT RUN: chromium is not installed: apt-get install chromium")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        museum = Museum(Path(folder))
        try:
            browser = driver.chromium.launch(
                executable_path=program, args=["--no-sandbox"] if os.geteuid() == 0 else []
            )
            figures = measure(museum, browser, acts, photographs)
            browser.close()
        finally:
            museum.stop()
    print(json.dumps(figures, indent=1))
    queue = figures["queue"]
    if queue["not taken"] or queue["in the tables, each once"] != [acts - photographs, photographs]:
        raise SystemExit("The queue was not taken whole and once.")


if __name__ == "__main__":
    given = [int(one) for one in sys.argv[1:]]
    main(*(given or [200, 50]))
