"""A museum in a folder: the database, the photographs, and a manifest with the hash of every file.

A backup appears under its final name only when it is whole and on the disk. A restore reads and checks every byte
before it touches anything.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
import time
from collections.abc import Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.recorder import MigrationRecorder

from fleet.version import version

FORMAT = 1
MANIFEST = "manifest.json"
SEAL = "manifest.sha256"
DATABASE_FILES = {"sqlite": "database.sqlite3", "postgresql": "database.sql"}
CHUNK = 1 << 20
LOCK_WAIT_S = 60.0


class BackupError(Exception):
    """Why a backup was not made or not taken back, in words for whoever stands at the machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What a checked backup holds."""

    made_at: str
    version: str
    database: str
    photographs: int
    bytes: int


def make_backup(folder: Path, *, now: datetime) -> Contents:
    """Write a backup to `folder`, which must not exist yet.

    Raises:
        BackupError: the folder is there already, or a part could not be written; nothing is left behind.
    """
    _stand_outside()
    if folder.exists():
        raise BackupError(
            f"{folder} is there already. A backup is never written over another: name a new folder."
        )
    folder.parent.mkdir(parents=True, exist_ok=True)
    part_written = folder.parent / f".{folder.name}.part-{os.getpid()}"
    part_written.mkdir(mode=0o700)
    try:
        files: dict[str, dict[str, Any]] = {}
        # The database first: every photograph that it names is then on the disk already.
        name = DATABASE_FILES[connection.vendor]
        _dump_database(part_written / name)
        files[name] = _described(part_written / name)
        for path in _media_files():
            relative = f"media/{path.relative_to(settings.MEDIA_ROOT).as_posix()}"
            files[relative] = _copy(path, part_written / relative)
        manifest = {
            "format": FORMAT,
            "made_at": now.isoformat(),
            "version": version(),
            "database": connection.vendor,
            "migrations": sorted(
                f"{app}.{step}" for app, step in MigrationRecorder(connection).applied_migrations()
            ),
            "files": files,
        }
        _seal(part_written, manifest)
        _sync_tree(part_written)
        part_written.rename(folder)
        _sync_folder(folder.parent)
    except OSError as trouble:
        raise BackupError(f"The backup was not made: {trouble}") from trouble
    finally:
        shutil.rmtree(part_written, ignore_errors=True)
    return _contents(manifest)


def check_backup(folder: Path) -> Mapping[str, Any]:
    """Read every byte of a backup against its manifest, and the manifest against its seal.

    Raises:
        BackupError: a file is missing, added or altered, or the manifest is not one of ours.
    """
    try:
        written = (folder / MANIFEST).read_bytes()
        seal = (folder / SEAL).read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError) as trouble:
        raise BackupError(f"{folder} is not a whole backup: {trouble}") from trouble
    if hashlib.sha256(written).hexdigest() != seal:
        raise BackupError(f"{MANIFEST} is not as it was written. Take another backup.")
    manifest: dict[str, Any] = json.loads(written)
    if manifest["format"] != FORMAT:
        raise BackupError(f"This backup has form {manifest['format']}; this program reads form {FORMAT}.")
    there = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if not path.is_dir()}
    wanted = set(manifest["files"])
    if missing := sorted(wanted - there):
        raise BackupError(f"Missing from the backup: {', '.join(missing[:5])}. Take another backup.")
    if added := sorted(there - wanted - {MANIFEST, SEAL}):
        raise BackupError(
            f"Not part of the backup: {', '.join(added[:5])}. Move it away, or take another backup."
        )
    for name, described in manifest["files"].items():
        if _described(_inside(folder, name)) != described:
            raise BackupError(f"{name} is not as it was written. Take another backup.")
    return manifest


def restore_backup(folder: Path, *, replace: bool = False) -> Contents:
    """Check a backup whole, then put its database and photographs in place of what is here.

    Raises:
        BackupError: the backup is damaged, is for the other kind of database, or there is a museum here and `replace`
            was not asked for. Nothing was changed.
    """
    _stand_outside()
    manifest = check_backup(folder)
    if manifest["database"] != connection.vendor:
        raise BackupError(
            f"This backup is of {manifest['database']}, and this museum runs on {connection.vendor}. Nothing was changed."
        )
    if unknown := sorted(set(manifest["migrations"]) - _known_migrations()):
        raise BackupError(
            f"This backup was made by a newer version ({manifest['version']}; {unknown[0]} is not known here). "
            "Install that version first. Nothing was changed."
        )
    if not replace and holds_a_museum():
        raise BackupError("There is a museum here already. Write --replace to put the backup in its place.")
    media = Path(settings.MEDIA_ROOT)
    media.parent.mkdir(parents=True, exist_ok=True)
    fresh = media.parent / f".{media.name}.part-{os.getpid()}"
    try:
        fresh.mkdir(mode=0o750)
        for name in manifest["files"]:
            if name.startswith("media/"):
                _copy(_inside(folder, name), fresh / name.removeprefix("media/"))
        _sync_tree(fresh)
        _load_database(folder / DATABASE_FILES[connection.vendor])
        _swap_folder(fresh, media)
    except OSError as trouble:
        raise BackupError(f"The restore did not finish: {trouble}. Run it again.") from trouble
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    return _contents(manifest)


def holds_a_museum() -> bool:
    """Whether anybody has entered anything: a person, a vehicle or the museum's own row."""
    tables = set(connection.introspection.table_names())
    models = [apps.get_model("fleet", name) for name in ("Person", "Vehicle", "Museum")]
    return any(model._meta.db_table in tables and model._default_manager.exists() for model in models)


