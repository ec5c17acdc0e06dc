"""Paper: a page's HTML to PDF, with nothing fetched but this program's own sheets and fonts.

WeasyPrint is slow to load and is imported inside the functions that need it. Whatever a name on a page may hold, the
fetcher opens no address and no file outside `static/css` and `static/fonts`; pictures come in as `data:` addresses.
"""

from __future__ import annotations

import base64
import mimetypes
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlparse

from django.conf import settings
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.template.loader import render_to_string
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

if TYPE_CHECKING:
    from django.http import HttpRequest

BASE = "https://paper.invalid/"
"""Where a printed page stands: a name that no network ever knows (RFC 6761), so that only our own fetcher answers."""
ALLOWED = {("css", ".css"), ("fonts", ".woff2")}
PICTURES = ("data:image/png;", "data:image/jpeg;", "data:image/webp;")
QUIET_ZONE = 1


class Refused(ValueError):
    """The page asked for something that a printed page may not fetch."""


def own_file(url: str) -> Path:
    """The file behind an address of our own style sheets and fonts.

    Raises:
        Refused: any other address.
        FileNotFoundError: the file is ours to serve and is not there.
    """
    parts = urlparse(url)
    static = urlparse(str(settings.STATIC_URL)).path
    path = unquote(parts.path)
    if not url.startswith(BASE) or not path.startswith(static):
        raise Refused(f"not fetched for paper: {url[:120]}")
    name = path.removeprefix(static)
    pieces = name.split("/")
    if len(pieces) != 2 or (pieces[0], Path(pieces[1]).suffix) not in ALLOWED or ".." in name or "\\" in name:
        raise Refused(f"not fetched for paper: {url[:120]}")
    found = finders.find(name)
    if isinstance(found, str):
        return Path(found)
    collected = Path(staticfiles_storage.path(name))
    if collected.is_file():
        return collected
    raise FileNotFoundError(name)


def _fetcher() -> Any:
    from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

    class OwnFiles(URLFetcher):  # type: ignore[misc]
        """Our own sheets and fonts, and pictures that the page carries itself. Nothing else."""

        def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
            if url.startswith(PICTURES):
                head, _, body = url.partition(",")
                if not head.endswith(";base64"):
                    raise Refused("a picture for paper is written in base64")
                kind = head.removeprefix("data:").removesuffix(";base64")
                return URLFetcherResponse(url, base64.b64decode(body, validate=True), {"Content-Type": kind})
            try:
                path = own_file(url)
            except FileNotFoundError as missing:
                # A sheet without its style would look like another paper: rather no paper.
                raise FatalURLFetchingError(f"{missing} is missing from the program's files") from missing
            kind = mimetypes.guess_type(path.name)[0] or "application/octet-stream"
            return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": kind})

    return OwnFiles()


def render(html: str) -> bytes:
    """A whole HTML page to a PDF with its fonts inside."""
    from weasyprint import HTML

    pdf: bytes = HTML(string=html, base_url=BASE, url_fetcher=_fetcher()).write_pdf()
    return pdf


def render_page(template: str, context: dict[str, Any], request: HttpRequest | None = None) -> bytes:
    """A template that extends `layouts/print.html` to a PDF."""
    return render(render_to_string(template, context, request))


def qr_svg(text: str, *, label: str, mm: int = 24) -> SafeString:
    """A QR code, level M, as an inline picture of `mm` millimetres; black modules on paper white."""
    import segno

    matrix = [list(row) for row in segno.make_qr(text, error="m", boost_error=False).matrix]
    side = len(matrix) + 2 * QUIET_ZONE
    path = "".join(
        f"M{x + QUIET_ZONE} {y + QUIET_ZONE}h1v1h-1z"
        for y, row in enumerate(matrix)
        for x, dark in enumerate(row)
        if dark
    )
    return format_html(
        '<svg role="img" aria-label="{}" width="{}mm" height="{}mm" viewBox="0 0 {} {}" '
        'xmlns="http://www.w3.org/2000/svg"><path fill="#000" d="{}"/></svg>',
        label, mm, mm, side, side, mark_safe(path),
    )  # fmt: skip


def picture_data(path: Path, kind: str = "image/jpeg") -> str:
    """A kept photograph as a `data:` address, for an `<img src>` on paper."""
    return f"data:{kind};base64,{base64.b64encode(path.read_bytes()).decode()}"
