"""How bad a defect is, who may carry it forward, and for how long.

The matrix is Table III of MIL-STD-882E (11 May 2012, Change 1 2023), section 4.3.3, cell by cell. It is
never computed from a score: wrong copies circulate. The ladder of signers and terms is the museum's own
rule, shipped as a default.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from types import MappingProxyType


class Level(StrEnum):
    """Risk level of MIL-STD-882E, worst first."""

    HIGH = "High"
    SERIOUS = "Serious"
    MEDIUM = "Medium"
    LOW = "Low"
    ELIMINATED = "Eliminated"

    @property
    def rank(self) -> int:
        """0 for Eliminated up to 4 for High."""
        return 4 - list(Level).index(self)


# Rows A to E, columns severity 1 to 4, as printed in Table III. Row F is one statement: Eliminated.
_MATRIX: Mapping[str, tuple[Level, Level, Level, Level]] = MappingProxyType(
    {
        "A": (Level.HIGH, Level.HIGH, Level.SERIOUS, Level.MEDIUM),
        "B": (Level.HIGH, Level.HIGH, Level.SERIOUS, Level.MEDIUM),
        "C": (Level.HIGH, Level.SERIOUS, Level.MEDIUM, Level.LOW),
        "D": (Level.SERIOUS, Level.MEDIUM, Level.MEDIUM, Level.LOW),
        "E": (Level.MEDIUM, Level.MEDIUM, Level.MEDIUM, Level.LOW),
        "F": (Level.ELIMINATED, Level.ELIMINATED, Level.ELIMINATED, Level.ELIMINATED),
    }
)


def level(severity: int | str, probability: str) -> Level:
    """The risk level of one severity and one probability.

    Args:
        severity: 1 catastrophic, 2 critical, 3 marginal, 4 negligible; the digit as text is accepted.
        probability: "A" frequent to "E" improbable, "F" eliminated. F is reached only by removing the
            hazard, never by training, warnings or protective equipment (4.3.3.b).

    Returns:
        The cell of Table III.

    Raises:
        ValueError: the severity is not 1 to 4 or the probability is not one of A to F.
    """
    digit = str(severity)
    if isinstance(severity, bool) or digit not in {"1", "2", "3", "4"}:
        raise ValueError(f"Severity is 1, 2, 3 or 4, not {severity!r}.")
    row = _MATRIX.get(probability) if isinstance(probability, str) else None
    if row is None:
        raise ValueError(f"Probability is one of the letters A to F, not {probability!r}.")
    return row[int(digit) - 1]


class TermKind(StrEnum):
    """What ends a deferral at the latest."""

    NEXT_EVENT = "to the end of the next event"
    DAYS = "a number of days"
    NEXT_INSPECTION = "the next inspection"


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """The longest term of a deferral.

    Attributes:
        kind: what ends it.
        days: days from signing for ``DAYS``; for ``NEXT_INSPECTION`` the days used when none is on file.
        days_idle: days when the vehicle is static only or the equipment is locked; None is the same term.
    """

    kind: TermKind
    days: int = 0
    days_idle: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """One rung of the ladder.

    Attributes:
        refused: may not be carried forward, whoever signs.
        signers: the duties that must sign, each by another person. Read at the rating without the limit.
        term: the longest term. Read at the rating with the limit.
    """

    refused: bool = False
    signers: tuple[str, ...] = ()
    term: Term = Term(kind=TermKind.DAYS, days=0)


Ladder = Mapping[Level, Rung]

_TO_INSPECTION = Term(kind=TermKind.NEXT_INSPECTION, days=90)

LADDER: Ladder = MappingProxyType(
    {
        Level.HIGH: Rung(refused=True),
        Level.SERIOUS: Rung(signers=("lead", "manager"), term=Term(kind=TermKind.NEXT_EVENT)),
        Level.MEDIUM: Rung(signers=("lead",), term=Term(kind=TermKind.DAYS, days=90, days_idle=180)),
        Level.LOW: Rung(signers=("mechanic",), term=_TO_INSPECTION),
        Level.ELIMINATED: Rung(term=_TO_INSPECTION),
    }
)

# A lead is a mechanic too. A manager is not a lead: the manager answers for the museum, not for the work.
STANDS_IN: Mapping[str, frozenset[str]] = MappingProxyType({"mechanic": frozenset({"lead"})})


@dataclass(frozen=True, slots=True, kw_only=True)
class Carry:
    """Whether a defect may be carried forward.

    Attributes:
        allowed: True when every duty that the ladder asks has signed.
        code: stable code: "allowed", "refused-high", "worse-with-limit" or "signers-missing".
        missing: the duties whose signature is still wanted.
        sentence: the same in plain words.
    """

    allowed: bool
    code: str
    missing: tuple[str, ...]
    sentence: str


def _unsigned(needed: Iterable[str], signed: Iterable[str]) -> tuple[str, ...]:
    """Duties without a signature. Exact duties are matched first, then those who may stand in."""
    left = Counter(signed)
    open_duties = []
    for duty in needed:
        if left[duty] > 0:
            left[duty] -= 1
        else:
            open_duties.append(duty)
    missing = []
    for duty in open_duties:
        other = next((name for name in sorted(STANDS_IN.get(duty, ())) if left[name] > 0), None)
        if other is None:
            missing.append(duty)
        else:
            left[other] -= 1
    return tuple(missing)


def may_carry(
    *, without_limit: Level, with_limit: Level, signed: Iterable[str] = (), ladder: Ladder = LADDER
) -> Carry:
    """Whether a defect of these two ratings may be carried forward with these signatures.

    The rating without the limit decides who signs; the rating with it decides how long (``term_end``).
    A rating that the ladder refuses is refused on either side.

    Args:
        without_limit: the risk as the vehicle stands.
        with_limit: the risk while the limit is obeyed.
        signed: one duty ("mechanic", "lead", "manager") for each *person* who signed; a person who holds
            two duties is given once, so that two signatures are two people.
        ladder: the museum's ladder.

    Returns:
        The answer with its code and a sentence.
    """
    for rated in (without_limit, with_limit):
        if ladder[rated].refused:
            return Carry(
                allowed=False,
                code="refused-high",
                missing=(),
                sentence=f"A risk rated {rated} may not be carried forward, whoever signs.",
            )
    if with_limit.rank > without_limit.rank:
        return Carry(
            allowed=False,
            code="worse-with-limit",
            missing=(),
            sentence="The limit cannot make the risk worse than it is without one. Rate both again.",
        )
    missing = _unsigned(ladder[without_limit].signers, signed)
    if missing:
        names = " and ".join(missing)
        return Carry(
            allowed=False, code="signers-missing", missing=missing, sentence=f"The {names} must sign first."
        )
    return Carry(allowed=True, code="allowed", missing=(), sentence="May be put off with this limit.")


def term_end(
    *,
    with_limit: Level,
    signed_on: date,
    next_event_end: date | None = None,
    next_inspection: date | None = None,
    idle: bool = False,
    asked: date | None = None,
    ladder: Ladder = LADDER,
) -> date:
    """The last day of a deferral. A longer term that was asked for ends where the ladder says.

    Args:
        with_limit: the rating with the limit in force.
        signed_on: the day of the last signature.
        next_event_end: last day of the next event; None when none is planned, and then a deferral that runs
            to the end of the next event holds on the day of signing only.
        next_inspection: day of the next inspection; None when none is on file. One that is overdue ends the
            deferral on the day of signing.
        idle: the vehicle is static only or the equipment is locked.
        asked: the end that the signers wish.
        ladder: the museum's ladder.

    Returns:
        The last day, through which the deferral holds.

    Raises:
        ValueError: the rating may not be carried forward at all.
    """
    rung = ladder[with_limit]
    if rung.refused:
        raise ValueError(f"A risk rated {with_limit} has no term: it may not be carried forward.")
    term = rung.term
    if term.kind is TermKind.NEXT_EVENT:
        latest = next_event_end if next_event_end is not None else signed_on
    elif term.kind is TermKind.NEXT_INSPECTION and next_inspection is not None:
        latest = next_inspection
    else:
        days = term.days_idle if idle and term.days_idle is not None else term.days
        latest = signed_on + timedelta(days=days)
    latest = max(latest, signed_on)
    return latest if asked is None else min(latest, asked)