def _contents(manifest: Mapping[str, Any]) -> Contents:
    files = manifest["files"]
    return Contents(
        made_at=manifest["made_at"],
        version=manifest["version"],
        database=manifest["database"],
        photographs=sum(name.startswith("media/") for name in files),
        bytes=sum(described["bytes"] for described in files.values()),
    )


def _known_migrations() -> set[str]:
    from django.db.migrations.loader import MigrationLoader

    return {f"{app}.{step}" for app, step in MigrationLoader(None).disk_migrations}


# The two databases


def _stand_outside() -> None:
    if connection.in_atomic_block:
        raise BackupError(
            "A museum is not copied inside a transaction: what is not yet written would be missing."
        )


def _dump_database(target: Path) -> None:
    if connection.vendor == "sqlite":
        connection.ensure_connection()
        with closing(sqlite3.connect(target)) as copy:
            _copy_pages(connection.connection, copy)
        return
    with target.open("wb") as written:
        _run_client(
            ["pg_dump", "--no-owner", "--no-privileges", "--schema=public", "--encoding=UTF8"],
            connection,
            stdout=written,
        )


def _load_database(source: Path) -> None:
    if connection.vendor == "sqlite":
        # Through SQLite itself, not by moving files: it takes the locks, and a cut halfway rolls back.
        connection.ensure_connection()
        with closing(sqlite3.connect(f"{source.as_uri()}?mode=ro", uri=True)) as copy:
            _copy_pages(copy, connection.connection)
        connection.close()
        return
    connection.close()
    words = [
        "psql",
        "--no-psqlrc",
        "--quiet",
        "--set=ON_ERROR_STOP=1",
        "--single-transaction",
        "--output=/dev/null",
    ]
    clear = "--command=DROP SCHEMA IF EXISTS public CASCADE"  # the file makes it anew
    _run_client([*words, clear, f"--file={source}"], connection)


def _copy_pages(source: sqlite3.Connection, target: sqlite3.Connection) -> None:
    """SQLite's online copy; it waits for a writer of its own accord, and for ever, so the wait is ended here."""
    deadline = time.monotonic() + LOCK_WAIT_S

    def still_waiting(status: int, remaining: int, total: int) -> None:
        if time.monotonic() > deadline:
            raise BackupError(
                f"Somebody held the database for {LOCK_WAIT_S:.0f} s. Nothing was changed; try again."
            )

    source.backup(target, progress=still_waiting)


def _run_client(command: list[str], database: BaseDatabaseWrapper, stdout: Any = subprocess.DEVNULL) -> None:
    found = database.settings_dict
    names = {
        "HOST": "PGHOST",
        "PORT": "PGPORT",
        "USER": "PGUSER",
        "PASSWORD": "PGPASSWORD",
        "NAME": "PGDATABASE",
    }
    env = {**os.environ, **{name: str(found[key]) for key, name in names.items() if found[key]}}
    env["PGOPTIONS"] = "-c client_min_messages=warning"
    if shutil.which(command[0]) is None:
        raise BackupError(
            f"{command[0]} is not installed here. Install postgresql-client of the server's version."
        )
    done = subprocess.run(command, env=env, stdout=stdout, stderr=subprocess.PIPE, text=True, check=False)  # noqa: S603
    if done.returncode:
        raise BackupError(f"{command[0]} failed, nothing was changed: {done.stderr.strip()}")


# Files


def _media_files() -> Iterator[Path]:
    root = Path(settings.MEDIA_ROOT)
    return (path for path in sorted(root.rglob("*")) if path.is_file() and not path.is_symlink())


def _inside(folder: Path, name: str) -> Path:
    if PurePosixPath(name).is_absolute() or ".." in PurePosixPath(name).parts:
        raise BackupError(f"{name} points outside the backup.")
    return folder / name


def _described(path: Path) -> dict[str, Any]:
    if path.is_symlink():
        raise BackupError(f"{path.name} is a link, which no backup holds.")
    with path.open("rb") as content:
        digest = hashlib.file_digest(content, "sha256")
    return {"sha256": digest.hexdigest(), "bytes": path.stat().st_size}


def _copy(source: Path, target: Path) -> dict[str, Any]:
    """Copy and hash in one reading, so that the hash is of what was copied."""
    target.parent.mkdir(parents=True, exist_ok=True)
    digest, size = hashlib.sha256(), 0
    with source.open("rb") as read, target.open("wb") as written:
        while chunk := read.read(CHUNK):
            digest.update(chunk)
            size += len(chunk)
            written.write(chunk)
    return {"sha256": digest.hexdigest(), "bytes": size}


def _seal(folder: Path, manifest: Mapping[str, Any]) -> None:
    text = json.dumps(manifest, indent=1, sort_keys=True, ensure_ascii=False).encode()
    (folder / MANIFEST).write_bytes(text)
    (folder / SEAL).write_text(hashlib.sha256(text).hexdigest() + "\n", encoding="ascii")


def _swap_folder(fresh: Path, final: Path) -> None:
    old = final.parent / f".{final.name}.old-{os.getpid()}"
    if final.exists():
        final.rename(old)
    fresh.rename(final)
    _sync_folder(final.parent)
    shutil.rmtree(old, ignore_errors=True)


def _sync_tree(folder: Path) -> None:
    for path in [*folder.rglob("*"), folder]:
        _sync_folder(path)


def _sync_folder(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
