"""The role table that a museum starts with: what each role asks. Trade judgement (*common practice*); editable.

Demands: `!` wholly fit, no limit accepted; `R` fit, or reduced under a signed limit that the slot obeys; `n` noted,
never blocks; `-` not asked. A museum changes its own rows; these are only the defaults.
"""

from __future__ import annotations

from typing import Final

ROLES: Final = ("static", "running", "arena", "road", "rides", "recovery")

_FUNCTIONS: Final = {
    "START": "-RRRRR",
    "STOP": "--!!!!",
    "STEER": "--!!!!",
    "HOLD": "nRRR!!",
    "DRIVE": "nnRR!R",
    "ROLL": "nnRR!R",
    "COOL": "-RRRRR",
    "LUBE": "-RRRRR",
    "FUEL": "!!!!!!",
    "BREATHE": "-!!!!!",
    "POWER": "nnnRRR",
    "SEE": "--RR!R",
    "SHOW": "---RRR",
    "STAND": "RRRR!!",
    "CARRY": "--RR!R",  # on static display only where the public may board: the slot asks for it then
    "PULL": "-n---!",
    "WORK": "-n---!",
    "QUENCH": "RRRR!R",
    "TELL": "-nRRRR",
    "SAFE": "RRRR!R",
    "STEAM": "-!!!!!",
    "LOOK": "nnnnn-",
}

_INSPECTIONS: Final = {
    "brake reading": "--!!!!",
    "running gear": "--!!!!",
    "co": "-!!!!!",
    "annual": "---!!!",
    "lifting": "-----!",
    "boiler": "-!!!!!",
    "extinguishers": "!!!!!!",
}
NAMED_INSPECTIONS: Final = frozenset(_INSPECTIONS)
"""Kinds that the table decides; every other interval gates the moving roles and is noted otherwise."""

_PAPERS: Final = {
    "label": "!!----",
    "driver card": "-!!!!!",
    "risk assessment": "--!!!!",
    "insurance": "---!!!",
    "registration": "---!!!",
    "passenger insurance": "----!-",
    "lift plan": "-----!",
    "gear list": "-----!",
}

_CHECKS: Final = {
    "event": "!!!!!!",
    "first parade": "!!!!!!",
    "condition before": "!!!!!!",
}

_CREW: Final[dict[str, tuple[tuple[str, int], ...]]] = {
    "static": (("steward", 1),),
    "running": (("driver", 1), ("fire point", 1)),
    "arena": (("driver", 1), ("marshal", 2)),
    "road": (("driver", 1), ("marshal", 1)),
    "rides": (("driver", 1), ("conductor", 1), ("marshal", 1)),
    "recovery": (("driver", 1), ("banksman", 1)),
    "standby": (("driver", 1),),
}


def default_table() -> dict[tuple[str, str, str], tuple[str, int]]:
    """The shipped table as (role, subject, code) -> (demand, count)."""
    table: dict[tuple[str, str, str], tuple[str, int]] = {}
    for subject, rows in (
        ("function", _FUNCTIONS),
        ("inspection", _INSPECTIONS),
        ("paper", _PAPERS),
        ("check", _CHECKS),
    ):
        for code, cells in rows.items():
            for role, demand in zip(ROLES, cells, strict=True):
                table[role, subject, code] = (demand, 1)
    for role, duties in _CREW.items():
        for duty, count in duties:
            # A steward by the static line is wished for, never a reason to call a slot short.
            table[role, "crew", duty] = ("n" if duty == "steward" else "!", count)
    return table
