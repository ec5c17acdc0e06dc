"""A sheet to start from as its editor shows it, and what its last rehearsal found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from maintenance.models import WhichRehearsal, WhichTemplate
from maintenance.which_state import percent
from maintenance.which_typing import NEW_RESULTS, shown

EMPTY_CAUSE = {"name": "", "chance": None, "act": "", "minutes": None, "part": ""}
EMPTY_RESULT = {"name": "", "says": "", "stops": False, "chances": []}


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultRow:
    place: int
    name: str
    says: str
    stops: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseLine:
    """One cause under a test: the chance of each of its results, by name of its field."""

    name: str
    cells: tuple[tuple[str, str, str], ...]
    total: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TestRows:
    __test__ = False
    place: int
    kept: Mapping[str, Any]
    minutes: str
    cautions: str
    need: str
    results: tuple[ResultRow, ...]
    lines: tuple[CauseLine, ...]
    is_new: bool
    edge_words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EditorRows:
    causes: tuple[tuple[int, Mapping[str, Any], str], ...]
    set_ups: tuple[tuple[int, Mapping[str, Any]], ...]
    tests: tuple[TestRows, ...]
    total: str
    stop: str
    cautions: str


def editor_rows(definition: Mapping[str, Any]) -> EditorRows:
    """Every field of the sheet, with one empty row more of each kind."""
    causes = [*definition["causes"], EMPTY_CAUSE]
    set_ups = [*definition["set_ups"], {"name": "", "minutes": ""}]
    return EditorRows(
        causes=tuple(
            (place, one, shown(one["chance"]) if one["chance"] is not None else "")
            for place, one in enumerate(causes)
        ),
        set_ups=tuple(enumerate(set_ups)),
        tests=tuple(_test(place, one, definition) for place, one in enumerate([*definition["tests"], None])),
        total=shown(sum(one["chance"] for one in definition["causes"])),
        stop=shown(definition.get("stop_at", 0.9)),
        cautions="\n".join(definition["cautions"]),
    )


def _test(place: int, one: Mapping[str, Any] | None, definition: Mapping[str, Any]) -> TestRows:
    kept: Mapping[str, Any] = one or {
        "name": "", "minutes": "", "set_up": "", "needs": [], "cautions": [], "results": [], "edge": None,
    }  # fmt: skip
    blank = 1 if one else NEW_RESULTS + 1
    results = [*kept["results"], *[EMPTY_RESULT] * blank]
    lines = []
    for spot, cause in enumerate(definition["causes"]):
        chances = [row["chances"][spot] if row["chances"] else None for row in results]
        cells = tuple(
            (f"t-{place}-r-{row}-c-{spot}", shown(chance) if chance is not None else "", results[row]["name"])
            for row, chance in enumerate(chances)
        )
        total = shown(sum(chance for chance in chances if chance is not None))
        lines.append(CauseLine(name=cause["name"], cells=cells, total=total))
    edge = kept["edge"]
    return TestRows(
        place=place, kept=kept, minutes=f"{kept['minutes']:g}" if kept["minutes"] else "",
        cautions="\n".join(kept["cautions"]), need=kept["needs"][0] if kept["needs"] else "",
        results=tuple(ResultRow(place=n, name=row["name"], says=row["says"], stops=row["stops"]) for n, row in enumerate(results)),
        lines=tuple(lines) if one else (), is_new=one is None,
        edge_words=f"{edge['asks']}, {edge['unit']}: “{edge['within']}” within the limit, else “{edge['past']}”." if edge else "",
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayedCause:
    name: str
    found: str
    wrong: str
    minutes: str
    pair: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayedView:
    waiting: bool
    outdated: bool
    row: WhichRehearsal
    found: str
    minutes: str
    usual_found: str
    usual_minutes: str
    causes: tuple[PlayedCause, ...]


def played(template: WhichTemplate) -> PlayedView | None:
    """The newest rehearsal of the sheet, in words."""
    row = template.rehearsals.select_related("asked_by").first()
    if row is None:
        return None
    names = {one["key"]: one["name"] for one in template.definition["causes"]}
    result = row.result or {"found": 0, "minutes": 0, "fixed_found": 0, "fixed_minutes": 0, "causes": []}
    causes = tuple(
        PlayedCause(
            name=names.get(one["cause"], one["cause"]),
            found=percent(one["found"]),
            wrong=percent(one["wrong"]),
            minutes=f"{one['minutes']:.0f}",
            pair="" if one["reached"] or not one["mixed_with"] else names.get(one["mixed_with"], ""),
        )
        for one in result["causes"]
    )
    return PlayedView(
        waiting=row.done_at is None, outdated=row.template_version != template.version, row=row,
        found=percent(result["found"]), minutes=f"{result['minutes']:.0f}",
        usual_found=percent(result["fixed_found"]), usual_minutes=f"{result['fixed_minutes']:.0f}", causes=causes,
    )  # fmt: skip
