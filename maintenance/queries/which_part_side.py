"""What stands beside the table of a which-part sheet: how it went, the facts it leans on, earlier findings, the repair."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.models import Fact
from maintenance.fault_finding import Finding, Sheet, posterior, repair_order
from maintenance.models import WhichResult, WhichSheet
from maintenance.which_state import (
    DOUBTFUL,
    as_it_stands,
    corrected_facts,
    counts,
    found_now,
    percent,
    standing,
    stop_at,
    verdict,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    row: WhichResult
    number: int
    name: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Replay:
    """A sheet as it went, for the vehicle's page."""

    sheet: WhichSheet
    said: str
    steps: tuple[Step, ...]


def replay_of(row: WhichSheet) -> Replay:
    """The log played again, from a sheet with its results and facts fetched."""
    gone = corrected_facts(row)
    sheet, results = as_it_stands(row, gone), list(row.results.all())
    numbers = {one["key"]: place for place, one in enumerate(row.definition["tests"], start=1)}
    said = row.cause_name or (
        "ended without a cause"
        if not row.is_open
        else verdict(sheet, found_now(sheet, standing(results), stop_at(row)))
    )
    return Replay(sheet=row, said=said, steps=steps_of(sheet, results, numbers))


@dataclass(frozen=True, slots=True, kw_only=True)
class LeanView:
    place: int
    fact: Fact
    why: str
    effect: str
    otherwise: str
    doubtful: bool
    corrected: Fact | None
    on: bool
    may_turn: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftView:
    name: str
    before: str
    after: str
    found: str


def steps_of(sheet: Sheet, results: Sequence[WhichResult], numbers: Mapping[str, int]) -> tuple[Step, ...]:
    """How it went, played again: after each result that stands, which cause led and by how much."""
    names = {cause.key: cause.name for cause in sheet.causes}
    known: dict[str, str] = {}
    told = []
    for one in results:
        after = ""
        if one.undone_at is None:
            known[one.test] = one.result
            chances = posterior(sheet, known)
            top = max(chances, key=lambda key: chances[key])
            after = f"{names[top]}, {percent(chances[top])}"
        told.append(
            Step(row=one, number=numbers.get(one.test, 0), name=sheet.test(one.test).name, after=after)
        )
    return tuple(told)


def leans_of(
    row: WhichSheet, sheet: Sheet, found: Finding, live: Mapping[str, str], gone: Mapping[int, Fact]
) -> tuple[LeanView, ...]:
    facts = {fact.pk: fact for fact in row.facts.all()}
    names = {cause.key: cause.name for cause in sheet.causes}
    tests = {test.key: test.name for test in sheet.tests}
    views = []
    for place, lean in enumerate(row.leans):
        fact = facts.get(lean["fact"])
        if fact is None:
            continue
        key = lean.get("cause", "")
        if key:
            other = as_it_stands(row, gone, turned=lean)
            start = {cause.key: cause.chance for cause in other.causes}
            now = {cause.key: cause.chance for cause in sheet.causes}
            effect = (
                f"{names[key]} starts at {percent(now[key])}; the other way round at {percent(start[key])}."
            )
            would = found_now(other, live, stop_at(row))
            otherwise = f"{names[key]} would stand at {percent(would.chances[key])} instead of {percent(found.chances[key])}. {verdict(other, would)}"
        else:
            effect = f"{tests.get(lean.get('test', ''), 'A test')} is read by it."
            rest = {test: result for test, result in live.items() if test != lean.get("test")}
            otherwise = f"Without that test: {verdict(sheet, found_now(sheet, rest, stop_at(row)))}"
        views.append(
            LeanView(
                place=place, fact=fact, why=lean["why"], effect=effect, otherwise=otherwise,
                doubtful=fact.sureness in DOUBTFUL and fact.pk not in gone, corrected=gone.get(fact.pk),
                on=counts(lean, gone), may_turn=bool(key) and fact.pk not in gone and row.is_open,
            )
        )  # fmt: skip
    return tuple(views)


def lifts_of(row: WhichSheet) -> tuple[LiftView, ...]:
    names = {one["key"]: one["name"] for one in row.definition["causes"]}
    return tuple(
        LiftView(
            name=names[one["cause"]],
            before=percent(one["before"]),
            after=percent(one["after"]),
            found=_times(one["own"], one["like"]),
        )
        for one in row.lifts
        if one["own"] or one["like"]
    )


def _times(own: int, like: int) -> str:
    words = [
        f"{count} {where}" for count, where in ((own, "on this vehicle"), (like, "on like vehicles")) if count
    ]
    return "found " + ", ".join(words)


def repair_of(sheet: Sheet, chances: Mapping[str, float]) -> tuple[tuple[str, ...], str]:
    """The cheapest order of check and cure; or why none may be given."""
    against = []
    if any(cause.minutes is None for cause in sheet.causes):
        against.append("not every cause has its minutes to check and cure")
    if any(test.set_up for test in sheet.tests):
        against.append("tests share a set-up")
    if any(test.needs for test in sheet.tests):
        against.append("a test needs another before it")
    if against:
        return (), f"No cheapest order of repair is given: {', '.join(against)}. Go by the next best test."
    order, cost = repair_order(
        [chances[cause.key] for cause in sheet.causes], [cause.minutes or 0.0 for cause in sheet.causes]
    )
    lines = [f"{sheet.causes[place].name}, {sheet.causes[place].minutes:g} min" for place in order]
    return (
        *lines,
        f"Expected {cost:.0f} min in this order, if each check surely finds and cures its own fault.",
    ), ""
