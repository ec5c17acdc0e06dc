"""Which part: causes, tests, and what each result says.

One fault is taken to be present. A sheet holds causes with their chance before testing, and tests with the
chance of each result for each cause; given the cause, results are independent, so their order changes
nothing. The next best test is the one with the most expected information for its minutes. Where every
check surely finds and cures its own fault, the cheapest order of repair is by chance over cost (Kadane and
Simon 1977; Heckerman, Breese and Rommelse 1995).

All chances of the shipped sheets are workshop experience, not data, and are shown in whole percent at most.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

import numpy as np

from maintenance.fault_sheet import NOT_TODAY, Cause, SetUp, Sheet, Test, two

__all__ = [
    "NOT_TODAY",
    "Cause",
    "Finding",
    "Next",
    "SetUp",
    "Sheet",
    "Test",
    "cost_of_order",
    "entropy",
    "expected_minutes",
    "finding",
    "fit",
    "information",
    "minutes_now",
    "next_tests",
    "posterior",
    "repair_order",
    "two",
]

STOP_AT = 0.90
NOTHING_TO_GAIN = 0.01  # bits: below this a test cannot be told from a waste of time
MISFIT = 0.02  # results as odd as this, or odder, happen once in fifty when the cause is right

Results = Mapping[str, str]


def _row(sheet: Sheet, key: str, result: str) -> tuple[float, ...]:
    test = sheet.test(key)
    if result not in test.table:
        raise ValueError(f"Test {key} of sheet {sheet.key} has no result {result!r}.")
    return test.table[result]


def _taken(results: Results) -> dict[str, str]:
    return {key: result for key, result in results.items() if result != NOT_TODAY}


def posterior(sheet: Sheet, results: Results) -> dict[str, float]:
    """The chance of each cause after these results, in the order of the sheet.

    P(cause | results) is proportional to P(cause) x product of P(result | cause). Sums of logarithms, so
    that many results cannot run out of digits.

    Args:
        sheet: the sheet.
        results: test key to result; ``NOT_TODAY`` is no evidence.

    Returns:
        Chances that add to one.

    Raises:
        ValueError: an unknown test or result.
    """
    for key in results:
        sheet.test(key)
    rows = [_row(sheet, key, result) for key, result in sorted(_taken(results).items())]
    logs = [
        math.log(cause.chance) + math.fsum(math.log(row[place]) for row in rows)
        for place, cause in enumerate(sheet.causes)
    ]
    top = max(logs)
    weights = [math.exp(one - top) for one in logs]
    total = math.fsum(weights)
    return {cause.key: weight / total for cause, weight in zip(sheet.causes, weights, strict=True)}


def entropy(chances: Iterable[float]) -> float:
    """Doubt in bits: -sum p log2 p."""
    return -math.fsum(chance * math.log2(chance) for chance in chances if chance > 0)


def information(chances: Sequence[float], table: Mapping[str, Sequence[float]]) -> float:
    """Bits by which a test is expected to lower the doubt; never below nought.

    Args:
        chances: of the causes now.
        table: for each result, its chance under each cause.
    """
    left = []
    for row in table.values():
        joint = [chance * likely for chance, likely in zip(chances, row, strict=True)]
        share = math.fsum(joint)
        if share > 0:
            left.append(share * entropy(one / share for one in joint))
    return max(0.0, entropy(chances) - math.fsum(left))


@dataclass(frozen=True, slots=True, kw_only=True)
class Next:
    """A test that can be done now.

    Attributes:
        key: the test.
        minutes: with its set-up, unless that stands already.
        bits: expected information.
        bits_per_hour: for those minutes.
        bits_per_hour_bare: for the minutes without the set-up.
    """

    key: str
    minutes: float
    bits: float
    bits_per_hour: float
    bits_per_hour_bare: float


def minutes_now(sheet: Sheet, key: str, results: Results) -> float:
    """Minutes of a test as things stand: a set-up that a test already done has used costs nothing more."""
    test = sheet.test(key)
    standing = {sheet.test(done).set_up for done in _taken(results)}
    if not test.set_up or test.set_up in standing:
        return test.minutes
    return test.minutes + next(one.minutes for one in sheet.set_ups if one.key == test.set_up)


def next_tests(sheet: Sheet, results: Results, *, set_ups: bool = True) -> tuple[Next, ...]:
    """Tests that can be done now, best first by expected information for the time they take.

    Left out are tests already answered (or not possible today) and tests whose needed test has not been
    done. Equals keep the order of the sheet.

    Args:
        sheet: the sheet.
        results: what is known.
        set_ups: rank by minutes with the set-up, counted once for all tests that share it; False ranks by
            the bare minutes, for a vehicle that stands ready anyway.

    Returns:
        The ranking; empty when nothing is left to do.
    """
    now = list(posterior(sheet, results).values())
    taken = _taken(results)
    found = []
    for test in sheet.tests:
        if test.key in results or not set(test.needs) <= taken.keys():
            continue
        minutes = minutes_now(sheet, test.key, results)
        bits = information(now, test.table)
        found.append(
            Next(
                key=test.key,
                minutes=minutes,
                bits=bits,
                bits_per_hour=bits / minutes * 60,
                bits_per_hour_bare=bits / test.minutes * 60,
            )
        )

    def rate(one: Next) -> float:
        # Rounded, so that equals are equals and keep the order of the sheet.
        return -round(one.bits_per_hour if set_ups else one.bits_per_hour_bare, 9)

    return tuple(sorted(found, key=rate))


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Where the search stands.

    Attributes:
        code: "found", "cannot-tell", "doubt" or "go-on".
        causes: the cause found; or those that cannot be told apart; or, when going on or in doubt, the
            likeliest first.
        chances: of every cause.
        odd: in doubt, the tests whose results fit the likeliest cause worst.
        stop: a result says that the vehicle must not run.
        sentence: the same in plain words.
    """

    code: str
    causes: tuple[str, ...]
    chances: Mapping[str, float]
    odd: tuple[str, ...]
    stop: bool
    sentence: str


