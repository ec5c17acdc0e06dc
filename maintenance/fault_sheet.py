"""What a fault-finding sheet is: causes, tests, shared set-ups, and the rules a sheet must keep."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

NOT_TODAY = "not possible today"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One possible cause.

    Attributes:
        key: stable key within the sheet.
        name: as a mechanic says it.
        chance: before any test; those of one sheet add to 1.
        act: what to do once it is found.
        minutes: to check and cure it, when that is known and does not hang on other work.
    """

    key: str
    name: str
    chance: float
    act: str = ""
    minutes: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """Work that several tests share and that is done once: "front up on stands"."""

    key: str
    name: str
    minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Test:
    """One test.

    Attributes:
        key: stable key within the sheet.
        name: what to do.
        minutes: without the set-up.
        table: for each result, its chance under each cause, in the order of the sheet's causes.
        set_up: key of the shared set-up, or "".
        needs: tests that must be done before.
        cautions: hazards to show before it starts; they come first on the screen.
        says: what each result tells a person.
        stops: results after which the vehicle must not run.
    """

    __test__ = False  # not a test of the test runner

    key: str
    name: str
    minutes: float
    table: Mapping[str, tuple[float, ...]]
    set_up: str = ""
    needs: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    says: Mapping[str, str] = field(default_factory=dict)
    stops: tuple[str, ...] = ()


def two(first: str, second: str, chances: Sequence[float]) -> dict[str, tuple[float, ...]]:
    """The table of a test with two results, from the chance of the first under each cause."""
    return {first: tuple(chances), second: tuple(1.0 - chance for chance in chances)}


def by_cause(
    causes: Sequence[Cause], results: Sequence[str], usual: Sequence[float], **unusual: Sequence[float]
) -> dict[str, tuple[float, ...]]:
    """The table of a test from the chances of its results under any cause, and those causes that differ.

    Args:
        causes: of the sheet, in order.
        results: the results.
        usual: chance of each result where nothing else is said.
        unusual: for a cause, by its key, the chance of each result.

    Raises:
        ValueError: a cause that the sheet does not have.
    """
    unknown = sorted(set(unusual) - {cause.key for cause in causes})
    if unknown:
        raise ValueError(f"No cause {', '.join(unknown)}.")
    columns = [unusual.get(cause.key, usual) for cause in causes]
    return {result: tuple(column[place] for column in columns) for place, result in enumerate(results)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One fault-finding sheet.

    Raises:
        ValueError: chances that do not add to one, a table that does not fit, or an unknown name.
    """

    key: str
    name: str
    causes: tuple[Cause, ...]
    tests: tuple[Test, ...]
    set_ups: tuple[SetUp, ...] = ()
    cautions: tuple[str, ...] = ()
    source: str = "Common practice; the chances are workshop experience, not data."

    def __post_init__(self) -> None:
        for what, keys in (
            ("cause", [cause.key for cause in self.causes]),
            ("test", [test.key for test in self.tests]),
            ("set-up", [one.key for one in self.set_ups]),
        ):
            if len(set(keys)) != len(keys):
                raise ValueError(f"Sheet {self.key}: a {what} stands twice.")
        if not self.causes or any(not 0 < cause.chance <= 1 for cause in self.causes):
            raise ValueError(f"Sheet {self.key}: every cause needs a chance above nought.")
        if not math.isclose(math.fsum(cause.chance for cause in self.causes), 1.0, abs_tol=1e-9):
            raise ValueError(f"Sheet {self.key}: the chances of the causes must add to one.")
        for test in self.tests:
            self._check(test)

    def _check(self, test: Test) -> None:
        where = f"Sheet {self.key}, test {test.key}"
        if test.minutes <= 0:
            raise ValueError(f"{where}: minutes must be above nought.")
        if test.set_up and test.set_up not in {one.key for one in self.set_ups}:
            raise ValueError(f"{where}: unknown set-up {test.set_up!r}.")
        earlier = {one.key for one in self.tests[: self.tests.index(test)]}
        if not set(test.needs) <= earlier:
            raise ValueError(f"{where}: it can only need a test that stands before it.")
        if len(test.table) < 2 or NOT_TODAY in test.table:
            raise ValueError(f"{where}: two results or more, none called {NOT_TODAY!r}.")
        if not set(test.says) | set(test.stops) <= set(test.table):
            raise ValueError(f"{where}: words for a result that it does not have.")
        rows = list(test.table.values())
        if any(len(row) != len(self.causes) or min(row) <= 0 for row in rows):
            raise ValueError(f"{where}: a chance above nought for every cause and result.")
        if any(not math.isclose(math.fsum(column), 1.0, abs_tol=1e-9) for column in zip(*rows, strict=True)):
            raise ValueError(f"{where}: the results must add to one under every cause.")

    def test(self, key: str) -> Test:
        """The test of this key, or a ValueError."""
        for test in self.tests:
            if test.key == key:
                return test
        raise ValueError(f"Sheet {self.key} has no test {key!r}.")

    def with_chances(self, chances: Mapping[str, float]) -> Sheet:
        """The sheet with other chances for some causes, scaled so that all add to one again.

        Used when a fact about the vehicle makes a cause likelier or less likely than usual.
        """
        unknown = sorted(set(chances) - {cause.key for cause in self.causes})
        if unknown:
            raise ValueError(f"Sheet {self.key} has no cause {', '.join(unknown)}.")
        raw = [chances.get(cause.key, cause.chance) for cause in self.causes]
        if any(not chance > 0 for chance in raw):
            raise ValueError("A chance must be above nought.")
        total = math.fsum(raw)
        causes = (replace(c, chance=chance / total) for c, chance in zip(self.causes, raw, strict=True))
        return replace(self, causes=tuple(causes))
