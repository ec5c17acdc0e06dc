"""Each typeface has its licence beside it, each file that a sheet names is there, and none lies about unused."""

from __future__ import annotations

import re

import pytest

from tests.look.palette import CSS, ROOT

FONTS = ROOT / "static" / "fonts"
FILES = sorted(FONTS.glob("*.woff2"))
NAMED = {
    name
    for sheet in ("tokens.css", "print.css")
    for name in re.findall(r"url\(\.\./fonts/([^)]+)\)", (CSS / sheet).read_text())
}


def family(name: str) -> str:
    return name.split("-latin", maxsplit=1)[0]


def test_sheets_and_folder_name_the_same_files() -> None:
    assert {path.name for path in FILES} == NAMED
    assert len(NAMED) == 16


@pytest.mark.parametrize("name", sorted({family(path.name) for path in FILES}))
def test_licence_stands_beside_the_family(name: str) -> None:
    text = (FONTS / f"{name}.OFL.txt").read_text()
    assert "SIL OPEN FONT LICENSE Version 1.1" in text
    assert text.startswith("Copyright")


@pytest.mark.parametrize("name", sorted(NAMED))
def test_every_latin_file_has_its_further_letters(name: str) -> None:
    other = (
        name.replace("-latin-ext-", "-latin-")
        if "-latin-ext-" in name
        else name.replace("-latin-", "-latin-ext-")
    )
    assert other in NAMED


def test_readme_names_families_and_no_registry() -> None:
    text = (FONTS / "README.md").read_text()
    assert all(name in text for name in {family(path.name) for path in FILES})
    assert "://" not in text


@pytest.mark.parametrize("sheet", ["tokens.css", "print.css"])
def test_letters_outside_the_first_set_are_covered(sheet: str) -> None:
    """Names are not all English: each of these letters must be in a file of the text face."""
    from fontTools.ttLib import TTFont

    names = set(re.findall(r"url\(\.\./fonts/(atkinson[^)]+)\)", (CSS / sheet).read_text()))
    letters: set[int] = set()
    for name in names:
        with TTFont(FONTS / name) as font:
            letters |= set(font.getBestCmap())
    assert {ord(c) for c in "ŁłŐőŘřŠšĞğİıÆæØøÞþẞß–×−½°"} <= letters
