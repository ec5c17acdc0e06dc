"""Photographs on file."""

from __future__ import annotations

import datetime as dt
import os
import uuid
from pathlib import Path

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile, File
from django.core.files.storage import FileSystemStorage, Storage, default_storage
from django.db import transaction
from django.utils import timezone

from fleet.models import Person, Photo, Vehicle
from fleet.services import acts
from fleet.services.permit import permit
from fleet.services.pictures import MOST_BYTES, Picture, read_picture


def photo_add(
    *,
    by: Person | None,
    upload: bytes | File[bytes],
    vehicle: Vehicle | None = None,
    shows: str = "",
    taken_at: dt.datetime | None = None,
    by_name: str = "",
) -> Photo:
    """Keep a photograph. The same picture sent again for the same vehicle is the one on file, not a second.

    `by` None is a visitor with a fault slip. The picture is decoded before anything is locked.
    """
    if by is not None:
        permit(by, "photo.add")
    else:
        permit(None, "fault.slip")
    picture = read_picture(_bytes(upload))
    with transaction.atomic():
        there = Photo.objects.filter(sha256=picture.sha256, vehicle=vehicle).first()
        if there is not None:
            return there
        return _keep(picture=picture, by=by, by_name=by_name, vehicle=vehicle, shows=shows, taken_at=taken_at)


def _bytes(upload: bytes | File[bytes]) -> bytes:
    if isinstance(upload, bytes):
        return upload
    return bytes(upload.read(MOST_BYTES + 1))


def _keep(
    *,
    picture: Picture,
    by: Person | None,
    by_name: str,
    vehicle: Vehicle | None,
    shows: str,
    taken_at: dt.datetime | None,
) -> Photo:
    now = timezone.now()
    stem = f"photos/{now:%Y/%m}/{uuid.uuid4().hex}"
    written: list[str] = []
    try:
        for name, data in ((f"{stem}.jpg", picture.large), (f"{stem}-small.jpg", picture.small)):
            written.append(_write_whole(name, data))
        photo = Photo(
            vehicle=vehicle, file=written[0], small=written[1], width=picture.width, height=picture.height,
            sha256=picture.sha256, shows=shows.strip()[:160], taken_at=taken_at or now, by=by,
        )  # fmt: skip
        photo.full_clean(exclude=["file", "small"])
        with transaction.atomic():
            photo.save()
            acts.record(act="photo.add", by=by, by_name=by_name, subject=photo, vehicle=vehicle)
    except OSError as trouble:
        _remove(written)
        raise ValidationError(
            {
                "photo": "There is no room to keep the photograph. Everything else is safe; tell the administrator."
            }
        ) from trouble
    except Exception:
        _remove(written)
        raise
    return photo


def _write_whole(name: str, data: bytes, storage: Storage | None = None) -> str:
    """Write under another name, on the disk, then give it its own: a half picture never has a name."""
    store = storage or default_storage
    if not isinstance(store, FileSystemStorage):
        return store.save(name, ContentFile(data))
    path = Path(store.path(name))
    path.parent.mkdir(parents=True, exist_ok=True)
    half = path.with_suffix(".part")
    try:
        with half.open("xb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        half.replace(path)
    finally:
        half.unlink(missing_ok=True)
    return name


def _remove(names: list[str]) -> None:
    for name in names:
        default_storage.delete(name)
