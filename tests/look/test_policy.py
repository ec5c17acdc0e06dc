"""What the content policy would refuse in a browser must not be written in a template to begin with."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.look.palette import CSS, ROOT

TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
REFUSED = {
    "a style attribute": re.compile(r"""\sstyle\s*=\s*["'{]""", re.IGNORECASE),
    "a style element": re.compile(r"<style[\s>]", re.IGNORECASE),
    "a script without src": re.compile(
        r"<script(?![^>]*\ssrc=)(?![^>]*type=[\"']application/json[\"'])[^>]*>", re.IGNORECASE
    ),
    "an event handler": re.compile(r"""<[a-z][^>]*\son[a-z]+\s*=\s*["'{]""", re.IGNORECASE),
    "an htmx handler": re.compile(r"\shx-on[:-]", re.IGNORECASE),
    "a javascript: address": re.compile(r"javascript:", re.IGNORECASE),
    "an htmx expression": re.compile(r"""hx-(vals|headers)\s*=\s*["']\s*js:""", re.IGNORECASE),
}


def refusals(text: str) -> list[str]:
    text = re.sub(r"\{#.*?#\}|\{% comment.*?endcomment %\}", "", text, flags=re.DOTALL)
    return [what for what, pattern in REFUSED.items() if pattern.search(text)]


def test_there_are_templates_to_look_at() -> None:
    assert len(TEMPLATES) > 30


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: str(p.relative_to(ROOT)))
def test_template_holds_nothing_that_the_policy_refuses(path: Path) -> None:
    if "email" in path.relative_to(ROOT).parts:
        pytest.skip("mail readers know no style sheets")
    assert refusals(path.read_text()) == []


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ('<p style="color:red">', "a style attribute"),
        ("<style>p{}</style>", "a style element"),
        ("<script>go()</script>", "a script without src"),
        ('<button onclick="go()">', "an event handler"),
        ('<div hx-on:click="go()">', "an htmx handler"),
        ('<a href="javascript:go()">', "a javascript: address"),
    ],
)
def test_the_guard_sees_a_planted_fault(text: str, what: str) -> None:
    assert what in refusals(text)


def test_the_guard_lets_good_markup_pass() -> None:
    assert (
        refusals(
            '<script src="/static/js/app.js" type="module"></script><rect x="1%" transform="translate(0 -6)"/>'
        )
        == []
    )


@pytest.mark.parametrize("path", sorted(CSS.glob("*.css")), ids=lambda p: p.name)
def test_sheets_fetch_nothing_from_elsewhere(path: Path) -> None:
    text = path.read_text()
    assert "@import" not in text
    assert not re.search(r"url\((?!\.\./fonts/|#)", text)
    assert text.count("{") == text.count("}")


def test_paper_keeps_to_what_every_printer_knows() -> None:
    text = (CSS / "print.css").read_text()
    assert "var(" not in text
    assert not re.search(r"display:\s*(inline-)?(grid|flex)", text)
    assert "opsz" not in text
    assert "wght" not in text


@pytest.mark.parametrize(
    "name",
    [
        "base.css",
        "parts.css",
        "forms.css",
        "board.css",
        "vehicle.css",
        "workshop.css",
        "phone.css",
        "fault.css",
    ],
)
def test_every_screen_colour_is_a_token(name: str) -> None:
    """A colour that is written out follows neither theme. What stays alike in both is listed here."""
    alike_in_both = {
        "#0b3d91",
        "#fff",
        "#fff4cf",
        "#171c19",
        "#14181a",
        "#fbfaf4",
        "#ffffff00",
        "#ffffff24",
        "#ffffff2b",
    }
    text = re.sub(r"/\*.*?\*/|url\([^)]*\)", "", (CSS / name).read_text(), flags=re.DOTALL)
    assert set(re.findall(r"#[0-9a-f]{3,8}\b", text)) - {"#foc"} <= alike_in_both
