"""Is the process alive, and is the house fit to serve: for the proxy, the container and whoever is called at night."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone

from fleet.http import open_to_all

DISK_FREE_MIB = 200  # about forty photographs and a night's backup of a small museum
PULSE_WITHIN_S = 180  # the clock asks for a pulse twice a minute; six may be missed while a long task runs


class HealthMiddleware:
    """Answers /healthz and /readyz before anything that needs a database or a host name."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        view = {"/healthz": healthz, "/readyz": readyz}.get(request.path_info)
        return view(request) if view else self.get_response(request)


@open_to_all
def healthz(request: HttpRequest) -> HttpResponse:
    return HttpResponse("alive\n", content_type="text/plain", headers={"Cache-Control": "no-store"})


@open_to_all
def readyz(request: HttpRequest) -> HttpResponse:
    found = findings()
    fit = all(words == "fit" for words in found.values())
    return JsonResponse(
        {"fit": fit, "checks": found}, status=200 if fit else 503, headers={"Cache-Control": "no-store"}
    )


def findings() -> dict[str, str]:
    """Each check by name: "fit", or plain words on what is wrong and what to do."""
    return {
        "database": database(),
        "migrations": migrations(),
        "queue": queue(),
        "disk": disk(),
        "worker": worker(now=timezone.now()),
    }


def database() -> str:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            cursor.fetchone()
    except DatabaseError:
        return "The database does not answer."
    return "fit"


def migrations() -> str:
    try:
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return "The database does not answer."
    if waiting:
        return f"{len(waiting)} database changes are not applied. Run manage.py migrate."
    return "fit"


def queue() -> str:
    from celery import current_app

    try:
        with current_app.connection_for_write(connect_timeout=2) as link:
            link.ensure_connection(max_retries=1, interval_start=0, interval_step=0, timeout=2)
            channel: Any = link.default_channel
            channel.queue_declare(current_app.conf.task_default_queue)
    except Exception:  # noqa: BLE001  # whatever the transport raises means the same here
        return "The queue does not answer; what people enter is kept and worked off later."
    return "fit"


def disk() -> str:
    folder = Path(settings.MEDIA_ROOT)
    while not folder.exists():
        folder = folder.parent
    free = shutil.disk_usage(folder).free // 2**20
    if free < DISK_FREE_MIB:
        return f"Only {free} MiB are free where photographs are kept; {DISK_FREE_MIB} are wanted."
    return "fit"


def worker(*, now: datetime) -> str:
    """The background worker's last sign of life, which the clock asks for through the queue."""
    try:
        written = Path(settings.PULSE_FILE).read_text(encoding="utf-8").split()
        age = (now - datetime.fromisoformat(written[0])).total_seconds()
    except (OSError, IndexError, ValueError):
        return "The background worker has not been seen yet. Start the worker and the clock (beat)."
    if age > PULSE_WITHIN_S:
        return f"The background worker was last seen {age / 60:.0f} minutes ago. Start it again."
    return "fit"
