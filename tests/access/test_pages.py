"""Who may open what: every address by every role, the stranger included, against the table in docs/pages.md.

An address without a row fails, a row without an address fails, and each cell is tried: opening (GET) and acting (POST, with
nothing filled in). `WRITE_PAGES=1` writes the table anew, to be read before it is committed.
"""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from django.contrib.auth import get_user
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import URLPattern

from fleet.models import Act, Person
from readiness.models import Event
from tests.access.routes import routes, sample

pytestmark = pytest.mark.django_db
PAGE = Path(__file__).resolve().parents[2] / "docs" / "pages.md"
CAST = {
    "driver": "isla", "mechanic": "jarek", "lead": "wilmot", "coordinator": "odette", "manager": "hamish", "curator": "pru",
    "administrator": "sefa",
}  # fmt: skip
ROLES = [*CAST, "stranger"]
ENDS_THE_SIGN_IN = {"fleet:sign_out"}
HEAD = """# Who may open what

Every address, and who may open it and act on it. *yes* is an answer, *no* a plain refusal, *door* the sign-in page, *-* that the address has no
such use. Each cell is tried by a test, and an address without a row fails the build. Finer rules (whose card, which level of risk) are in
[who may do what](acts.md).

| address | use | driver | mechanic | lead | coordinator | manager | curator | administrator | stranger |
|---|---|---|---|---|---|---|---|---|---|
"""


def read_out(answer: HttpResponse) -> None:
    """Reading a streamed answer to its end closes its file as a server would, and leaves the test its connection."""
    if answer.streaming:
        assert list(answer)


def said(status: int, location: str) -> str:
    if status == 405:
        return "-"
    if status == 401 or (status == 302 and "/sign-in/" in location):
        return "door"
    return "no" if status == 403 else "yes"


def browser(role: str) -> Client:
    client = Client(raise_request_exception=False)
    if role in CAST:
        client.force_login(
            Person.objects.get(username=CAST[role]), backend="django.contrib.auth.backends.ModelBackend"
        )
    return client


def tried(name: str, pattern: URLPattern, use: str) -> list[str]:
    url = sample(name, pattern)
    cells = []
    for role in ROLES:
        with transaction.atomic():
            client = browser(role)
            answer = client.get(url) if use == "open" else client.post(url)
            assert answer.status_code < 500 or name == "readyz", (name, role, use, answer.status_code)
            cells.append(said(answer.status_code, answer.headers.get("Location", "")))
            read_out(answer)
            transaction.set_rollback(True)
    return cells


def table() -> dict[tuple[str, str], list[str]]:
    rows = re.findall(r"^\| `([\w:]+)` \| (open|act) \| (.*) \|$", PAGE.read_text(), flags=re.MULTILINE)
    return {(name, use): cells.split(" | ") for name, use, cells in rows}


def test_every_cell(demo: Event) -> None:
    found = {
        (name, use): tried(name, pattern, use)
        for name, pattern in sorted(routes(), key=lambda r: r[0])
        for use in ("open", "act")
    }
    if os.environ.get("WRITE_PAGES"):
        PAGE.write_text(HEAD + "".join(f"| `{n}` | {u} | {' | '.join(c)} |\n" for (n, u), c in found.items()))
    kept = table()
    assert sorted(found) == sorted(kept)
    assert {k: c for k, c in found.items() if c != kept[k]} == {}


def test_the_stranger_opens_nothing_but_the_door_and_the_slip() -> None:
    doors = {
        "fleet:first", "fleet:forgot", "fleet:lamp", "fleet:reset", "fleet:sign_in", "healthz", "readyz", "maintenance:slip",
        "maintenance:service_worker", "maintenance:web_manifest", "maintenance:kept", "maintenance:phone_token", "fleet:new_password",
    }  # fmt: skip
    for (name, use), cells in table().items():
        if name not in doors:
            assert cells[-1] in {"door", "-"}, (name, use, cells[-1])


def test_opening_never_writes(demo: Event) -> None:
    before = Act.objects.count()
    client = browser("lead")
    for name, pattern in routes():
        if name not in ENDS_THE_SIGN_IN:
            read_out(client.get(sample(name, pattern)))
    assert Act.objects.count() == before
    assert get_user(client).is_authenticated  # type: ignore[arg-type]


def test_the_admin_site_is_for_the_administrator_alone(demo: Event) -> None:
    assert browser("administrator").get("/admin/").status_code == 200
    for role in ROLES[:-2]:
        assert browser(role).get("/admin/").status_code in {302, 403}, role
