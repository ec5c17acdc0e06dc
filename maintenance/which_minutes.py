"""Minutes that a search is expected to take from here: by the best next test, and in the museum's usual order.

Walked through in full by `fault_finding.expected_minutes`, and kept: the same sheet with the same results gives the same.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

from django.core.cache import cache

from maintenance.fault_finding import Sheet, expected_minutes

MOST_TESTS = 8
"""With more tests left than this the walk would hold up the page: nothing is said until fewer are left."""
KEPT_SECONDS = 24 * 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """Whole minutes, and how often in 100 the search then ends on a cause.

    Attributes:
        best: minutes, asking the best next test each time.
        usual: minutes, in the order in which the sheet is printed.
        best_found: in 100.
        usual_found: in 100.
    """

    best: int
    usual: int
    best_found: int
    usual_found: int


def expected(sheet: Sheet, results: Mapping[str, str]) -> Expected | None:
    """Both figures, or None while too many tests are left."""
    if len(sheet.tests) - len(results) > MOST_TESTS:
        return None
    mark = hashlib.sha256(repr((sheet, sorted(results.items()))).encode()).hexdigest()
    figures: tuple[int, int, int, int] | None = cache.get(f"which-minutes-{mark}")
    if figures is None:
        best, best_found = expected_minutes(sheet, dict(results))
        usual, usual_found = expected_minutes(sheet, dict(results), order=[test.key for test in sheet.tests])
        figures = (round(best), round(usual), round(best_found * 100), round(usual_found * 100))
        cache.set(f"which-minutes-{mark}", figures, KEPT_SECONDS)
    best, usual, best_found, usual_found = figures
    return Expected(best=best, usual=usual, best_found=best_found, usual_found=usual_found)
