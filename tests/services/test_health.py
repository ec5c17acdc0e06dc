"""The health pages, check by check: each one must be able to say no."""

import json
from collections import namedtuple
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError, connection
from django.db.migrations.recorder import MigrationRecorder
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory

from config import celery
from fleet.proxy import CallerAddressMiddleware
from fleet.views import health

NOW = datetime(2026, 5, 2, 9, 0, tzinfo=UTC)


@pytest.fixture
def pulse(tmp_path: Path, settings: Any) -> Path:
    settings.PULSE_FILE = tmp_path / "pulse"
    return tmp_path / "pulse"


def no_database(*args: Any, **kwargs: Any) -> Any:
    raise OperationalError("gone")


def test_alive_needs_no_database_no_host_name_and_no_sign_in(
    monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    settings.ALLOWED_HOSTS = ["board.example.org"]
    monkeypatch.setattr(connection, "cursor", no_database)
    answer = Client().get("/healthz", headers={"host": "10.0.0.7:8000"})
    assert (answer.status_code, answer.content) == (200, b"alive\n")
    assert answer["Cache-Control"] == "no-store"


@pytest.mark.django_db
def test_ready_when_all_five_are_fit(pulse: Path) -> None:
    pulse.write_text(datetime.now(UTC).isoformat() + " \n")
    answer = Client().get("/readyz")
    assert (answer.status_code, json.loads(answer.content)) == (
        200,
        {"fit": True, "checks": dict.fromkeys(["database", "migrations", "queue", "disk", "worker"], "fit")},
    )


@pytest.mark.django_db
def test_not_ready_without_a_database(pulse: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connection, "cursor", no_database)
    answer = Client().get("/readyz")
    assert answer.status_code == 503
    found = json.loads(answer.content)["checks"]
    assert found["database"] == found["migrations"] == "The database does not answer."


@pytest.mark.django_db
def test_not_ready_while_a_migration_waits() -> None:
    assert health.migrations() == "fit"
    last = MigrationRecorder(connection).migration_qs.filter(app="readiness").order_by("-name").first()
    assert last is not None
    last.delete()
    assert health.migrations() == "1 database changes are not applied. Run manage.py migrate."


@pytest.mark.parametrize(
    ("age", "words"),
    [
        (timedelta(seconds=health.PULSE_WITHIN_S), "fit"),
        (
            timedelta(seconds=health.PULSE_WITHIN_S + 1),
            "The background worker was last seen 3 minutes ago. Start it again.",
        ),
        (timedelta(hours=2), "The background worker was last seen 120 minutes ago. Start it again."),
    ],
)
def test_the_worker_by_its_last_sign_of_life(pulse: Path, age: timedelta, words: str) -> None:
    pulse.write_text((NOW - age).isoformat() + " a note\n")
    assert health.worker(now=NOW) == words


@pytest.mark.parametrize("content", [None, "", "not a time\n"])
def test_a_worker_that_was_never_seen(pulse: Path, content: str | None) -> None:
    if content is not None:
        pulse.write_text(content)
    assert health.worker(now=NOW).startswith("The background worker has not been seen yet.")


def test_a_full_disk(tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.MEDIA_ROOT = tmp_path / "not" / "yet" / "there"
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(
        "shutil.disk_usage", lambda path: usage(10**10, 0, 200 * 2**20) if path == tmp_path else None
    )
    assert health.disk() == "fit"
    monkeypatch.setattr("shutil.disk_usage", lambda path: usage(10**10, 0, 200 * 2**20 - 1))
    assert health.disk() == "Only 199 MiB are free where photographs are kept; 200 are wanted."


def test_a_queue_that_cannot_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from celery import current_app

    in_the_way = tmp_path / "a-file"
    in_the_way.write_text("")
    assert health.queue() == "fit"
    monkeypatch.setitem(current_app.conf.broker_transport_options, "folder", str(in_the_way))
    assert health.queue() == "The queue does not answer; what people enter is kept and worked off later."


def test_the_pulse_is_what_the_worker_leaves(pulse: Path) -> None:
    celery.pulse("a-note")
    assert health.worker(now=datetime.now(UTC)) == "fit"
    assert pulse.read_text().endswith(" a-note\n")
    celery.first_pulse()  # a worker that has just started shows life at once
    assert pulse.read_text().endswith(" \n")
    assert [path.name for path in pulse.parent.iterdir()] == ["pulse"]


@pytest.mark.django_db
def test_the_command_says_the_same_and_fails_when_something_is_not_fit(
    pulse: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("check_ready", "database", "disk")
    assert capsys.readouterr().out == "database: fit\ndisk: fit\n"
    with pytest.raises(CommandError, match="Not fit"):
        call_command("check_ready")
    with pytest.raises(CommandError, match="There is no check weather"):
        call_command("check_ready", "weather")


@pytest.mark.parametrize(
    ("proxies", "header", "address"),
    [
        (0, "203.0.113.9", "127.0.0.1"),  # nobody stands in front: the header is the caller's own claim
        (1, "203.0.113.9", "203.0.113.9"),
        (1, "198.51.100.1, 203.0.113.9", "203.0.113.9"),  # what stands left was written by the caller
        (2, "198.51.100.1, 203.0.113.9, 192.0.2.4", "203.0.113.9"),
        (2, "203.0.113.9", "127.0.0.1"),  # one proxy too few: not through our door
        (1, "", "127.0.0.1"),
    ],
)
def test_whose_address_is_believed(proxies: int, header: str, address: str, settings: Any) -> None:
    settings.PROXIES = proxies
    seen: list[str] = []

    def view(request: HttpRequest) -> HttpResponse:
        seen.append(request.META["REMOTE_ADDR"])
        return HttpResponse()

    CallerAddressMiddleware(view)(RequestFactory().get("/", headers={"x-forwarded-for": header}))
    assert seen == [address]
