"""Fixtures for the real things, and a plain word where one is missing: NOT RUN, with what to install.

With CI set a missing thing is a failure: there, a test that did not run is a test that did not pass.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from email.message import EmailMessage
from email.parser import BytesParser
from email.policy import default as modern
from pathlib import Path
from typing import Any, TypeVar

import pytest

from tests.plugins import servers

T = TypeVar("T")
NOT_RUN = "NOT RUN: "
DATABASE_FIXTURES = {
    "db",
    "transactional_db",
    "live_server",
    "django_db_reset_sequences",
    "django_db_serialized_rollback",
}
CHROMIUM_FLAGS = [
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def not_run(missing: servers.MissingError) -> None:
    if os.environ.get("CI"):
        pytest.fail(f"{NOT_RUN}{missing}", pytrace=False)
    pytest.skip(f"{NOT_RUN}{missing}")


def _held(what: contextlib.AbstractContextManager[T]) -> Iterator[T]:
    with contextlib.ExitStack() as stack:
        try:
            found = stack.enter_context(what)
        except servers.MissingError as missing:
            not_run(missing)
        yield found


@pytest.fixture(scope="session")
def postgres() -> Iterator[servers.Postgres]:
    """A real PostgreSQL of its own; `postgres.make(name)` gives the address of a new empty database."""
    yield from _held(servers.postgres())


@pytest.fixture(scope="session")
def redis_url() -> Iterator[str]:
    """A real Redis of its own."""
    yield from _held(servers.redis())


class MailSink:
    """A mail server that keeps what it is given, in order."""

    def __init__(self) -> None:
        self.port = servers.free_port()
        self.messages: list[EmailMessage] = []

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        message = BytesParser(policy=modern).parsebytes(envelope.content)
        assert isinstance(message, EmailMessage)
        message["X-Envelope-To"] = ", ".join(envelope.rcpt_tos)
        self.messages.append(message)
        return "250 kept"


@pytest.fixture(scope="session")
def _mail_server() -> Iterator[MailSink]:
    from aiosmtpd.controller import Controller

    sink = MailSink()
    controller = Controller(sink, hostname="127.0.0.1", port=sink.port)
    controller.start()
    yield sink
    controller.stop()


@pytest.fixture
def mail_sink(_mail_server: MailSink) -> MailSink:
    """A real SMTP server on loopback, emptied for each test; see `.port` and `.messages`."""
    _mail_server.messages.clear()
    return _mail_server


@pytest.fixture(scope="session")
def chromium_path() -> Path:
    try:
        return servers.find_program("chromium", "chromium-browser", "google-chrome", package="chromium")
    except servers.MissingError as missing:
        not_run(missing)
        raise


@pytest.fixture(scope="session")
def chromium(chromium_path: Path) -> Iterator[Any]:
    """The system's Chromium, driven by Playwright; open a new context for each test."""
    from playwright.sync_api import sync_playwright

    # Playwright's loop runs in this thread, and Django then believes that every query is made inside it.
    before = os.environ.get("DJANGO_ALLOW_ASYNC_UNSAFE")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    flags = [*CHROMIUM_FLAGS, *(["--no-sandbox"] if os.geteuid() == 0 else [])]
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=str(chromium_path), args=flags)
        yield browser
        browser.close()
    if before is None:
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture(scope="session")
def axe_script() -> str:
    """The accessibility checker's script, to be added to a page before `axe.run()`."""
    import axe_playwright_python

    return (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--database-only", action="store_true", help="only the tests that ask a database something"
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if not config.getoption("--database-only"):
        return
    kept = [item for item in items if _asks_database(item)]
    config.hook.pytest_deselected(items=[item for item in items if item not in set(kept)])
    items[:] = kept


def _asks_database(item: pytest.Item) -> bool:
    names = set(getattr(item, "fixturenames", ()))
    return item.get_closest_marker("django_db") is not None or bool(names & DATABASE_FIXTURES)


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Say at the very end what was not run and what to install: a skip deep in the list is easily overlooked."""
    reasons: dict[str, int] = {}
    for report in [
        *terminalreporter.stats.get("skipped", []),
        *terminalreporter.stats.get("failed", []),
        *terminalreporter.stats.get("error", []),
    ]:
        words = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
        if NOT_RUN in words:
            reason = words.partition(NOT_RUN)[2].splitlines()[0]
            reasons[reason] = reasons.get(reason, 0) + 1
    for reason, number in sorted(reasons.items()):
        terminalreporter.write_line(f"{NOT_RUN}{number} tests. {reason}", yellow=True)
