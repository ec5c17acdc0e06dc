"""A backup that was never restored is a hope: each test here restores, or is refused."""

import errno
import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
import time
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from fleet import backup
from fleet.backup import BackupError, check_backup, make_backup, restore_backup
from tests.plugins.servers import Postgres
from tests.services.house import ROOT, House

pytestmark = pytest.mark.services

ENTER = """
from fleet.models import Museum
from django.core.files.storage import default_storage
from django.core.files.base import ContentFile
from fleet.models import Person, Act
Museum.objects.create(name={name!r})
person = Person(username="curator", code="CU", name="Cura Tor"); person.set_unusable_password(); person.save()
Act.objects.create(by=person, by_name="curator", act="made", subject_kind="museum", subject_id="1", subject_label={name!r})
default_storage.save("photos/a.jpg", ContentFile(bytes(range(256)) * 400))
default_storage.save("photos/deep/b.jpg", ContentFile(b"second"))
"""
SEE = """
import hashlib, json
from pathlib import Path
from django.apps import apps
from django.conf import settings
from django.core import serializers
rows = {m._meta.label: serializers.serialize("json", m._default_manager.order_by("pk")) for m in apps.get_models()}
media = {str(p.relative_to(settings.MEDIA_ROOT)): hashlib.sha256(p.read_bytes()).hexdigest()
         for p in Path(settings.MEDIA_ROOT).rglob("*") if p.is_file()}
print(json.dumps([rows, media], sort_keys=True))
"""


