"""A picture from outside, judged by its content and drawn anew.

Nothing of the sender's file is kept but the pixels: no name, no place, no camera data, nothing hidden behind
the picture. The type is told by the first bytes, never by the name (OWASP ASVS 5.0, file handling).
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.core.exceptions import ValidationError

if TYPE_CHECKING:
    from PIL import Image

MOST_BYTES = 15 * 1024 * 1024
MOST_PIXELS = 50_000_000
MOST_SIDE = 16_000
LEAST_SIDE = 16
KEPT_SIDE = 2400
SMALL_SIDE = 320
FIELD = "photo"

_OTHERS = (
    (b"GIF8", "a moving or drawn picture (GIF)"),
    (b"%PDF", "a PDF"),
    (b"PK\x03\x04", "a ZIP, or a document"),
    (b"<?xml", "a drawing or a page"),
    (b"<svg", "a drawing (SVG)"),
    (b"<!DO", "a web page"),
    (b"<htm", "a web page"),
    (b"II*\x00", "a TIFF"),
    (b"MM\x00*", "a TIFF"),
    (b"BM", "a BMP"),
    (b"MZ", "a program"),
    (b"\x7fELF", "a program"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """The picture as it will be kept: two JPEGs without any data but the pixels, and the mark of what was sent."""

    large: bytes
    small: bytes
    width: int
    height: int
    sha256: str


def _refuse(sentence: str) -> ValidationError:
    return ValidationError({FIELD: sentence})


def kind_of(data: bytes) -> str:
    """JPEG, PNG or WEBP by the first bytes; anything else is refused by name."""
    if data.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "WEBP"
    if data[4:8] == b"ftyp":
        raise _refuse(
            "That is a HEIC picture or a film, which cannot be shown everywhere. Set the camera to JPEG and take it again."
        )
    for start, name in _OTHERS:
        if data.startswith(start):
            raise _refuse(f"That is {name}, not a photograph. Send a JPEG, PNG or WebP.")
    raise _refuse("That is not a photograph. Send a JPEG, PNG or WebP.")


def read_picture(data: bytes) -> Picture:
    """Judge, decode whole, turn upright, and draw anew.

    Raises:
        ValidationError: on `photo`, with what is wrong and what to do.
    """
    if not data:
        raise _refuse("The file is empty. Take the photograph again.")
    if len(data) > MOST_BYTES:
        raise _refuse(
            f"The photograph is {len(data) // 1_048_576} MB; at most {MOST_BYTES // 1_048_576} MB are taken. Set the camera to a smaller size."
        )
    kind = kind_of(data)
    image = _decode(data, kind)
    large = _fitted(image, KEPT_SIDE)
    return Picture(
        large=_jpeg(large),
        small=_jpeg(_fitted(image, SMALL_SIDE)),
        width=large.width,
        height=large.height,
        sha256=hashlib.sha256(data).hexdigest(),
    )


def _decode(data: bytes, kind: str) -> Image.Image:
    from PIL import Image, ImageOps

    # A phone's JPEG with several views in one file is an MPO to the decoder; its first view is the picture.
    formats = ("JPEG", "MPO") if kind == "JPEG" else (kind,)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            image = Image.open(io.BytesIO(data), formats=formats)
            _check_size(image.width, image.height)
            if kind != "JPEG" and getattr(image, "n_frames", 1) > 1:
                raise _refuse("That picture moves. Send a single photograph.")
            # The PDF library, once loaded, tells Pillow to let cut-off files pass; here they never do.
            with _whole_files_only():
                image.load()
            return _flat(ImageOps.exif_transpose(image))
    except ValidationError:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as trouble:
        raise _refuse("The picture is too large to open. Set the camera to a smaller size.") from trouble
    except Exception as trouble:
        raise _refuse("The photograph is damaged and cannot be opened. Take it again.") from trouble


@contextlib.contextmanager
def _whole_files_only() -> Iterator[None]:
    from PIL import ImageFile

    before, ImageFile.LOAD_TRUNCATED_IMAGES = ImageFile.LOAD_TRUNCATED_IMAGES, False
    try:
        yield
    finally:
        ImageFile.LOAD_TRUNCATED_IMAGES = before


def _check_size(width: int, height: int) -> None:
    if width * height > MOST_PIXELS or max(width, height) > MOST_SIDE:
        raise _refuse(
            f"The picture is {width} by {height}; that is too large. Set the camera to a smaller size."
        )
    if min(width, height) < LEAST_SIDE:
        raise _refuse(f"The picture is {width} by {height}; that is too small to show anything.")


def _flat(image: Image.Image) -> Image.Image:
    """Colours as a JPEG holds them; what was see-through becomes white."""
    from PIL import Image

    if image.mode in {"RGBA", "LA", "PA"} or "transparency" in image.info:
        image = image.convert("RGBA")
        ground = Image.new("RGBA", image.size, "white")
        image = Image.alpha_composite(ground, image)
    pixels = image.convert("RGB")
    bare = Image.new("RGB", pixels.size)
    bare.paste(pixels)
    return bare


def _fitted(image: Image.Image, side: int) -> Image.Image:
    from PIL import Image

    fitted = image.copy()
    fitted.thumbnail((side, side), Image.Resampling.LANCZOS)
    return fitted


def _jpeg(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, format="JPEG", quality=84, optimize=True)
    return out.getvalue()
