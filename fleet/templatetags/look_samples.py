"""Invented data for the kit page, so that every part can be seen in all its cases without a database."""

from __future__ import annotations

from dataclasses import dataclass

from django import template

register = template.Library()


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleTape:
    case: str
    title: str
    words: str
    label: str
    freeze_pct: float | None = 46.05
    even_pct: float | None = None
    eight_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleTick:
    pct: float
    label: str
    is_monday: bool
    is_weekend: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleRule:
    title: str
    ticks: tuple[SampleTick, ...]
    day_pct: float
    label: str
    freeze_pct: float | None
    event_from_pct: float | None
    event_to_pct: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleSight:
    bad: tuple[tuple[float, float], ...]
    ok: tuple[float, float]
    limits: tuple[tuple[float, str], ...]
    reading_pct: float | None
    label: str


def _said(even: str, eight: str, chance: int) -> str:
    return f"Example: even chance by {even}, 8 in 10 by {eight}, freeze 11 June, {chance} in 100"


TAPES = (
    SampleTape(
        case="before",
        title="clear before the freeze",
        words="6–9 Jun",
        label=_said("6 June", "9 June", 88),
        even_pct=15.79,
        eight_pct=31.58,
    ),
    SampleTape(
        case="across",
        title="crosses the freeze",
        words="10–14 Jun",
        label=_said("10 June", "14 June", 56),
        even_pct=36.84,
        eight_pct=57.89,
    ),
    SampleTape(
        case="after",
        title="after the freeze",
        words="13–17 Jun",
        label=_said("13 June", "17 June", 20),
        even_pct=52.63,
        eight_pct=73.68,
    ),
    SampleTape(
        case="off_end",
        title="off the end of the rule",
        words="18–26 Jun",
        label=_said("18 June", "26 June", 4),
        even_pct=78.95,
        eight_pct=121.0,
    ),
    SampleTape(
        case="off_end",
        title="both dates off the end",
        words="30 Jun – 8 Jul",
        label=_said("30 June", "8 July", 0),
        even_pct=142.1,
        eight_pct=184.2,
    ),
    SampleTape(
        case="clear_now",
        title="clear now",
        words="clear now",
        label="Example: clear now, freeze 11 June, 92 in 100",
    ),
    SampleTape(
        case="unknown",
        title="not worked out",
        words="not judged",
        label="Example: not judged, freeze 11 June",
    ),
)


def _rule(
    title: str, *, first: int, days: int, freeze: float, event: tuple[float, float], mondays_only: bool
) -> SampleRule:
    width = 100.0 / days
    ticks = tuple(
        SampleTick(
            pct=i * width,
            label=str((first + i - 1) % 30 + 1) if not mondays_only or (i + 2) % 7 == 0 else "",
            is_monday=(i + 2) % 7 == 0,
            is_weekend=(i + 2) % 7 in {5, 6},
        )
        for i in range(days)
    )
    return SampleRule(
        title=title,
        ticks=ticks,
        day_pct=width,
        label=f"Scale of {days} days from {first} June. Freeze 11 June at 18:00. Event 13 and 14 June.",
        freeze_pct=freeze,
        event_from_pct=event[0],
        event_to_pct=event[1],
    )


RULES = (
    _rule("up to 21 days", first=3, days=19, freeze=46.05, event=(52.63, 63.16), mondays_only=False),
    _rule("beyond: Mondays only", first=3, days=35, freeze=25.0, event=(28.57, 34.29), mondays_only=True),
)

SIGHTS = (
    SampleSight(
        bad=((0.0, 40.0),),
        ok=(40.0, 100.0),
        limits=((40.0, "3.0 least"),),
        reading_pct=48.0,
        label="Scale from 1 to 6 millimetres; least allowed 3.0; reading 3.4: within the limit",
    ),
    SampleSight(
        bad=((0.0, 20.0), (80.0, 100.0)),
        ok=(20.0, 80.0),
        limits=((20.0, "90 least"), (80.0, "95 most")),
        reading_pct=None,
        label="Scale from 88 to 97 psi; least 90, most 95; no reading yet",
    ),
)

PAINTS = [
    "wall",
    "sheet",
    "sheet-2",
    "card",
    "card-2",
    "ink",
    "ink-2",
    "rule",
    "edge",
    "paint",
    "paint-2",
    "drum",
    "leaf",
    "enamel",
    "chrome",
    "oxide",
    "idle",
    "focus",
]


DIALS = ((0.2, "Sound"), (0.55, "Worn"), (0.7, "Near limit"), (0.93, "Past limit"), (None, "Not looked at"))
SHAPES = (
    ("fit", "disc, tick cut out"),
    ("limits", "ring with a bar"),
    ("likely", "pennant, chevron, pointing forward"),
    ("doubtful", "triangle, mark of warning"),
    ("unlikely", "square block, cross cut out"),
    ("down", "slab laid flat, line through"),
    ("unjudged", "broken ring, question"),
    ("barred", "open ring, gate bar across, two posts"),
)
WARNINGS = ("On stands, never on the jack alone.", "Pull-off springs fly. Use the spring tool.")
CAUTIONS = ("Never force a seized adjuster: the casting cracks.",)
NOTES = ("The vehicle's own manual comes before this card.",)


@register.simple_tag
def kit_samples() -> dict[str, object]:
    return {
        "tapes": TAPES,
        "rules": RULES,
        "sights": SIGHTS,
        "paints": PAINTS,
        "dials": DIALS,
        "shapes": SHAPES,
        "warnings": WARNINGS,
        "cautions": CAUTIONS,
        "notes": NOTES,
    }
