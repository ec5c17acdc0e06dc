"""Pictures from outside: the good are drawn anew, thirty kinds of bad are refused with words."""

import io
import random
import struct
import zlib

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from fleet.models import Photo
from fleet.services import photos, pictures
from fleet.services.photos import photo_add
from fleet.services.pictures import read_picture


def picture(kind="JPEG", size=(640, 480), mode="RGB", **save) -> bytes:
    noise = random.Random(7)
    image = Image.new("RGB", (16, 16))
    image.putdata([(noise.randrange(256), noise.randrange(256), noise.randrange(256)) for _ in range(256)])
    out = io.BytesIO()
    image.resize(size).convert(mode).save(out, format=kind, **save)
    return out.getvalue()


def chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def png_claiming(width: int, height: int) -> bytes:
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(b"\0" * 100)) + chunk(b"IEND", b"")


def moving(kind: str) -> bytes:
    frames = [Image.new("RGB", (64, 64), colour) for colour in ("red", "blue")]
    out = io.BytesIO()
    frames[0].save(out, format=kind, save_all=True, append_images=frames[1:])
    return out.getvalue()


GOOD = picture()
BAD = {
    "empty": b"",
    "one byte": b"\xff",
    "text": b"Dear sir, enclosed a photograph.",
    "noughts": bytes(5000),
    "noise": random.Random(1).randbytes(5000),
    "pdf": b"%PDF-1.7 " + GOOD,
    "zip": b"PK\x03\x04" + bytes(100),
    "svg": b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
    "xml then svg": b"<?xml version='1.0'?><svg/>",
    "page": b"<!DOCTYPE html><script>alert(1)</script>",
    "page without doctype": b"<html><img src=x onerror=alert(1)></html>",
    "gif": picture("GIF", mode="P"),
    "moving gif": moving("GIF"),
    "bmp": picture("BMP"),
    "tiff": picture("TIFF"),
    "icon": picture("ICO", size=(64, 64)),
    "postscript": b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n",
    "heic": b"\x00\x00\x00\x18ftypheic" + bytes(200),
    "film": b"\x00\x00\x00\x18ftypmp42" + bytes(200),
    "windows program": b"MZ" + bytes(200),
    "linux program": b"\x7fELF" + bytes(200),
    "shell script": b"#!/bin/sh\nrm -rf /\n",
    "jpeg start only": b"\xff\xd8\xff\xe0",
    "jpeg cut short": GOOD[: len(GOOD) // 2],
    "jpeg with a script for a body": b"\xff\xd8\xff\xe0<?php system($_GET['x']); ?>",
    "png start only": b"\x89PNG\r\n\x1a\n",
    "png cut short": picture("PNG")[:800],
    "png with a broken sum": picture("PNG").replace(b"IHDR", b"IHDX"),
    "png that claims 50 000 a side": png_claiming(50_000, 50_000),
    "png that claims 20 000 by 20": png_claiming(20_000, 20),
    "png without its pixels": png_claiming(4000, 4000),
    "png of one pixel": picture("PNG", size=(1, 1)),
    "moving png": moving("PNG"),
    "moving webp": moving("WEBP"),
    "webp cut short": picture("WEBP")[:60],
    "wave sound": b"RIFF\x24\x00\x00\x00WAVEfmt " + bytes(50),
    "too many bytes": GOOD + bytes(pictures.MOST_BYTES),
}


@pytest.mark.parametrize("name", sorted(BAD))
def test_the_bad_are_refused_with_words(name):
    with pytest.raises(ValidationError) as caught:
        read_picture(BAD[name])
    (sentence,) = caught.value.message_dict["photo"]
    assert sentence.endswith(".")
    assert len(sentence.split()) > 4


def test_thirty_kinds_and_more():
    assert len(BAD) > 30


@pytest.mark.parametrize(
    ("kind", "mode"),
    [("JPEG", "RGB"), ("JPEG", "L"), ("JPEG", "CMYK"), ("PNG", "RGBA"), ("PNG", "P"), ("WEBP", "RGB")],
)
def test_the_good_become_plain_jpegs(kind, mode):
    done = read_picture(picture(kind, mode=mode))
    for data, longest in ((done.large, 640), (done.small, 320)):
        image = Image.open(io.BytesIO(data))
        assert (image.format, image.mode, max(image.size)) == ("JPEG", "RGB", longest)
    assert (done.width, done.height, len(done.sha256)) == (640, 480, 64)


def test_a_large_one_is_made_smaller():
    done = read_picture(picture(size=(4000, 3000)))
    assert (done.width, done.height) == (2400, 1800)


def test_it_is_turned_upright_and_loses_what_the_camera_wrote():
    exif = Image.Exif()
    exif[0x0112] = 6  # held on its side
    exif[0x010F] = "SECRETMAKER"
    exif.get_ifd(0x8825)[1] = "N"  # place
    data = picture(exif=exif, comment=b"SECRETCOMMENT") + b"SECRETTAIL"
    assert b"SECRETMAKER" in data
    done = read_picture(data)
    assert (done.width, done.height) == (480, 640)
    for kept in (done.large, done.small):
        assert b"SECRET" not in kept
        assert not Image.open(io.BytesIO(kept)).getexif()


def test_what_is_see_through_becomes_white():
    clear = Image.new("RGBA", (64, 64), (255, 0, 0, 0))
    out = io.BytesIO()
    clear.save(out, format="PNG")
    assert Image.open(io.BytesIO(read_picture(out.getvalue()).large)).getpixel((5, 5)) == (255, 255, 255)


@pytest.mark.django_db
def test_it_is_kept_under_a_name_of_our_own(mechanic, vehicle):
    upload = SimpleUploadedFile("../../evil.php.jpg", GOOD, content_type="text/html")
    photo = photo_add(by=mechanic, upload=upload, vehicle=vehicle, shows="lining")
    assert photo.file.name.startswith("photos/")
    assert photo.file.name.endswith(".jpg")
    assert "evil" not in photo.file.name
    assert (photo.width, photo.height, photo.shows) == (640, 480, "lining")
    with default_storage.open(photo.small.name) as small:
        assert max(Image.open(small).size) == 320


@pytest.mark.django_db
def test_the_same_picture_twice_is_one_row_for_each_vehicle(mechanic, vehicle):
    first = photo_add(by=mechanic, upload=GOOD, vehicle=vehicle)
    assert photo_add(by=mechanic, upload=GOOD, vehicle=vehicle) == first
    assert photo_add(by=mechanic, upload=GOOD) != first
    assert Photo.objects.count() == 2


@pytest.mark.django_db
def test_a_visitor_may_send_one_and_who_has_left_may_not(mechanic, vehicle):
    assert photo_add(by=None, upload=GOOD, vehicle=vehicle, by_name="Man in a hat").by is None
    mechanic.is_active = False
    with pytest.raises(PermissionDenied):
        photo_add(by=mechanic, upload=picture(size=(99, 99)), vehicle=vehicle)


@pytest.mark.django_db
def test_a_full_disk_leaves_nothing_behind(mechanic, vehicle, monkeypatch):
    folder = default_storage.path("photos")
    before = sorted(_files(folder))
    real, calls = photos._write_whole, []

    def full(name, data):
        calls.append(name)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")
        return real(name, data)

    monkeypatch.setattr(photos, "_write_whole", full)
    with pytest.raises(ValidationError, match="no room"):
        photo_add(by=mechanic, upload=picture(size=(77, 77)), vehicle=vehicle)
    assert len(calls) == 2
    assert Photo.objects.count() == 0
    assert sorted(_files(folder)) == before


def _files(folder):
    from pathlib import Path

    return [str(path) for path in Path(folder).rglob("*") if path.is_file()]


def test_the_pdf_library_does_not_let_cut_off_files_pass() -> None:
    """Loading it sets a switch of Pillow's for the whole process; uploads are decoded with the switch off, and it is put back."""
    import weasyprint  # noqa: F401
    from PIL import ImageFile

    assert ImageFile.LOAD_TRUNCATED_IMAGES is True
    whole = io.BytesIO()
    Image.new("RGB", (64, 64), (200, 10, 10)).save(whole, "JPEG")
    with pytest.raises(ValidationError):
        read_picture(whole.getvalue()[:-200])
    assert ImageFile.LOAD_TRUNCATED_IMAGES is True
