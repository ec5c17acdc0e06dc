"""Start the real things that tests drive: PostgreSQL, Redis. Each on a free loopback port, in a scratch folder.

Also a command, for a whole run of the tests on PostgreSQL:

    python -m tests.plugins.servers postgres -- pytest --database-only
"""

from __future__ import annotations

import contextlib
import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

START_WITHIN = 30.0
DEBIAN_POSTGRES = Path("/usr/lib/postgresql")


class MissingError(Exception):
    """A program that is not on this machine, and the Debian package that has it."""

    def __init__(self, program: str, package: str) -> None:
        super().__init__(f"{program} is not installed: apt-get install {package}")
        self.program, self.package = program, package


def find_program(*names: str, package: str, folders: Sequence[Path] = ()) -> Path:
    for name in names:
        found = shutil.which(name)
        if found:
            return Path(found)
        for folder in folders:
            if (folder / name).is_file():
                return folder / name
    raise MissingError(names[0], package)


def postgres_program(name: str) -> Path:
    """Debian keeps the server's programs out of the way, by version; the newest is taken."""
    folders = sorted(DEBIAN_POSTGRES.glob("*/bin"), key=lambda path: int(path.parent.name), reverse=True)
    return find_program(name, package="postgresql", folders=folders)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port


def wait_until(ready: Callable[[], bool], what: str, within: float = START_WITHIN) -> None:
    deadline = time.monotonic() + within
    while time.monotonic() < deadline:
        if ready():
            return
        time.sleep(0.05)
    raise TimeoutError(f"{what} was not ready within {within:.0f} s")


def port_answers(port: int) -> bool:
    with socket.socket() as probe:
        probe.settimeout(0.5)
        return probe.connect_ex(("127.0.0.1", port)) == 0


@contextlib.contextmanager
def running(
    command: Sequence[str | Path], *, log: Path, stop: signal.Signals = signal.SIGTERM, **options: object
) -> Iterator[subprocess.Popen[bytes]]:
    """A child process for the length of the block, ended by its own number."""
    with log.open("ab") as written:
        child = subprocess.Popen(
            [str(word) for word in command],
            stdout=written,
            stderr=written,
            stdin=subprocess.DEVNULL,
            **options,
        )  # type: ignore[call-overload]
    try:
        yield child
    finally:
        if child.poll() is None:
            child.send_signal(stop)
        try:
            child.wait(20)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()


@dataclass(frozen=True, slots=True, kw_only=True)
class Postgres:
    port: int
    user: str

    def url(self, name: str = "postgres") -> str:
        return f"postgresql://{self.user}@127.0.0.1:{self.port}/{name}"

    def make(self, name: str) -> str:
        """A new empty database of this name; its address."""
        import psycopg
        from psycopg import sql

        with psycopg.connect(self.url(), autocommit=True) as link:
            link.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(name)))
            link.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        return self.url(name)


@contextlib.contextmanager
def postgres() -> Iterator[Postgres]:
    initdb, server = postgres_program("initdb"), postgres_program("postgres")
    # The link in PATH may be an alias; the server looks for its share files beside the real program.
    initdb, server = initdb.resolve(), server.resolve()
    as_user: dict[str, object] = {}
    if os.geteuid() == 0:  # PostgreSQL refuses to run as root
        owner = _unprivileged()
        as_user = {"user": owner.pw_uid, "group": owner.pw_gid, "extra_groups": []}
    scratch = Path(tempfile.mkdtemp(prefix="running-order-postgres-"))
    try:
        if as_user:
            os.chown(scratch, int(str(as_user["user"])), int(str(as_user["group"])))
        data = scratch / "data"
        words = ["--auth=trust", "--username=museum", "--encoding=UTF8", "--locale=C.UTF-8", "--no-sync"]
        subprocess.run([initdb, "-D", data, *words], check=True, capture_output=True, cwd=scratch, **as_user)  # type: ignore[call-overload]
        port = free_port()
        options = [
            "-c",
            "listen_addresses=127.0.0.1",
            "-c",
            f"unix_socket_directories={scratch}",
            "-c",
            "fsync=off",
            "-c",
            "max_connections=60",
        ]
        command = [server, "-D", data, "-p", str(port), *options]
        # SIGINT is PostgreSQL's fast stop: it does not wait for connections that a failed test left open.
        with running(command, log=scratch / "log", stop=signal.SIGINT, cwd=scratch, **as_user):
            found = Postgres(port=port, user="museum")
            wait_until(lambda: _postgres_ready(found), "PostgreSQL")
            yield found
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def _postgres_ready(server: Postgres) -> bool:
    import psycopg

    try:
        psycopg.connect(server.url(), connect_timeout=1).close()
    except psycopg.OperationalError:
        return False
    return True


def _unprivileged() -> pwd.struct_passwd:
    for name in ("postgres", "nobody"):
        with contextlib.suppress(KeyError):
            return pwd.getpwnam(name)
    raise MissingError("an unprivileged user", "postgresql")


@contextlib.contextmanager
def redis(port: int | None = None) -> Iterator[str]:
    program = find_program("redis-server", package="redis-server")
    scratch = Path(tempfile.mkdtemp(prefix="running-order-redis-"))
    port = port or free_port()
    try:
        command = [
            program,
            "--port",
            str(port),
            "--bind",
            "127.0.0.1",
            "--save",
            "",
            "--dir",
            scratch,
            "--daemonize",
            "no",
        ]
        with running(command, log=scratch / "log"):
            wait_until(lambda: port_answers(port), "Redis")
            yield f"redis://127.0.0.1:{port}/0"
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def main(words: Sequence[str]) -> int:
    if len(words) < 3 or words[0] != "postgres" or words[1] != "--":
        sys.stderr.write("Write: python -m tests.plugins.servers postgres -- COMMAND ...\n")
        return 2
    try:
        with postgres() as server:
            env = {**os.environ, "DATABASE_URL": server.make("running_order")}
            return subprocess.run([sys.executable, "-m", *words[2:]], env=env, check=False).returncode
    except MissingError as missing:
        sys.stderr.write(f"NOT RUN: everything on PostgreSQL. {missing}\n")
        return 1 if os.environ.get("CI") else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
