"""How a which-part sheet stands: its chances with earlier findings and facts, and what its results make of them.

No database here: the rows come with their results and facts already fetched.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from maintenance.fault_finding import STOP_AT, Finding, finding
from maintenance.fault_sheet import NOT_TODAY, Sheet
from maintenance.models import WhichResult, WhichSheet
from maintenance.which_sheet import sheet_of

DOUBTFUL = frozenset({"told", "guessed"})
JUST_UNDER = 99.5


def percent(chance: float) -> str:
    """Whole percent, and never a certainty: "under 1%", "12%", "over 99%"."""
    if chance * 100 >= JUST_UNDER:
        return "over 99%"
    return f"{chance * 100:.0f}%" if chance * 100 >= 1 else "under 1%"


def standing(results: Iterable[WhichResult]) -> dict[str, str]:
    """The results that stand, test to result."""
    return {one.test: one.result for one in results if one.undone_at is None}


def corrected_facts(sheet: WhichSheet) -> dict[int, Any]:
    """The facts of a sheet that were corrected since, each with the fact that took its place."""
    return {fact.pk: fact.corrected_by for fact in sheet.facts.all() if getattr(fact, "corrected_by", None)}


def counts(lean: Mapping[str, Any], gone: Mapping[int, Any]) -> bool:
    """Whether what leans on a fact is let count: switched on, and the fact not corrected since."""
    return bool(lean["on"]) and lean["fact"] not in gone


def chances_of(
    sheet: WhichSheet, gone: Mapping[int, Any], *, turned: Mapping[str, Any] | None = None
) -> dict[str, float]:
    """The chance of each cause before any test, not yet scaled.

    Args:
        sheet: the row.
        gone: facts corrected since.
        turned: a lean taken as the other way round, to show what would differ if its fact were wrong.
    """
    chances = {one["key"]: float(one["chance"]) for one in sheet.definition["causes"]}
    if sheet.lifts_used:
        chances |= {one["cause"]: one["after"] for one in sheet.lifts}
    for lean in sheet.leans:
        if lean.get("cause") and counts(lean, gone) != (lean is turned):
            chances[lean["cause"]] = lean["chance"]
    return chances


def as_it_stands(
    sheet: WhichSheet, gone: Mapping[int, Any], *, turned: Mapping[str, Any] | None = None
) -> Sheet:
    """The sheet with the chances that count on it now."""
    return sheet_of(sheet.definition, chances_of(sheet, gone, turned=turned))


def stop_at(sheet: WhichSheet) -> float:
    """The chance at which this sheet says stop."""
    return float(sheet.definition.get("stop_at", STOP_AT))


def found_now(sheet: Sheet, results: Mapping[str, str], stop: float) -> Finding:
    return finding(sheet, results, stop_at=stop)


def verdict(sheet: Sheet, found: Finding) -> str:
    """Where the search stands, in words, with whole percent and never a certainty."""
    names = {cause.key: cause.name for cause in sheet.causes}
    top = found.causes[0]
    if found.code == "found":
        return f"{names[top]}: {percent(found.chances[top])}. Stop testing, and prove it by the repair."
    if found.code == "go-on":
        return f"Likeliest so far: {names[top]}, {percent(found.chances[top])}."
    if found.code == "cannot-tell":
        told = [f"{names[key]} ({percent(found.chances[key])})" for key in found.causes]
        listed = f"{', '.join(told[:-1])} and {told[-1]}" if len(told) > 1 else told[0]
        return f"No test left on this sheet tells more. It cannot tell apart: {listed}."
    return "These results fit no single cause. Take the oddest again, or think of more than one fault."


__all__ = [
    "DOUBTFUL",
    "NOT_TODAY",
    "as_it_stands",
    "chances_of",
    "corrected_facts",
    "counts",
    "found_now",
    "percent",
    "standing",
    "stop_at",
    "verdict",
]
