"""A fault-finding sheet as it is kept, and what hangs on it: number edges, facts, earlier findings, a live check.

Kept as plain rows, so that an open sheet holds its own copy and a later change of its template leaves it alone. Results
stand in a list, never as the keys of a mapping: a database may sort keys.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from maintenance.fault_finding import STOP_AT, posterior
from maintenance.fault_sheet import Cause, SetUp, Sheet, Test
from maintenance.limits import Verdict, judge, read_limit

Kept = Mapping[str, Any]

LIFT_WEIGHT = 10.0
"""A sheet's own chances weigh as much as this many findings. House figure, common practice."""
LIKE_SHARE = 0.5
"""A finding on a like vehicle weighs half of one on the same vehicle. House figure, common practice."""
SEPARATES = 0.05
"""A test whose results differ by less than this between all causes tells nothing."""


def kept_of(sheet: Sheet, extras: Kept | None = None) -> dict[str, Any]:
    """The rows of a sheet.

    Args:
        sheet: the sheet.
        extras: "hazards" and "edges" by test, "parts" by cause, "leans" as a list; each may be missing.
    """
    more = extras or {}
    return {
        "key": sheet.key,
        "name": sheet.name,
        "source": sheet.source,
        "cautions": list(sheet.cautions),
        "causes": [
            {
                "key": one.key,
                "name": one.name,
                "chance": one.chance,
                "act": one.act,
                "minutes": one.minutes,
                "part": more.get("parts", {}).get(one.key, ""),
            }
            for one in sheet.causes
        ],
        "set_ups": [{"key": one.key, "name": one.name, "minutes": one.minutes} for one in sheet.set_ups],
        "tests": [_kept_test(test, more) for test in sheet.tests],
        "leans": [dict(lean) for lean in more.get("leans", ())],
    }


def _kept_test(test: Test, more: Kept) -> dict[str, Any]:
    return {
        "key": test.key,
        "name": test.name,
        "minutes": test.minutes,
        "set_up": test.set_up,
        "needs": list(test.needs),
        "cautions": list(test.cautions),
        "hazards": list(more.get("hazards", {}).get(test.key, ())),
        "results": [
            {"name": name, "chances": list(row), "says": test.says.get(name, ""), "stops": name in test.stops}
            for name, row in test.table.items()
        ],
        "edge": more.get("edges", {}).get(test.key),
    }


def sheet_of(kept: Kept, chances: Mapping[str, float] | None = None) -> Sheet:
    """The sheet of kept rows.

    Args:
        kept: as ``kept_of`` makes them.
        chances: other chances for some causes; all are scaled to add to one.

    Raises:
        ValueError: the rows break a rule of a sheet.
    """
    sheet = Sheet(
        key=kept["key"],
        name=kept["name"],
        source=kept["source"],
        cautions=tuple(kept["cautions"]),
        causes=tuple(
            Cause(
                key=one["key"],
                name=one["name"],
                chance=one["chance"],
                act=one["act"],
                minutes=one["minutes"],
            )
            for one in kept["causes"]
        ),
        set_ups=tuple(
            SetUp(key=one["key"], name=one["name"], minutes=one["minutes"]) for one in kept["set_ups"]
        ),
        tests=tuple(_test_of(one) for one in kept["tests"]),
    )
    return sheet.with_chances(chances) if chances else sheet


def _test_of(one: Kept) -> Test:
    results = one["results"]
    return Test(
        key=one["key"],
        name=one["name"],
        minutes=one["minutes"],
        set_up=one["set_up"],
        needs=tuple(one["needs"]),
        cautions=tuple(one["cautions"]),
        table={row["name"]: tuple(row["chances"]) for row in results},
        says={row["name"]: row["says"] for row in results if row["says"]},
        stops=tuple(row["name"] for row in results if row["stops"]),
    )


def test_row(kept: Kept, key: str) -> Kept:
    """The kept rows of one test.

    Raises:
        ValueError: the sheet has no such test.
    """
    for one in kept["tests"]:
        if one["key"] == key:
            row: Kept = one
            return row
    raise ValueError(f"This sheet has no test {key!r}.")


def result_by_number(edge: Kept, raw: str) -> tuple[str, Verdict]:
    """The result that a number stands for, by the test's limit; equal to the limit counts as within it.

    Args:
        edge: "limit" as ``maintenance.limits.read_limit`` takes it, "within" and "past": the results' names.
        raw: the number as typed.

    Raises:
        ValueError: not a number.
    """
    text = raw.strip().replace(",", ".")
    verdict = judge(read_limit(edge["limit"]), [text])
    return (edge["within"] if verdict.passes else edge["past"]), verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Lift:
    """What earlier findings do to one cause's chance.

    Attributes:
        cause: its key.
        before: chance on the sheet.
        after: chance with the findings.
        own: times found on this vehicle.
        like: times found on like vehicles.
    """

    cause: str
    before: float
    after: float
    own: int
    like: int


