"""Risk levels, signers and terms, as the engine sees them.

The matrix and the ladder are written once, in ``maintenance.risk``: services that store a rating and gates
that judge one must never read two copies.
"""

from __future__ import annotations

from maintenance.risk import (
    LADDER,
    STANDS_IN,
    Carry,
    Ladder,
    Level,
    Rung,
    Term,
    TermKind,
    level,
    may_carry,
    term_end,
)

__all__ = [
    "LADDER",
    "STANDS_IN",
    "Carry",
    "Ladder",
    "Level",
    "Rung",
    "Term",
    "TermKind",
    "level",
    "may_carry",
    "term_end",
]
