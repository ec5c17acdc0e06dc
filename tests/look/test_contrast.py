"""Every pair of colours that meets on a screen, in both themes: text 4.5, edges, shapes and focus 3.0."""

from __future__ import annotations

import pytest

from tests.look.palette import CSS, blocks, colour, contrast, ground, tokens

TEXT, EDGE = 4.5, 3.0

# front, ground, need, and the ratio written down when the colours were chosen (daylight, shed)
PAIRS: list[tuple[str, str, float, tuple[float, float] | None]] = [
    ("ink", "sheet", TEXT, (16.51, 14.30)),
    ("ink", "wall", TEXT, (12.11, 15.81)),
    ("ink", "card", TEXT, (13.20, 12.48)),
    ("ink", "late on sheet", TEXT, (12.48, 10.01)),
    ("ink-2", "sheet", TEXT, (8.51, 9.21)),
    ("ink-2", "wall", TEXT, (6.24, 10.18)),
    ("ink-2", "sheet-2", TEXT, (7.59, 8.02)),
    ("ink-2", "card", TEXT, (6.80, 8.04)),
    ("on-paint", "paint", TEXT, (11.06, 7.92)),
    ("on-paint", "paint-2", TEXT, (7.94, 5.52)),
    ("on-drum", "drum", TEXT, (17.09, 18.51)),
    ("on-chrome", "chrome", TEXT, (9.69, 10.74)),
    ("leaf", "sheet", TEXT, (6.67, 9.98)),
    ("enamel", "sheet", TEXT, (8.29, 9.78)),
    ("enamel", "wall", TEXT, (6.08, 10.80)),
    ("on-enamel", "enamel", TEXT, (8.67, 10.80)),
    ("oxide", "sheet", TEXT, (7.07, 7.90)),
    ("oxide", "wall", TEXT, (5.18, 8.73)),
    ("oxide", "card", TEXT, (5.65, 6.89)),
    ("on-oxide", "oxide", TEXT, (7.39, 7.99)),
    ("chrome-ink", "sheet", TEXT, (6.82, 10.62)),
    ("idle", "wall", TEXT, (4.77, 8.31)),
    ("edge", "sheet", EDGE, (4.91, 5.52)),
    ("edge", "wall", EDGE, (3.60, 6.09)),
    ("focus", "sheet", EDGE, (9.61, 13.24)),
    ("chrome", "paint", EDGE, (6.96, 5.37)),
    ("ink", "sheet-2", TEXT, None),
    ("ink", "card-2", TEXT, None),
    ("ink-2", "card-2", TEXT, None),
    ("ink", "late on wall", TEXT, None),
    ("ink-2", "late on wall", TEXT, None),
    ("ink-2", "late on sheet", TEXT, None),
    ("idle", "sheet", TEXT, None),
    ("enamel", "card", TEXT, None),
    ("enamel", "card-2", TEXT, None),
    ("oxide", "card-2", TEXT, None),
    ("oxide", "late on sheet", EDGE, None),
    ("leaf", "card-2", EDGE, None),
    ("idle", "card-2", EDGE, None),
    ("edge", "card", EDGE, None),
    ("edge", "card-2", EDGE, None),
    ("focus", "wall", EDGE, None),
    ("focus", "card", EDGE, None),
    ("chrome", "paint-2", EDGE, None),
    ("chrome", "drum", EDGE, None),
]


def test_there_are_forty_five_pairs_and_no_pair_twice() -> None:
    assert len({(front, behind) for front, behind, _, _ in PAIRS}) == 45


@pytest.mark.parametrize("theme", ["daylight", "shed"])
@pytest.mark.parametrize(("front", "behind", "need", "written"), PAIRS)
def test_pair(theme: str, front: str, behind: str, need: float, written: tuple[float, float] | None) -> None:
    colours = tokens()[theme]
    ratio = contrast(ground(front, colours), ground(behind, colours))
    assert ratio >= need, f"{front} on {behind} in {theme}: {ratio:.2f}"
    if written is not None:
        assert ratio == pytest.approx(written[theme == "shed"], abs=0.02)


def test_black_on_white_is_twenty_one() -> None:
    assert contrast(colour("#000000"), colour("#ffffff")) == pytest.approx(21.0)


@pytest.mark.parametrize("theme", ["daylight", "shed"])
def test_focus_ring_on_the_caution_sign(theme: str) -> None:
    """The sign keeps one dark ring in both themes, because chrome is light in both."""
    assert contrast(colour("#0b3d91"), colour(tokens()[theme]["--chrome"])) >= EDGE


def test_shed_says_the_same_to_the_lamp_and_to_the_device() -> None:
    sets = blocks((CSS / "tokens.css").read_text())
    assert sets["shed"] == sets["device"]
    assert sets["shed"]["color-scheme"] == "dark"


def test_shed_gives_every_colour_that_daylight_gives() -> None:
    sets = blocks((CSS / "tokens.css").read_text())
    colours = {name for name, value in sets["daylight"].items() if value.startswith("#")}
    assert colours == {name for name, value in sets["shed"].items() if value.startswith("#")}
