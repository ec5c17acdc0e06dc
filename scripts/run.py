#!/usr/bin/env python
"""Run the whole museum on one machine: the web server and the background worker, until Ctrl-C.

Two children, started here and ended here by their own numbers. If one ends by itself the other is stopped too and
the exit status is 1: a board without its worker would go quietly out of date.
"""

from __future__ import annotations

import argparse
import contextlib
import ctypes
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path
from types import FrameType

ROOT = Path(__file__).resolve().parent.parent
READY_WITHIN = 60.0  # seconds; a slow first start compiles every module
STOP_WITHIN = 20.0  # seconds for a task in hand to end before the worker is cut off
PR_SET_PDEATHSIG = 1  # prctl(2)


def say(*lines: str) -> None:
    for line in lines:
        print(line, flush=True)


def end_with_parent() -> None:
    """Ask Linux to end this child should its parent be killed outright; elsewhere nothing is asked."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


def port_is_free(host: str, port: int) -> bool:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError:
            return False
    return True


def address_to_type(host: str, port: int) -> str:
    """What to type on this machine, or on a telephone in the yard when the whole network may look."""
    if host in {"0.0.0.0", "::"}:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            try:
                probe.connect(("192.0.2.1", 9))  # a documentation address: picks the way out, sends nothing
                host = probe.getsockname()[0]
            except OSError:
                host = socket.gethostname()
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


# One task at a time is enough for one museum, and leaves a core for the pages. The embedded queue knows no broadcast.
WORKER = [
    *("celery", "--quiet", "-A", "config", "worker", "--beat", "--concurrency", "1", "--loglevel", "WARNING"),
    *("--without-gossip", "--without-mingle", "--without-heartbeat"),
]


class House:
    """The children and their orderly end."""

    def __init__(self, env: dict[str, str]) -> None:
        self.env = env
        self.children: dict[str, subprocess.Popen[bytes]] = {}
        self.asked_to_stop = False

    def start(self, name: str, *command: str) -> None:
        self.children[name] = subprocess.Popen(
            [sys.executable, "-m", *command],
            cwd=ROOT,
            env=self.env,
            stdin=subprocess.DEVNULL,
            start_new_session=True,  # Ctrl-C reaches only this process, which then ends them in order
            preexec_fn=end_with_parent,  # noqa: PLW1509  # this process has no threads
        )

    def ask_to_stop(self, number: int, frame: FrameType | None) -> None:
        self.asked_to_stop = True

    def fallen(self) -> str | None:
        for name, child in self.children.items():
            if child.poll() is not None:
                return f"{name} ended by itself (exit status {child.returncode})"
        return None

    def stop(self) -> None:
        for child in self.children.values():
            if child.poll() is None:
                child.terminate()
        deadline = time.monotonic() + STOP_WITHIN
        for name, child in self.children.items():
            try:
                child.wait(max(0.1, deadline - time.monotonic()))
            except subprocess.TimeoutExpired:
                say(f"{name} did not end in {STOP_WITHIN:.0f} s and is cut off.")
            # The group has the child's own number: whatever it started goes with it.
            with contextlib.suppress(ProcessLookupError):
                os.killpg(child.pid, signal.SIGKILL)
            child.wait()


def answers(url: str) -> bool:
    try:
        with urllib.request.urlopen(url, timeout=2) as response:
            return response.status == 200
    except (urllib.error.URLError, OSError):
        return False


def manage(env: dict[str, str], *words: str) -> str:
    done = subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env=env,
        stdout=subprocess.PIPE,
        text=True,
        check=False,
    )
    if done.returncode:
        say(done.stdout.rstrip(), f"manage.py {words[0]} failed; nothing was started.")
        raise SystemExit(1)
    return done.stdout.rstrip()


def settings_of(options: argparse.Namespace) -> dict[str, str]:
    env = dict(os.environ)
    env.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.dev")
    env["HOST"], env["PORT"] = options.host, str(options.port)
    if not env.get("SITE_ADDRESS"):
        env["SITE_ADDRESS"] = address_to_type(options.host, options.port)
    if options.demo and not env.get("DATA_DIR"):
        env["DATA_DIR"] = str(
            ROOT / "data" / "demo"
        )  # invented vehicles never share a file with a museum's own
    # Two processes of two threads would fight over two cores in the numeric libraries.
    env.setdefault("OMP_NUM_THREADS", "1")
    env.setdefault("OPENBLAS_NUM_THREADS", "1")
    # Celery warns about root at length; a container or a fresh machine often has nobody else.
    env.setdefault("PYTHONWARNINGS", "ignore:You're running the worker with superuser privileges")
    return env


def read_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Run the web server and the background worker until Ctrl-C.")
    parser.add_argument("--demo", action="store_true", help="with an invented museum, kept in data/demo")
    parser.add_argument("--host", default=os.environ.get("HOST") or "127.0.0.1")
    parser.add_argument("--port", type=int, default=int(os.environ.get("PORT") or 8000))
    return parser.parse_args()


def main() -> int:
    options = read_options()
    env = settings_of(options)
    if not port_is_free(options.host, options.port):
        say(
            f"Something else already listens on {options.host}:{options.port}. Stop it, or choose another port:",
            f"    make {'demo' if options.demo else 'run'} PORT={options.port + 10}",
        )
        return 1
    house = House(env)
    signal.signal(signal.SIGINT, house.ask_to_stop)
    signal.signal(signal.SIGTERM, house.ask_to_stop)

    say("Preparing the database ...")
    manage(env, "migrate", "--noinput", "--verbosity", "0")
    sign_ins = ""
    if options.demo:
        say("Laying out the demonstration museum (kept if it is there already) ...")
        sign_ins = manage(env, "demo")
    if house.asked_to_stop:
        return 0

    bind = f"[{options.host}]:{options.port}" if ":" in options.host else f"{options.host}:{options.port}"
    house.start(
        "The web server", "gunicorn", "config.wsgi", "--config", "deploy/gunicorn.conf.py", "--bind", bind
    )
    house.start("The background worker", *WORKER)
    try:
        return watch(house, env, sign_ins)
    finally:
        house.stop()


def watch(house: House, env: dict[str, str], sign_ins: str) -> int:
    local = address_to_type(
        "127.0.0.1" if env["HOST"] in {"0.0.0.0", "::"} else env["HOST"], int(env["PORT"])
    )
    deadline = time.monotonic() + READY_WITHIN
    while not (ready := answers(f"{local}/healthz")) and time.monotonic() < deadline:
        if house.asked_to_stop or house.fallen():
            break
        time.sleep(0.1)
    if ready:
        if sign_ins:
            say("", sign_ins)
        say(
            "",
            f"Running Order is open at {env['SITE_ADDRESS']}",
            "Stop it with Ctrl-C. What was entered is kept.",
        )
    elif not house.asked_to_stop and not house.fallen():
        say(f"The web server did not answer within {READY_WITHIN:.0f} s. Stopping.")
        return 1
    while not house.asked_to_stop:
        if fallen := house.fallen():
            say(f"{fallen}. Stopping the rest.")
            return 1
        time.sleep(0.2)
    say("Stopping ...")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