def fit(sheet: Sheet, results: Results, cause: str) -> float:
    """How well the results fit one cause: the chance of results at most as likely as these, were it the one.

    By enumeration of every set of results of the tests done.
    """
    place = [one.key for one in sheet.causes].index(cause)
    seen, every = 0.0, np.zeros(1)
    for key, result in sorted(_taken(results).items()):
        seen += math.log(_row(sheet, key, result)[place])
        every = np.add.outer(every, np.log([row[place] for row in sheet.test(key).table.values()])).ravel()
    return float(np.exp(every[every <= seen + 1e-9]).sum())


def _sentence(names: Mapping[str, str], code: str, causes: tuple[str, ...], top: float) -> str:
    said = [names[cause] for cause in causes]
    if code == "found":
        return f"{said[0]}: {top:.0%}. Stop testing."
    if code == "cannot-tell":
        rest = f"{', '.join(said[:-1])} and {said[-1]}" if len(said) > 1 else said[0]
        return f"No test left on this sheet tells more. It cannot tell apart: {rest}."
    if code == "doubt":
        return "These results fit no single cause. Take the oddest again, or think of two faults at once."
    return f"Likeliest so far: {said[0]}, {top:.0%}."


def finding(sheet: Sheet, results: Results, *, stop_at: float = STOP_AT) -> Finding:
    """Whether to stop, and on what.

    In doubt when the results would be rarer than ``MISFIT`` under every cause; found when one cause reaches
    ``stop_at``; cannot tell when no test that can be done promises ``NOTHING_TO_GAIN`` bits: then the causes
    are named that make up ``stop_at`` between them.

    Args:
        sheet: the sheet.
        results: what is known.
        stop_at: chance at which to stop.

    Returns:
        The finding.
    """
    chances = posterior(sheet, results)
    ranked = tuple(sorted(chances, key=lambda key: -chances[key]))
    top = chances[ranked[0]]
    taken = _taken(results)
    odd: tuple[str, ...] = ()
    if taken and max(fit(sheet, results, cause) for cause in chances) < MISFIT:
        code, causes = "doubt", ranked
        place = [one.key for one in sheet.causes].index(ranked[0])
        odd = tuple(sorted(taken, key=lambda key: _row(sheet, key, taken[key])[place]))[:2]
    elif top >= stop_at:
        code, causes = "found", ranked[:1]
    elif all(one.bits < NOTHING_TO_GAIN for one in next_tests(sheet, results)):
        held = accumulate(chances[key] for key in ranked)
        code, causes = "cannot-tell", ranked[: 1 + sum(total < stop_at for total in held)]
    else:
        code, causes = "go-on", ranked
    names = {cause.key: cause.name for cause in sheet.causes}
    return Finding(
        code=code,
        causes=causes,
        chances=chances,
        odd=odd,
        stop=any(result in sheet.test(key).stops for key, result in taken.items()),
        sentence=_sentence(names, code, causes, top),
    )


