"""Playing a sheet with a known fault, many times over: how often and how fast each cause is found.

Each play draws the result of every test asked from the sheet's own table under the cause played, and asks the next best
test (or a fixed order) until the search stops. A search does the same thing whenever it knows the same results, so what
it does is worked out once for each set of results and then looked up.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from maintenance.fault_finding import STOP_AT, Sheet, finding, minutes_now, next_tests

FOUND_OFTEN = 0.5
"""A cause counts as reached when at least half of its plays end on it."""

State = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """What became of one cause.

    Attributes:
        cause: the cause that was played.
        plays: how often.
        found: share of plays that ended on it.
        wrong: share that ended on another.
        untold: share that ended without a cause.
        minutes: mean minutes until the search stopped.
        minutes_found: mean minutes of the plays that found it; None when none did.
        mixed_with: the cause that most often stood in its place, as the wrong one or beside it; "" when none.
    """

    cause: str
    plays: int
    found: float
    wrong: float
    untold: float
    minutes: float
    minutes_found: float | None
    mixed_with: str

    @property
    def reached(self) -> bool:
        """Whether at least ``FOUND_OFTEN`` of the plays found it."""
        return self.found >= FOUND_OFTEN


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsal:
    """A sheet played through.

    Attributes:
        causes: one for each cause, in the order of the sheet.
        found: share found over all, each cause weighed by its chance.
        minutes: mean minutes over all, weighed alike.
    """

    causes: tuple[Played, ...]
    found: float
    minutes: float


@dataclass(slots=True, kw_only=True)
class _Step:
    """What a search does once it knows certain results: ask a test, or end."""

    test: str
    minutes: float
    results: tuple[str, ...]
    ends_on: tuple[str, ...]
    code: str


def _searcher(sheet: Sheet, order: Sequence[str] | None, stop_at: float) -> Callable[[State], _Step]:
    known: dict[State, _Step] = {}

    def work_out(state: State) -> _Step:
        results = dict(state)
        now = finding(sheet, results, stop_at=stop_at)
        ahead = [one.key for one in next_tests(sheet, results)]
        if order is not None:
            ahead = [key for key in order if key in ahead]
        if now.code in {"found", "cannot-tell"} or not ahead:
            ranked = sorted(now.chances, key=lambda key: -now.chances[key])
            ends = now.causes if now.code in {"found", "cannot-tell"} else tuple(ranked[:2])
            return _Step(test="", minutes=0.0, results=(), ends_on=ends, code=now.code)
        key = ahead[0]
        return _Step(
            test=key,
            minutes=minutes_now(sheet, key, results),
            results=tuple(sheet.test(key).table),
            ends_on=(),
            code="ask",
        )

    def step(state: State) -> _Step:
        if state not in known:
            known[state] = work_out(state)
        return known[state]

    return step


def rehearse(
    sheet: Sheet, *, plays: int, seed: int, order: Sequence[str] | None = None, stop_at: float = STOP_AT
) -> Rehearsal:
    """Plays a sheet with each of its causes as the true one.

    Args:
        sheet: the sheet.
        plays: for each cause, one or more.
        seed: of the draws; the same seed gives the same answer.
        order: tests in a fixed order, skipping what cannot be done; None asks the next best test each time.
        stop_at: chance at which a search stops.

    Returns:
        What became of each cause. Standard error of a share p: sqrt(p (1 - p) / plays).

    Raises:
        ValueError: no plays.
    """
    if plays < 1:
        raise ValueError("Play each cause once or more.")
    step = _searcher(sheet, order, stop_at)
    rng = np.random.default_rng(seed)
    played = []
    for place, cause in enumerate(sheet.causes):
        draws = {
            test.key: rng.choice(len(test.table), size=plays, p=_column(sheet, test.key, place))
            for test in sheet.tests
        }
        played.append(_play(step, cause.key, draws, plays))
    return Rehearsal(
        causes=tuple(played),
        found=math.fsum(one.found * cause.chance for one, cause in zip(played, sheet.causes, strict=True)),
        minutes=math.fsum(
            one.minutes * cause.chance for one, cause in zip(played, sheet.causes, strict=True)
        ),
    )


def _column(sheet: Sheet, key: str, place: int) -> np.ndarray:
    column = np.array([row[place] for row in sheet.test(key).table.values()])
    scaled: np.ndarray = column / column.sum()
    return scaled


def _play(step: Callable[[State], _Step], cause: str, draws: dict[str, np.ndarray], plays: int) -> Played:
    minutes = np.zeros(plays)
    right = np.zeros(plays, dtype=bool)
    wrong = 0
    beside: Counter[str] = Counter()
    for play in range(plays):
        state: State = ()
        while True:
            now = step(state)
            if not now.test:
                break
            minutes[play] += now.minutes
            result = now.results[draws[now.test][play]]
            state = tuple(sorted((*state, (now.test, result))))
        right[play] = now.code == "found" and now.ends_on == (cause,)
        wrong += now.code == "found" and not right[play]
        if not right[play]:
            beside.update(key for key in now.ends_on if key != cause)
    return Played(
        cause=cause,
        plays=plays,
        found=float(right.mean()),
        wrong=wrong / plays,
        untold=1 - float(right.mean()) - wrong / plays,
        minutes=float(minutes.mean()),
        minutes_found=float(minutes[right].mean()) if right.any() else None,
        mixed_with=beside.most_common(1)[0][0] if beside else "",
    )
