"""Which part: minutes to the true cause, suggested order against fixed orders, on every shipped sheet.

`python -m bench.which_part [plays]`. See bench/README.md for the method.
"""

from __future__ import annotations

import random
import sys
from statistics import fmean

from maintenance.fault_finding import Sheet
from maintenance.rehearsal import Rehearsal, rehearse
from maintenance.sheets import SHEETS

PLAYS = 2000
SEED = 20270612
RANDOM_ORDERS = 10


def lawful(sheet: Sheet, order: list[str]) -> bool:
    return all(order.index(need) < order.index(test.key) for test in sheet.tests for need in test.needs)


def random_orders(sheet: Sheet, dice: random.Random) -> list[list[str]]:
    """Ten different orders in which every test comes after what it needs."""
    keys, found = [test.key for test in sheet.tests], list[list[str]]()
    while len(found) < RANDOM_ORDERS:
        order = dice.sample(keys, len(keys))
        if lawful(sheet, order):
            found.append(order)
    return found


def per_find(played: Rehearsal) -> float:
    """Minutes spent for each true cause found: what a workshop pays, misses and blind ends included."""
    return played.minutes / played.found


def main(plays: int) -> None:
    dice = random.Random(SEED)
    print(f"{plays} plays a cause, seed {SEED}. min: mean minutes of a search; true: ends on the true cause; "
          "a true cause: minutes for each one found.")  # fmt: skip
    head = (
        "sheet",
        "suggested: min  true",
        "as printed: min  true",
        "random: min  true",
        "a true cause: sugg. / printed / random",
        "saved",
    )
    print("{:18} {:>21} {:>22} {:>19} {:>40} {:>7}".format(*head))
    totals: list[tuple[float, float, float]] = []
    unreached: list[str] = []
    for sheet in SHEETS.values():
        best = rehearse(sheet, plays=plays, seed=SEED)
        printed = rehearse(sheet, plays=plays, seed=SEED, order=[test.key for test in sheet.tests])
        drawn = [rehearse(sheet, plays=plays, seed=SEED, order=order) for order in random_orders(sheet, dice)]
        minutes, found = fmean(one.minutes for one in drawn), fmean(one.found for one in drawn)
        costs = per_find(best), per_find(printed), fmean(per_find(one) for one in drawn)
        totals.append(costs)
        print(
            f"{sheet.key:18} {best.minutes:14.1f} {best.found:6.1%} {printed.minutes:15.1f} {printed.found:6.1%} "
            f"{minutes:12.1f} {found:6.1%} {costs[0]:20.1f} / {costs[1]:5.1f} / {costs[2]:5.1f} {1 - costs[0] / costs[1]:8.0%}"
        )
        unreached += [
            f"{sheet.key}: {one.cause} found {one.found:.0%}, stands beside {one.mixed_with}"
            for one in best.causes
            if not one.reached
        ]
    against = [fmean(row[0] / row[n] for row in totals) for n in (1, 2)]
    print(f"Mean ratio, suggested / as printed {against[0]:.3f}, suggested / random {against[1]:.3f}.")
    print(
        "Causes found in less than half of their plays, each with what it cannot be parted from:",
        *unreached,
        sep="\n  ",
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else PLAYS)