def expected_minutes(
    sheet: Sheet, results: Results | None = None, *, order: Sequence[str] | None = None
) -> tuple[float, float]:
    """Mean minutes until the search stops, and the chance that it then has a cause, by full enumeration.

    Args:
        sheet: the sheet.
        results: what is known already.
        order: tests in a fixed order, skipping what cannot be done; None asks the best next test each time.

    Returns:
        Mean minutes and the chance of ending on "found".
    """
    known = dict(results or {})
    state = finding(sheet, known)
    ahead = [one.key for one in next_tests(sheet, known)]
    if order is not None:
        ahead = [key for key in order if key in ahead]
    if state.code in {"found", "cannot-tell"} or not ahead:
        return 0.0, float(state.code == "found")
    key = ahead[0]
    minutes, found = minutes_now(sheet, key, known), 0.0
    now = list(state.chances.values())
    for result, row in sheet.test(key).table.items():
        share = math.fsum(chance * likely for chance, likely in zip(now, row, strict=True))
        more, reached = expected_minutes(sheet, {**known, key: result}, order=order)
        minutes += share * more
        found += share * reached
    return minutes, found


def repair_order(chances: Sequence[float], costs: Sequence[float]) -> tuple[tuple[int, ...], float]:
    """The order of check-and-cure with the least expected cost: by chance over cost, falling.

    Holds when one fault is present, each check surely finds and cures its own fault, costs are fixed and
    independent, and work stops when cured. It does not hold with shared set-ups, needs or tests that can err,
    nor when the last suspect is replaced unseen; use ``next_tests`` there.

    Args:
        chances: of each fault.
        costs: of checking and curing each, above nought, in any unit.

    Returns:
        Places counted from 0 in the order of work (equals keep their order), and the expected cost.

    Raises:
        ValueError: lists of different length, a chance outside 0 to 1, or a cost not above nought.
    """
    if len(chances) != len(costs):
        raise ValueError("Every fault needs its chance and its cost.")
    if any(not 0 <= chance <= 1 for chance in chances) or any(not cost > 0 for cost in costs):
        raise ValueError("A chance lies between 0 and 1, a cost above nought.")
    # Rounded, so that ties such as .40/60 and .20/30 stay ties.
    order = sorted(range(len(costs)), key=lambda i: -round(chances[i] / costs[i], 12))
    return tuple(order), cost_of_order(order, chances, costs)


def cost_of_order(order: Sequence[int], chances: Sequence[float], costs: Sequence[float]) -> float:
    """Expected cost of one order: each cost times the chance that the fault was not cured before."""
    left = math.fsum(chances)
    total = 0.0
    for place in order:
        total += costs[place] * left
        left -= chances[place]
    return total