@pytest.fixture(params=["sqlite", "postgresql"])
def houses(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[House, House]:
    """A museum with something in it, and a place that has none yet, each with its own database."""
    made = []
    for name in ("shed", "barn"):
        extra = {}
        if request.param == "postgresql":
            server: Postgres = request.getfixturevalue("postgres")
            extra["DATABASE_URL"] = server.make(f"backup_{name}")
        made.append(House(data=tmp_path / name, extra=extra))
    full, empty = made
    full.manage("migrate", "--verbosity", "0")
    full.python(ENTER.format(name="Old Shed Museum"))
    return full, empty


def test_a_restored_museum_is_the_same_in_every_row_and_every_byte(
    houses: tuple[House, House], tmp_path: Path
) -> None:
    full, empty = houses
    said = full.manage("backup", str(tmp_path / "night"))
    assert "2 photographs" in said

    empty.manage("restore", str(tmp_path / "night"))

    rows, media = json.loads(empty.python(SEE))
    assert [rows, media] == json.loads(full.python(SEE))
    assert "Old Shed Museum" in rows["fleet.Museum"]
    assert set(media) == {"photos/a.jpg", "photos/deep/b.jpg"}
    # The act book must still refuse a change after the journey, and new rows must find free numbers.
    empty.python(
        "from fleet.models import Person; p = Person(username='second', code='SE', name='Se Cond'); p.set_unusable_password(); p.save()"
    )


def test_a_full_museum_is_only_replaced_when_asked(houses: tuple[House, House], tmp_path: Path) -> None:
    full, _ = houses
    full.manage("backup", str(tmp_path / "night"))
    before = full.python(SEE)
    full.python("from fleet.models import Museum; Museum.objects.update(name='Renamed')")

    refused = full.try_to("restore", str(tmp_path / "night"))
    assert refused.returncode == 1
    assert "--replace" in refused.stderr
    assert "Renamed" in full.python(SEE)

    full.manage("restore", str(tmp_path / "night"), "--replace")
    assert full.python(SEE) == before
    # And once more from a backup of what was restored: nothing about the place may depend on the first time.
    full.manage("backup", str(tmp_path / "second-night"))
    full.manage("restore", str(tmp_path / "second-night"), "--replace")
    assert full.python(SEE) == before


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("prepared")
    house = House(data=folder / "shed")
    house.manage("migrate", "--verbosity", "0")
    house.python(ENTER.format(name="Old Shed Museum"))
    house.manage("backup", str(folder / "night"))
    return folder


@pytest.fixture
def small(prepared: Path, tmp_path: Path) -> tuple[House, Path]:
    """A museum on SQLite and its backup, copied for each test."""
    shutil.copytree(prepared, tmp_path, dirs_exist_ok=True)
    return House(data=tmp_path / "shed"), tmp_path / "night"


def flip(path: Path, place: int) -> None:
    content = bytearray(path.read_bytes())
    content[place] ^= 1
    path.write_bytes(content)


FILES = [
    "database.sqlite3",
    "media/photos/a.jpg",
    "media/photos/deep/b.jpg",
    "manifest.json",
    "manifest.sha256",
]


@pytest.mark.parametrize("name", FILES)
def test_one_flipped_bit_anywhere_is_found(small: tuple[House, Path], name: str) -> None:
    _, night = small
    check_backup(night)
    size = (night / name).stat().st_size - (name == "manifest.sha256")  # the newline at its end says nothing
    for place in {size * step // 40 for step in range(40)} | {size - 1}:
        flip(night / name, place)
        with pytest.raises(BackupError, match=r"(not as it was written|not a whole backup)"):
            check_backup(night)
        flip(night / name, place)
    check_backup(night)


def test_a_damaged_backup_changes_nothing(small: tuple[House, Path]) -> None:
    house, night = small
    house.python("from fleet.models import Museum; Museum.objects.update(name='Untouched')")
    before = house.python(SEE)
    flip(night / "media" / "photos" / "a.jpg", 1000)

    refused = house.try_to("restore", str(night), "--replace")

    assert refused.returncode == 1
    assert "media/photos/a.jpg is not as it was written" in refused.stderr
    assert house.python(SEE) == before


def test_a_missing_file_and_an_added_file_are_refused(small: tuple[House, Path]) -> None:
    house, night = small
    (night / "media" / "photos" / "c.jpg").write_bytes(b"not ours")
    assert (
        "Not part of the backup: media/photos/c.jpg" in house.try_to("restore", "--check", str(night)).stderr
    )
    (night / "media" / "photos" / "c.jpg").unlink()
    house.manage("restore", "--check", str(night))
    (night / "media" / "photos" / "a.jpg").unlink()
    assert (
        "Missing from the backup: media/photos/a.jpg" in house.try_to("restore", "--check", str(night)).stderr
    )


def test_a_backup_never_writes_over_another_and_leaves_no_half(
    small: tuple[House, Path], tmp_path: Path
) -> None:
    house, night = small
    again = house.try_to("backup", str(night))
    assert again.returncode == 1
    assert "never written over" in again.stderr
    # Nothing can be made inside a file: the backup fails after it has begun.
    blocked = tmp_path / "blocked"
    blocked.write_text("a file where the folder should go")
    assert house.try_to("backup", str(blocked / "night")).returncode == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["blocked", "night", "shed"]


def test_a_backup_of_the_other_database_is_refused(
    small: tuple[House, Path], postgres: Postgres, tmp_path: Path
) -> None:
    _, night = small
    other = House(data=tmp_path / "barn", extra={"DATABASE_URL": postgres.make("backup_other")})
    refused = other.try_to("restore", str(night))
    assert refused.returncode == 1
    assert "runs on postgresql" in refused.stderr


def test_a_backup_from_a_newer_version_is_refused(small: tuple[House, Path], tmp_path: Path) -> None:
    house, night = small
    manifest = json.loads((night / "manifest.json").read_text())
    manifest["migrations"].append("fleet.9999_from_the_future")
    text = json.dumps(manifest).encode()
    (night / "manifest.json").write_bytes(text)
    (night / "manifest.sha256").write_text(hashlib.sha256(text).hexdigest())
    assert "newer version" in house.try_to("restore", str(night), "--replace").stderr


def test_a_backup_can_be_read_by_its_owner_only(small: tuple[House, Path]) -> None:
    _, night = small
    assert night.stat().st_mode & 0o077 == 0
    assert (night / "database.sqlite3").is_file()


@pytest.mark.django_db(transaction=True)
def test_the_commands_within_this_process(
    tmp_path: Path, settings: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    from fleet.models import Museum

    settings.MEDIA_ROOT = tmp_path / "media"
    (tmp_path / "media" / "photos").mkdir(parents=True)
    (tmp_path / "media" / "photos" / "a.jpg").write_bytes(b"picture")
    Museum.objects.create(name="Old Shed Museum")

    call_command("backup", str(tmp_path / "night"))
    call_command("restore", str(tmp_path / "night"), "--check")
    with pytest.raises(CommandError, match="--replace"):
        call_command("restore", str(tmp_path / "night"))
    Museum.objects.all().delete()
    (tmp_path / "media" / "photos" / "a.jpg").write_bytes(b"spoilt")
    (tmp_path / "media" / "photos" / "late.jpg").write_bytes(b"late")
    call_command("restore", str(tmp_path / "night"))

    assert Museum.objects.get().name == "Old Shed Museum"
    assert {path.name: path.read_bytes() for path in (tmp_path / "media" / "photos").iterdir()} == {
        "a.jpg": b"picture"
    }
    said = capsys.readouterr().out
    assert "Backed up to" in said
    assert "is whole: 2 files" in said
    assert "Restored the museum of" in said
    with pytest.raises(CommandError, match="never written over"):
        call_command("backup", str(tmp_path / "night"))


def test_a_manifest_that_points_outside_or_is_of_another_form_is_refused(small: tuple[House, Path]) -> None:
    _, night = small
    manifest = json.loads((night / "manifest.json").read_text())

    def sealed(changed: dict[str, Any]) -> None:
        text = json.dumps(changed).encode()
        (night / "manifest.json").write_bytes(text)
        (night / "manifest.sha256").write_text(hashlib.sha256(text).hexdigest())

    sealed({**manifest, "format": 99})
    with pytest.raises(BackupError, match="has form 99"):
        check_backup(night)
    (night / "media" / "photos" / "a.jpg").unlink()
    (night / "media" / "photos" / "a.jpg").symlink_to("/etc/hostname")
    sealed(manifest)
    with pytest.raises(BackupError, match="is a link"):
        check_backup(night)


@pytest.mark.django_db(transaction=True)
def test_what_cannot_be_written_or_read_is_said_in_words(
    small: tuple[House, Path], tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, night = small
    settings.MEDIA_ROOT = tmp_path / "empty"

    def full(*args: Any, **kwargs: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr("fleet.backup._seal", full)
        with pytest.raises(BackupError, match=r"The backup was not made: .*No space left"):
            make_backup(tmp_path / "other-night", now=datetime(2026, 5, 2, tzinfo=UTC))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["night", "shed"]

    (night / "media" / "photos" / "new.jpg").write_bytes(b"")
    with pytest.raises(BackupError, match="Not part of the backup"):
        check_backup(night)
    (night / "media" / "photos" / "new.jpg").unlink()
    (night / "media" / "photos" / "a.jpg").unlink()
    with pytest.raises(BackupError, match="Missing from the backup"):
        check_backup(night)
    (night / "manifest.sha256").unlink()
    with pytest.raises(BackupError, match="is not a whole backup"):
        check_backup(night)
    with pytest.raises(BackupError, match="points outside"):
        backup._inside(night, "../elsewhere")


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"database": "mainframe"}, "This backup is of mainframe"),
        ({"migrations": ["fleet.9999_from_the_future"]}, "made by a newer version"),
    ],
)
def test_a_backup_of_another_house_is_refused(
    small: tuple[House, Path], change: dict[str, Any], words: str
) -> None:
    _, night = small
    manifest = {**json.loads((night / "manifest.json").read_text()), "database": connection.vendor, **change}
    text = json.dumps(manifest).encode()
    (night / "manifest.json").write_bytes(text)
    (night / "manifest.sha256").write_text(hashlib.sha256(text).hexdigest())
    with pytest.raises(BackupError, match=words):
        restore_backup(night)


def test_a_writer_that_never_lets_go_ends_the_wait(
    small: tuple[House, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    house, _ = small
    monkeypatch.setattr("fleet.backup.LOCK_WAIT_S", 0.6)
    with closing(sqlite3.connect(house.data / "running-order.sqlite3", timeout=0.1)) as source:
        with closing(sqlite3.connect(house.data / "running-order.sqlite3", isolation_level=None)) as writer:
            writer.execute("BEGIN EXCLUSIVE")
            with (
                closing(sqlite3.connect(":memory:")) as copy,
                pytest.raises(BackupError, match="Somebody held the database"),
            ):
                backup._copy_pages(source, copy)
            writer.execute("ROLLBACK")
        with closing(sqlite3.connect(":memory:")) as copy:
            backup._copy_pages(source, copy)
            assert copy.execute("SELECT name FROM fleet_museum").fetchall() == [("Old Shed Museum",)]


@pytest.mark.django_db
def test_nothing_is_copied_inside_a_transaction(tmp_path: Path) -> None:
    with pytest.raises(BackupError, match="inside a transaction"):
        make_backup(tmp_path / "night", now=datetime(2026, 5, 2, tzinfo=UTC))
    with pytest.raises(BackupError, match="inside a transaction"):
        restore_backup(tmp_path / "night")


def test_the_nightly_script_keeps_a_checked_backup_and_forgets_old_ones(
    small: tuple[House, Path], tmp_path: Path
) -> None:
    house, _ = small
    kept = tmp_path / "kept nights"
    for name, days in {"2026-01-01T022000": 40, "2026-01-20T022000": 20, "not-a-night": 90}.items():
        (kept / name).mkdir(parents=True)
        then = time.time() - days * 86_400
        os.utime(kept / name, (then, then))

    done = subprocess.run(
        [ROOT / "deploy" / "nightly.sh", kept],
        env=house.env,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )

    assert done.returncode == 0, done.stderr
    (tonight,) = {path.name for path in kept.iterdir()} - {"2026-01-20T022000", "not-a-night"}
    assert len(check_backup(kept / tonight)["files"]) == 3
    unreachable = subprocess.run(
        [ROOT / "deploy" / "nightly.sh", kept, tmp_path / "no" / "such" / "place"],
        env={**house.env, "KEEP_DAYS": "1"},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert unreachable.returncode != 0
    assert (kept / "2026-01-20T022000").is_dir()  # nothing is forgotten on a night that was not sent away
