"""Paper draws the letters that were written, repeats what page 2 needs, and says nothing to complain about."""

from __future__ import annotations

import io
import logging
from pathlib import Path

import pytest
from django.template import engines

from tests.look.palette import ROOT

PAGE = """{% extends "layouts/print.html" %}{% block again %}B 02 7K4P{% endblock %}{% block footer %}Keep with the vehicle.{% endblock %}
{% block main %}<table class="hd"><tr><td class="no"><p class="st">B 02</p></td><td><h1>Thistle</h1><p>ŁUKASZ ŐRI</p></td></tr></table>
<table class="tb"><thead><tr><th scope="col">Check</th></tr></thead><tbody>{% for n in rows %}<tr><td>Check {{ n }} Šárka Łęcka</td></tr>{% endfor %}</tbody></table>
<p>{% print_shape "barred" %} Barred</p>{% endblock %}"""


def pdf(rows: int) -> bytes:
    from weasyprint import HTML

    html = engines["django"].from_string(PAGE).render({"rows": range(rows)})
    html = html.replace('href="/static/', f'href="{(ROOT / "static").as_uri()}/')
    data = HTML(string=html, base_url=ROOT.as_uri()).write_pdf()
    assert isinstance(data, bytes)
    return data


@pytest.mark.prints
def test_page_two_repeats_number_and_code_and_page_one_does_not(caplog: pytest.LogCaptureFixture) -> None:
    from pypdf import PdfReader

    with caplog.at_level(logging.WARNING, logger="weasyprint"):
        pages = PdfReader(io.BytesIO(pdf(60))).pages
    assert [record.message for record in caplog.records] == []
    texts = [page.extract_text() for page in pages]
    assert len(texts) == 2
    assert "7K4P" not in texts[0]
    assert "B 02 7K4P" in texts[1]
    assert all("Keep with the vehicle." in text for text in texts)
    assert "Page 2 of 2" in texts[1]


@pytest.mark.prints
def test_further_letters_come_from_their_own_file() -> None:
    """Under one family name WeasyPrint drew a wrong letter: Ł came out as a cut O."""
    from pypdf import PdfReader

    page = PdfReader(io.BytesIO(pdf(3))).pages[0]
    fonts = {str(f.get_object()["/BaseFont"]) for f in page["/Resources"]["/Font"].values()}  # type: ignore[index]
    assert any(name.endswith("RO-Text-Ext") for name in fonts), fonts
    text = page.extract_text()
    assert "ŁUKASZ ŐRI" in text
    assert "Šárka Łęcka" in text


def test_layouts_name_only_sheets_and_icons_that_exist() -> None:
    import re

    named = {
        match
        for path in (ROOT / "templates" / "layouts").glob("*.html")
        for match in re.findall(r"static '([^']+)'", Path(path).read_text())
    }
    assert named
    assert [name for name in sorted(named) if not (ROOT / "static" / name).is_file()] == []
