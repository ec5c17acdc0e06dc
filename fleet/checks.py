"""Looked at on start: what would lose or bend the record later."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import connections

SAFE_WAL = (3, 51, 3)
GUARDS = {
    "sqlite": "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND name IN ('fleet_act_no_update', 'fleet_act_no_delete')",
    "postgresql": "SELECT count(*) * 2 FROM pg_trigger WHERE tgname = 'fleet_act_no_change' AND tgenabled <> 'D'",
}


def wal_messages(init_command: str, version: tuple[int, ...]) -> list[CheckMessage]:
    """SQLite's write-ahead log can lose pages with two writers below 3.51.3 (SQLite release notes)."""
    if "journal_mode=wal" in init_command.lower().replace(" ", "") and version < SAFE_WAL:
        return [
            Error(
                "The database is set to a write-ahead log, which this version of SQLite can damage.",
                hint="Keep journal_mode=DELETE, or use SQLite 3.51.3 or newer.",
                id="fleet.E001",
            )
        ]
    return []


@register(Tags.compatibility)
def check_journal(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    database: dict[str, Any] = settings.DATABASES["default"]
    options = database.get("OPTIONS", {})
    return wal_messages(str(options.get("init_command", "")), sqlite3.sqlite_version_info)


@register(Tags.compatibility)
def check_site_address(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """Printed codes and mails carry this address; without a scheme they open nothing."""
    if settings.SITE_ADDRESS.startswith(("http://", "https://")):
        return []
    return [
        Error(
            "SITE_ADDRESS must begin with http:// or https://.", hint=settings.SITE_ADDRESS, id="fleet.E002"
        )
    ]


@register(Tags.database)
def check_act_book(
    app_configs: Any, databases: Sequence[str] | None = None, **kwargs: Any
) -> list[CheckMessage]:
    """The act book must be guarded by the database itself (migration 0003)."""
    found: list[CheckMessage] = []
    for alias in databases or []:
        connection = connections[alias]
        if connection.vendor not in GUARDS or "fleet_act" not in connection.introspection.table_names():
            continue
        with connection.cursor() as cursor:
            cursor.execute(GUARDS[connection.vendor])
            row = cursor.fetchone()
        if row is None or row[0] < 2:
            found.append(
                Warning(
                    "The act book is not guarded: the database would let a line be changed.",
                    hint="Run migrate fleet 0002, then migrate.",
                    id="fleet.W003",
                )
            )
    return found
