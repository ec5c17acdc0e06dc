"""A which-part sheet as its page and its paper show it: the table that fills in, the cards, what is next, how it went."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from string import ascii_lowercase
from typing import Any

from fleet.hazards import hazards_for
from fleet.models import Fact
from maintenance.fault_finding import Finding, Sheet, entropy, minutes_now, next_tests, posterior
from maintenance.models import WhichResult, WhichSheet
from maintenance.queries.which_part_side import (
    LeanView,
    LiftView,
    Step,
    leans_of,
    lifts_of,
    repair_of,
    steps_of,
)
from maintenance.which_minutes import Expected, expected
from maintenance.which_state import (
    NOT_TODAY,
    as_it_stands,
    corrected_facts,
    found_now,
    percent,
    standing,
    stop_at,
    verdict,
)

FITS, AGAINST, STRONG = 0.5, 0.15, 0.7


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """What a cause is likeliest to give in a test, by letter; and, once taken, whether the result fits it."""

    letter: str
    strong: bool
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    key: str
    name: str
    act: str
    whole: int
    text: str
    before: str
    lead: bool
    found: bool
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    name: str
    letter: str
    says: str
    stops: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TestCard:
    """One test: hazards first, then what to do, then what it may give."""

    __test__ = False
    key: str
    number: int
    name: str
    minutes: float
    set_up: str
    needs: str
    warnings: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    choices: tuple[Choice, ...]
    edge: Mapping[str, Any] | None
    edge_words: str
    taken: WhichResult | None
    taken_says: str
    taken_letter: str
    is_next: bool
    changed_in: int

    @property
    def skipped(self) -> bool:
        return self.taken is not None and self.taken.result == NOT_TODAY


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    number: int
    key: str
    name: str
    minutes: float
    share: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPage:
    sheet: WhichSheet
    code: str
    verdict: str
    must_not_run: bool
    odd: str
    bars: tuple[Bar, ...]
    ahead: tuple[Ahead, ...]
    tests: tuple[TestCard, ...]
    set_ups: tuple[str, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    steps: tuple[Step, ...]
    leans: tuple[LeanView, ...]
    lifts: tuple[LiftView, ...]
    repair: tuple[str, ...]
    no_repair: str
    corrected: Fact | None
    offered: str
    act: str
    unsettled: bool
    expected: Expected | None
    figures: Mapping[str, Any]


def which_page(row: WhichSheet) -> SheetPage:
    """Everything of the page, from a sheet that `which_detail` fetched."""
    gone = corrected_facts(row)
    sheet = as_it_stands(row, gone)
    results = list(row.results.all())
    live = standing(results)
    found = found_now(sheet, live, stop_at(row))
    ahead = _ahead(sheet, live) if row.is_open and found.code in {"go-on", "doubt"} else ()
    tests = _tests(row, sheet, results, ahead[0].key if ahead else "")
    repair, no_repair = repair_of(sheet, found.chances)
    numbers = {test.key: test.number for test in tests}
    return SheetPage(
        sheet=row, code=found.code, verdict=verdict(sheet, found), must_not_run=found.stop,
        odd=" and ".join(f"test {numbers[key]}" for key in found.odd), bars=_bars(row, sheet, found, live), ahead=ahead,
        tests=tests, set_ups=_set_ups(row, numbers), warnings=_lines(sheet.cautions, "WARNING"),
        cautions=_lines(sheet.cautions, "CAUTION"), steps=steps_of(sheet, results, numbers),
        leans=leans_of(row, sheet, found, live, gone), lifts=lifts_of(row), repair=repair, no_repair=no_repair,
        corrected=max(gone.values(), key=lambda fact: (fact.recorded_on, fact.pk), default=None),
        offered=found.causes[0] if found.code == "found" else "", act=_act_of(sheet, row, found),
        unsettled=_unsettled(row, gone), expected=expected(sheet, live) if ahead else None,
        figures=_figures(sheet, live, stop_at(row)),
    )  # fmt: skip


def _act_of(sheet: Sheet, row: WhichSheet, found: Finding) -> str:
    """What is to be done about the cause that was found."""
    key = row.cause or (found.causes[0] if found.code == "found" else "")
    return next((cause.act for cause in sheet.causes if cause.key == key), "")


def _unsettled(row: WhichSheet, gone: Mapping[int, Fact]) -> bool:
    if row.is_open or not gone:
        return False
    newest = max(fact.recorded_on for fact in gone.values())
    return row.settled_at is None or row.settled_at.date() < newest


def _figures(sheet: Sheet, live: Mapping[str, str], stop: float) -> dict[str, Any]:
    """Chances and tables, for a phone that works them out with no signal."""
    return {
        "stop": stop,
        "causes": [{"key": one.key, "name": one.name, "chance": one.chance} for one in sheet.causes],
        "tests": {one.key: [[name, list(row)] for name, row in one.table.items()] for one in sheet.tests},
        "known": {key: result for key, result in live.items() if result != NOT_TODAY},
    }


def _lines(cautions: Sequence[str], level: str) -> tuple[str, ...]:
    return tuple(line.removeprefix(f"{level}. ") for line in cautions if line.startswith(f"{level}. "))


def _bars(row: WhichSheet, sheet: Sheet, found: Finding, live: Mapping[str, str]) -> tuple[Bar, ...]:
    top = max(found.chances.values())
    bars = []
    for place, cause in enumerate(sheet.causes):
        chance = found.chances[cause.key]
        bars.append(
            Bar(
                key=cause.key,
                name=cause.name,
                act=cause.act,
                whole=round(chance * 100),
                text=percent(chance),
                before=percent(cause.chance),
                lead=chance == top,
                found=row.cause == cause.key,
                cells=tuple(_cell(test.table, place, live.get(test.key)) for test in sheet.tests),
            )
        )
    return tuple(bars)


def _cell(table: Mapping[str, Sequence[float]], place: int, taken: str | None) -> Cell:
    names = list(table)
    likeliest = max(names, key=lambda name: table[name][place])
    chance = table[likeliest][place]
    word = ""
    if taken is not None and taken in table:
        seen = table[taken][place]
        word = "fits" if seen >= FITS else "against" if seen < AGAINST else "open"
    return Cell(letter=ascii_lowercase[names.index(likeliest)], strong=chance >= STRONG, word=word)


def _ahead(sheet: Sheet, live: Mapping[str, str]) -> tuple[Ahead, ...]:
    doubt = entropy(posterior(sheet, live).values())
    numbers = {test.key: place for place, test in enumerate(sheet.tests, start=1)}
    found = []
    for one in next_tests(sheet, live):
        share = round(100 * one.bits / doubt) if doubt else 0
        minutes = f"{minutes_now(sheet, one.key, live):g} min"
        if one.minutes > sheet.test(one.key).minutes:
            minutes += " with its set-up"
        settles = f"clears about {share}% of the doubt" if share else "clears next to nothing"
        found.append(
            Ahead(
                number=numbers[one.key],
                key=one.key,
                name=sheet.test(one.key).name,
                minutes=one.minutes,
                share=share,
                words=f"{minutes}, {settles}",
            )
        )
    return tuple(found)


def _tests(
    row: WhichSheet, sheet: Sheet, results: Sequence[WhichResult], next_key: str
) -> tuple[TestCard, ...]:
    taken = {one.test: one for one in results if one.undone_at is None}
    numbers = {one["key"]: place for place, one in enumerate(row.definition["tests"], start=1)}
    changed: dict[str, int] = {}
    for one in results:
        changed[one.test] = max(changed.get(one.test, 0), one.in_version, one.out_version or 0)
    set_ups = {one.key: one.name for one in sheet.set_ups}
    cards = []
    for rows in row.definition["tests"]:
        key, there = rows["key"], taken.get(rows["key"])
        warnings, cautions = _hazards(rows)
        choices = tuple(
            Choice(name=one["name"], letter=ascii_lowercase[place], says=one["says"], stops=one["stops"])
            for place, one in enumerate(rows["results"])
        )
        chosen = next((one for one in choices if there is not None and one.name == there.result), None)
        cards.append(
            TestCard(
                key=key, number=numbers[key], name=rows["name"], minutes=rows["minutes"], set_up=set_ups.get(rows["set_up"], ""),
                needs=", ".join(f"test {numbers[need]}" for need in rows["needs"]), warnings=warnings, cautions=cautions,
                choices=choices, edge=rows["edge"], edge_words=_edge_words(rows["edge"]), taken=there,
                taken_says=chosen.says if chosen else "", taken_letter=chosen.letter if chosen else "",
                is_next=key == next_key, changed_in=changed.get(key, 0),
            )
        )  # fmt: skip
    return tuple(cards)


def _edge_words(edge: Mapping[str, Any] | None) -> str:
    if not edge:
        return ""
    limit = edge["limit"]
    bound = (
        f"{limit['high']} {edge['unit']} most" if "high" in limit else f"{limit['low']} {edge['unit']} least"
    )
    return f"{bound} is “{edge['within']}”, beyond it “{edge['past']}”"


def _hazards(rows: Mapping[str, Any]) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    sheets = hazards_for(rows["hazards"])
    warnings = [(one.title, line) for one in sheets for line in one.warnings]
    warnings += [("", line) for line in _lines(rows["cautions"], "WARNING")]
    cautions = [line for one in sheets for line in (*one.cautions, *one.notes)]
    return tuple(warnings), (*cautions, *_lines(rows["cautions"], "CAUTION"))


def _set_ups(row: WhichSheet, numbers: Mapping[str, int]) -> tuple[str, ...]:
    told = []
    for one in row.definition["set_ups"]:
        serves = [
            str(numbers[test["key"]]) for test in row.definition["tests"] if test["set_up"] == one["key"]
        ]
        if serves:
            listed = (
                f"tests {', '.join(serves[:-1])} and {serves[-1]}" if len(serves) > 1 else f"test {serves[0]}"
            )
            told.append(f"{one['name']}: {one['minutes']:g} min, once, serves {listed}.")
    return tuple(told)
