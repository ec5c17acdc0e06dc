"""Reads the colour tokens out of the style sheet, and measures contrast as WCAG 2.2 defines it."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
CSS = ROOT / "static" / "css"
Colour = tuple[float, float, float, float]


def blocks(text: str) -> dict[str, dict[str, str]]:
    """The three sets of declarations: daylight, the lamp's shed, the device's shed."""
    text = re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)
    heads = {
        "daylight": r":root\{",
        "shed": r":root\[data-theme=shed\]\{",
        "device": r":root:not\(\[data-theme\]\)\{",
    }
    found = {}
    for name, head in heads.items():
        body = re.search(head + r"([^}]*)\}", text)
        assert body, f"no block for {name}"
        pairs = (line.split(":", 1) for line in body.group(1).split(";") if ":" in line)
        found[name] = {key.strip(): value.strip() for key, value in pairs}
    return found


def tokens() -> dict[str, dict[str, str]]:
    sets = blocks((CSS / "tokens.css").read_text())
    return {"daylight": sets["daylight"], "shed": sets["daylight"] | sets["shed"]}


def colour(text: str) -> Colour:
    digits = text.lstrip("#")
    assert re.fullmatch(r"[0-9a-f]{6}([0-9a-f]{2})?", digits), f"not a plain hex colour: {text}"
    parts = [int(digits[i : i + 2], 16) / 255 for i in range(0, len(digits), 2)]
    return (parts[0], parts[1], parts[2], parts[3] if len(parts) == 4 else 1.0)


def over(top: Colour, ground: Colour) -> Colour:
    a = top[3]
    return (*(a * t + (1 - a) * g for t, g in zip(top[:3], ground[:3], strict=True)), 1.0)  # type: ignore[return-value]


def luminance(c: Colour) -> float:
    """WCAG 2.2, relative luminance, with the sRGB threshold 0.04045."""
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in c[:3]]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: Colour, b: Colour) -> float:
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def ground(name: str, theme: dict[str, str]) -> Colour:
    """A token, or 'late on wall': the tint after the freeze laid over another ground."""
    if " on " in name:
        top, below = name.split(" on ")
        return over(colour(theme[f"--{top}"]), colour(theme[f"--{below}"]))
    return colour(theme[f"--{name}"])
