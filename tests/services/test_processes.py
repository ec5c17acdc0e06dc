"""The processes that a museum runs, started for real by the commands that the documents give."""

import contextlib
import json
import os
import re
import shlex
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

from tests.plugins import servers
from tests.plugins.services import not_run
from tests.services.house import ROOT, House, get, prod, wait_for_fit

pytestmark = pytest.mark.services

FIT = dict.fromkeys(["database", "migrations", "queue", "disk", "worker"], "fit")
QUEUE_GONE = "The queue does not answer; what people enter is kept and worked off later."
SEND = "from config.celery import pulse; pulse.delay({note!r})"


def compose() -> dict[str, dict[str, object]]:
    services: dict[str, dict[str, object]] = yaml.safe_load((ROOT / "docker-compose.yml").read_text())[
        "services"
    ]
    return services


def here(command: str) -> list[str]:
    """The same command with this environment's programs."""
    words = shlex.split(command)
    return [sys.executable, *words[1:]] if words[0] == "python" else [sys.executable, "-m", *words]


def wait_for_note(house: House, note: str, within: float = 20.0) -> float:
    """Seconds until the worker left the note in the pulse file."""
    begun = time.monotonic()
    pulse = house.data / "pulse"
    servers.wait_until(lambda: pulse.exists() and note in pulse.read_text(), f"note {note}", within)
    return time.monotonic() - begun


@contextlib.contextmanager
def server(postgres: servers.Postgres, redis_url: str, folder: Path) -> Iterator[tuple[House, str]]:
    """Web, worker and clock as in docker-compose.yml, on a real PostgreSQL and a real Redis."""
    port = servers.free_port()
    house = prod(
        folder,
        DATABASE_URL=postgres.make("processes"),
        REDIS_URL=redis_url,
        STATIC_ROOT=str(folder / "static"),
        HOST="127.0.0.1",
        PORT=str(port),
        BEHIND_PROXY="true",
    )
    house.manage("collectstatic", "--noinput", "--verbosity", "0")
    services = compose()
    with contextlib.ExitStack() as stack:
        for name in ("migrate", "web", "worker", "beat"):
            command = here(str(services[name]["command"]))
            if name == "migrate":
                subprocess.run(command, cwd=ROOT, env=house.env, check=True, capture_output=True, timeout=120)
                continue
            stack.enter_context(servers.running(command, log=folder / f"{name}.log", cwd=ROOT, env=house.env))
        yield house, f"http://127.0.0.1:{port}"


def test_the_compose_commands_run_a_museum_through_a_queue_that_goes_away(
    postgres: servers.Postgres, tmp_path: Path
) -> None:
    port = servers.free_port()
    with contextlib.ExitStack() as stack:
        first = stack.enter_context(contextlib.ExitStack())
        try:
            redis_url = first.enter_context(servers.redis(port))
        except servers.MissingError as missing:
            not_run(missing)
        house, url = stack.enter_context(server(postgres, redis_url, tmp_path))

        assert wait_for_fit(url) == FIT, (tmp_path / "worker.log").read_text()
        assert get(f"{url}/healthz") == (200, "alive\n")
        house.python(SEND.format(note="by-redis"))
        wait_for_note(house, "by-redis")
        assert house.manage("check_ready").splitlines() == [f"{name}: fit" for name in FIT]

        first.close()  # Redis is gone: the pages stay, and readiness says in time what is wrong
        begun = time.monotonic()
        status, body = get(f"{url}/readyz")
        assert status == 503
        assert json.loads(body)["checks"] == {**FIT, "queue": QUEUE_GONE}
        assert time.monotonic() - begun < 5
        assert get(f"{url}/healthz")[0] == 200

        stack.enter_context(
            servers.redis(port)
        )  # and back: the worker takes up work without being started again
        house.python(SEND.format(note="by-redis-again"))
        wait_for_note(house, "by-redis-again", within=60)
        assert wait_for_fit(url) == FIT


@contextlib.contextmanager
def one_machine(
    folder: Path, *words: str, env: dict[str, str] | None = None
) -> Iterator[tuple[subprocess.Popen[bytes], str, Path]]:
    port = servers.free_port()
    house = House(data=folder, extra=env or {})
    command = [sys.executable, "scripts/run.py", "--port", str(port), *words]
    log = folder / "run.log"
    with servers.running(command, log=log, cwd=ROOT, env=house.env) as child:
        yield child, f"http://127.0.0.1:{port}", log


def children_of(parent: int) -> list[int]:
    found = []
    for status in Path("/proc").glob("[0-9]*/status"):
        with contextlib.suppress(OSError):
            if re.search(rf"^PPid:\t{parent}$", status.read_text(), re.MULTILINE):
                found.append(int(status.parent.name))
    return found


def alive(number: int) -> bool:
    with contextlib.suppress(OSError):
        return "\nState:\tZ" not in Path(f"/proc/{number}/status").read_text()
    return False


def test_one_machine_runs_web_worker_and_clock_and_stops_all_of_them(tmp_path: Path) -> None:
    house = House(data=tmp_path)
    with one_machine(tmp_path) as (child, url, log):
        assert wait_for_fit(url) == FIT, log.read_text()
        # Sent by another process, as the web server does it; answered within about a second.
        house.python(SEND.format(note="by-folder"))
        assert wait_for_note(house, "by-folder") < 2.0
        family = children_of(child.pid)
        assert len(family) == 2
        everybody = [*family, *(grandchild for number in family for grandchild in children_of(number))]
        child.send_signal(signal.SIGINT)
        assert child.wait(30) == 0
        assert [number for number in everybody if alive(number)] == []
    assert f"Running Order is open at {url}" in log.read_text()


def test_a_fallen_worker_stops_the_web_server_and_is_told(tmp_path: Path) -> None:
    with one_machine(tmp_path) as (child, url, log):
        assert wait_for_fit(url) == FIT, log.read_text()
        worker = next(
            n for n in children_of(child.pid) if b"celery" in Path(f"/proc/{n}/cmdline").read_bytes()
        )
        os.kill(worker, signal.SIGKILL)
        assert child.wait(40) == 1
        assert get(f"{url}/healthz")[0] == 0
    assert "The background worker ended by itself (exit status -9). Stopping the rest." in log.read_text()


def test_a_taken_port_is_told_before_anything_is_touched(tmp_path: Path) -> None:
    (tmp_path / "first").mkdir()
    with one_machine(tmp_path / "first") as (_, url, log):
        servers.wait_until(lambda: get(f"{url}/healthz")[0] == 200, log.read_text())
        port = url.rpartition(":")[2]
        house = House(data=tmp_path / "second")
        done = subprocess.run(
            [sys.executable, "scripts/run.py", "--port", port],
            cwd=ROOT,
            env=house.env,
            capture_output=True,
            text=True,
            timeout=30,
            check=False,
        )
    assert done.returncode == 1
    assert f"Something else already listens on 127.0.0.1:{port}" in done.stdout
    assert not (tmp_path / "second").exists()