def lifted(chances: Mapping[str, float], own: Mapping[str, int], like: Mapping[str, int]) -> tuple[Lift, ...]:
    """Chances shrunk between the sheet and what was found before.

    after = (W p + own + s like) / (W + all own + s all like), W ``LIFT_WEIGHT``, s ``LIKE_SHARE``: the mean of a
    Dirichlet prior of weight W at the sheet's chances. A cause that the sheet does not have counts for nothing.

    Args:
        chances: of the sheet, adding to one.
        own: how often each cause was found on this vehicle.
        like: the same on like vehicles.

    Returns:
        One for each cause, in the order of the sheet; empty when nothing was ever found.
    """
    counts = {key: own.get(key, 0) + LIKE_SHARE * like.get(key, 0) for key in chances}
    total = math.fsum(counts.values())
    if not total:
        return ()
    return tuple(
        Lift(
            cause=key,
            before=chance,
            after=(LIFT_WEIGHT * chance + counts[key]) / (LIFT_WEIGHT + total),
            own=own.get(key, 0),
            like=like.get(key, 0),
        )
        for key, chance in chances.items()
    )


def leans_on(kept: Kept, about: str, value: str) -> list[Kept]:
    """What of a sheet leans on a fact: each lean whose words stand in what the fact is about and in its value."""
    return [
        lean
        for lean in kept["leans"]
        if lean["about"].casefold() in about.casefold()
        and lean.get("value", "").casefold() in value.casefold()
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """What is wrong with a sheet, and what is weak in it.

    Attributes:
        wrong: it cannot be used until this is put right.
        weak: it can be used, and will disappoint.
    """

    wrong: tuple[str, ...]
    weak: tuple[str, ...]


def check(kept: Kept) -> Check:
    """Looks a sheet over while it is being written: sums, tests that separate nothing, causes out of reach."""
    wrong = _sums(kept)
    if not wrong:
        try:
            sheet = sheet_of(kept)
        except ValueError as trouble:
            wrong.append(str(trouble))
    if wrong:
        return Check(wrong=tuple(wrong), weak=())
    if not sheet.tests:
        return Check(wrong=("There is no test yet.",), weak=())
    return Check(wrong=(), weak=(*_telling_nothing(sheet), *_out_of_reach(sheet)))


def _sums(kept: Kept) -> list[str]:
    wrong = []
    total = math.fsum(one["chance"] for one in kept["causes"])
    if not math.isclose(total, 1.0, abs_tol=1e-6):
        wrong.append(f"The chances of the causes add to {total * 100:.4g}%, not 100%.")
    names = [one["name"] for one in kept["causes"]]
    for test in kept["tests"]:
        for place, name in enumerate(names):
            column = math.fsum(row["chances"][place] for row in test["results"])
            if not math.isclose(column, 1.0, abs_tol=1e-6):
                wrong.append(f"{test['name']}: under “{name}” the results add to {column * 100:.4g}%.")
    return wrong


def _telling_nothing(sheet: Sheet) -> list[str]:
    return [
        f"{test.name}: separates nothing, its results are as likely under every cause."
        for test in sheet.tests
        if max(max(row) - min(row) for row in test.table.values()) < SEPARATES
    ]


def _out_of_reach(sheet: Sheet) -> list[str]:
    """Causes that stay below the stopping chance even when every test gives the result that is likeliest under them."""
    found = []
    for place, cause in enumerate(sheet.causes):
        best = {test.key: max(test.table, key=lambda r, t=test: t.table[r][place]) for test in sheet.tests}  # type: ignore[misc]
        chances = posterior(sheet, best)
        if chances[cause.key] < STOP_AT:
            other = max((key for key in chances if key != cause.key), key=lambda key: chances[key])
            name = next(one.name for one in sheet.causes if one.key == other)
            found.append(
                f"{cause.name}: out of reach. With every result that suits it, it comes to {chances[cause.key]:.0%}; "
                f"“{name}” stands beside it."
            )
    return found


def scaled(chances: Sequence[float]) -> list[float]:
    """Figures above nought scaled to add to one, the last place taking the rounding.

    Raises:
        ValueError: a figure that is not above nought.
    """
    if not chances or any(not one > 0 for one in chances):
        raise ValueError("Every chance must be above nought.")
    total = math.fsum(chances)
    return [one / total for one in chances]


def number(value: Any) -> Decimal | None:
    """A typed figure, a comma allowed; None for nothing.

    Raises:
        ValueError: not a finite number.
    """
    text = str(value if value is not None else "").strip().replace(",", ".")
    if not text:
        return None
    try:
        found = Decimal(text)
    except ArithmeticError as trouble:
        raise ValueError(f"“{text}” is not a number.") from trouble
    if not found.is_finite():
        raise ValueError(f"“{text}” is not a number.")
    return found
