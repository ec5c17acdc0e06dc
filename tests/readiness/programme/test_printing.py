"""The printer's fetcher opens our own sheets and fonts, and nothing else, whatever a page asks for."""

import base64
import http.server
import io
import logging
import threading

import pytest
from pypdf import PdfReader

from fleet.printing import BASE, Refused, own_file, qr_svg, render

PIXEL = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
)


def test_our_own_sheets_are_found() -> None:
    assert own_file(f"{BASE}static/css/print.css").name == "print.css"
    assert own_file(f"{BASE}static/fonts/big-shoulders-latin-800-normal.woff2").suffix == ".woff2"


@pytest.mark.parametrize(
    "address",
    [
        "file:///etc/hostname", "http://127.0.0.1:8000/static/css/print.css", "https://example.org/static/css/print.css",
        f"{BASE}static/../manage.py", f"{BASE}static/css/../../manage.py", f"{BASE}static/css/%2e%2e/%2e%2e/manage.py",
        f"{BASE}static/js/app.js", f"{BASE}static/css/print.css/x.css", f"{BASE}photos/1.jpg", f"{BASE}static/css/a\\b.css",
        "https://paper.invalid.example.org/static/css/print.css", "ftp://paper.invalid/static/css/print.css",
    ],
)  # fmt: skip
def test_everything_else_is_refused(address: str) -> None:
    with pytest.raises(Refused):
        own_file(address)


def test_a_missing_sheet_of_ours_is_no_paper_at_all() -> None:
    with pytest.raises(FileNotFoundError):
        own_file(f"{BASE}static/css/no-such-sheet.css")


@pytest.mark.prints
def test_a_missing_sheet_stops_the_print() -> None:
    with pytest.raises(BaseException, match="no-such-sheet"):
        render('<link rel="stylesheet" href="/static/css/no-such-sheet.css"><p>paper</p>')


@pytest.mark.prints
def test_no_file_and_no_address_reaches_the_paper(tmp_path, caplog) -> None:
    secret = tmp_path / "secret.css"
    secret.write_text("p::after{content:'SECRET'}")
    asked: list[str] = []

    class Listener(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_error(404)

        def log_message(self, *args: object) -> None:
            """Quiet."""

    with http.server.HTTPServer(("127.0.0.1", 0), Listener) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        here = f"http://127.0.0.1:{server.server_port}"
        html = (
            f'<link rel="stylesheet" href="{secret.as_uri()}"><link rel="attachment" href="{secret.as_uri()}">'
            f"<style>@import url({here}/import.css);p{{background:url({here}/back.png)}}</style>"
            f'<img src="{here}/picture.png"><img src="{secret.as_uri()}"><object data="{here}/object"></object>'
            f'<svg viewBox="0 0 9 9" width="9" height="9"><image href="{here}/svg.png" width="9" height="9"/>'
            f'<use href="{secret.as_uri()}#x"/></svg><p>paper</p>'
        )
        with caplog.at_level(logging.CRITICAL, logger="weasyprint"):
            pdf = render(html)
        server.shutdown()
        thread.join()
    assert asked == []
    text = PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    assert "paper" in text
    assert "SECRET" not in text
    assert b"SECRET" not in pdf


@pytest.mark.prints
def test_a_picture_that_the_page_carries_is_drawn() -> None:
    source = base64.b64encode(PIXEL).decode()
    pdf = PdfReader(io.BytesIO(render(f'<img src="data:image/png;base64,{source}">')))
    assert len(pdf.pages[0].images) == 1


def test_the_square_holds_the_address_and_its_words_are_escaped() -> None:
    import segno

    text = "http://museum.example/programme/TRD/"
    svg = qr_svg(text, label='of "us" <here>', mm=20)
    modules = {
        (x, y)
        for y, row in enumerate(segno.make_qr(text, error="m", boost_error=False).matrix)
        for x, d in enumerate(row)
        if d
    }
    import re

    drawn = {(int(x) - 1, int(y) - 1) for x, y in re.findall(r"M(\d+) (\d+)h1", svg)}
    assert drawn == modules
    assert 'width="20mm"' in svg
    assert "&lt;here&gt;" in svg
