"""Where tables wait between the dry run and bringing them in: on the disk, a day at most, for one person."""

from __future__ import annotations

import json
import re
import shutil
import time
import uuid
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Protocol

from django.conf import settings

from fleet.models import Person

KEPT_SECONDS = 24 * 60 * 60
NAMES = "names.json"


class Upload(Protocol):
    name: str | None

    def read(self) -> bytes: ...


def shelf() -> Path:
    return Path(settings.DATA_DIR) / "imports"


def lay_down(files: Iterable[Upload], by: Person) -> str:
    """Keep the files under names of our own; returns the mark that fetches them. Old ones are cleared away."""
    clear_old()
    mark = uuid.uuid4().hex
    folder = shelf() / f"{by.pk}-{mark}"
    folder.mkdir(parents=True)
    names = []
    for place, file in enumerate(files):
        (folder / str(place)).write_bytes(file.read())
        names.append(Path(str(file.name or f"file {place}")).name)
    (folder / NAMES).write_text(json.dumps(names), encoding="utf-8")
    return mark


def fetch(mark: str, by: Person) -> Mapping[str, bytes] | None:
    """The files as they were handed in; None when they are gone or were another's."""
    folder = _folder(mark, by)
    if folder is None:
        return None
    found: dict[str, bytes] = {}
    for place, name in enumerate(json.loads((folder / NAMES).read_text(encoding="utf-8"))):
        found[name if name not in found else f"{place}-{name}"] = (folder / str(place)).read_bytes()
    return found


def take_away(mark: str, by: Person) -> None:
    folder = _folder(mark, by)
    if folder is not None:
        shutil.rmtree(folder, ignore_errors=True)


def _folder(mark: str, by: Person) -> Path | None:
    if not re.fullmatch(r"[0-9a-f]{32}", mark):
        return None
    folder = shelf() / f"{by.pk}-{mark}"
    return folder if (folder / NAMES).is_file() else None


def clear_old() -> None:
    if not shelf().is_dir():
        return
    for folder in shelf().iterdir():
        if folder.is_dir() and time.time() - folder.stat().st_mtime > KEPT_SECONDS:
            shutil.rmtree(folder, ignore_errors=True)
