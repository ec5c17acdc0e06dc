"""A phone in somebody's hand, with its worker, its store and its signal; the job is the brake job of the phone tests."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.conf import settings
from django.core.signals import request_finished, request_started

from fleet.models import Person
from maintenance.models import JobCard
from maintenance.services import bench, cards
from tests.maintenance.offline.wire import Wire
from tests.maintenance.phone.conftest import job, phone, picture, ready
from tests.maintenance.phone.test_in_the_browser import session_of

__all__ = ["job", "phone", "picture", "ready"]
ALL = "() => Outbox.all().then(rows => rows.map(({files, secrets, ...row}) => ({...row, photos: files.length})))"


class Phone:
    """One browser context: its own cookies, its own store, its own worker."""

    def __init__(self, context: Any, address: str) -> None:
        self.context, self.address = context, address
        self.troubles: list[str] = []
        self.page = self.tab()

    def tab(self) -> Any:
        page = self.context.new_page()
        page.on("pageerror", lambda trouble: self.troubles.append(str(trouble)))
        page.on(
            "console",
            lambda line: self.troubles.append(line.text) if "Content Security Policy" in line.text else None,
        )
        return page

    def sign_in(self, person: Person) -> None:
        self.context.add_cookies(
            [{"name": settings.SESSION_COOKIE_NAME, "value": session_of(person), "url": self.address}]
        )

    def sign_in_by_hand(self, person: Person, password: str) -> None:
        self.open("/sign-in/")
        self.page.fill("[name=username]", person.username)
        self.page.fill("[name=password]", password)
        self.page.press("[name=password]", "Enter")
        self.page.wait_for_url(lambda url: "/sign-in/" not in url)

    def open(self, path: str) -> None:
        self.page.goto(self.address + path, wait_until="load")
        self.page.wait_for_function("() => window.Outbox")

    def ready(self) -> None:
        """Wait until the worker has laid down this person's pages."""
        self.until(
            """async () => {
              if (!navigator.serviceWorker.controller) return false;
              const names = (await caches.keys()).filter(name => name.startsWith('pages-'));
              for (const name of names) if (await (await caches.open(name)).match('/phone/marks/')) return true;
              return false;
            }"""
        )

    def until(self, ask: str, given: Any = None, seconds: float = 20) -> None:
        """Until the page answers yes. A promise is waited for, which Playwright's own waiting does not do."""
        end = time.monotonic() + seconds
        while not self.page.evaluate(ask, given):
            assert time.monotonic() < end, f"never came true: {ask}"
            self.page.wait_for_timeout(60)

    def signal(self, there: bool) -> None:
        self.context.set_offline(not there)

    def rows(self) -> list[dict[str, Any]]:
        return self.page.evaluate(ALL)

    def kept(self, count: int) -> list[dict[str, Any]]:
        """The entries, once there are so many of them."""
        self.until("(count) => Outbox.all().then(rows => rows.length === count)", count)
        return self.rows()

    def sent(self) -> None:
        self.kept(0)

    def strip(self) -> str:
        return self.page.locator("[data-sending]").inner_text()


@pytest.fixture
def at_rest() -> Iterator[None]:
    """Ends when the server has answered all that phones asked in the background, so that no answer meets an emptied table."""
    begun, ended = [], []

    def begin(**_: Any) -> None:
        begun.append(1)

    def end(**_: Any) -> None:
        ended.append(1)

    request_started.connect(begin)
    request_finished.connect(end)
    yield
    last, quiet, until = -1, 0, time.monotonic() + 10
    while quiet < 4 and time.monotonic() < until:
        quiet = quiet + 1 if len(begun) == last == len(ended) else 0
        last = len(begun)
        time.sleep(0.05)
    request_started.disconnect(begin)
    request_finished.disconnect(end)


@pytest.fixture
def phones(chromium: Any, live_server: Any, at_rest: None) -> Iterator[Callable[..., Phone]]:
    made: list[Phone] = []

    def make(address: str = "", **words: Any) -> Phone:
        context = chromium.new_context(viewport={"width": 390, "height": 844}, locale="en-GB", **words)
        made.append(Phone(context, address or live_server.url))
        return made[-1]

    yield make
    for one in made:
        one.context.close()
    assert [one.troubles for one in made] == [[] for _ in made]


@pytest.fixture
def wire(live_server: Any) -> Iterator[Wire]:
    one = Wire(live_server.url)
    yield one
    one.stop()


@pytest.fixture
def mine(job: JobCard, mechanic: Person) -> JobCard:
    cards.card_take(card=job, by=mechanic)
    bench.cautions_read(card=job, by=mechanic)
    return JobCard.objects.get(pk=job.pk)


@pytest.fixture
def at_the_vehicle(phones: Callable[..., Phone], mine: JobCard, mechanic: Person, wire: Wire) -> Phone:
    """The mechanic's phone, the card open, its pages kept."""
    one = phones(wire.url)
    one.sign_in(mechanic)
    one.open(f"/jobs/{mine.pk}/")
    one.ready()
    return one
