"""Reasons: why an entry stands as it does. Codes are stable and documented in docs/reason-codes.md."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Any


class Weight(StrEnum):
    """What a reason does to the standing."""

    DOWN = "down"
    BARRED = "barred"
    OPEN = "open"
    UNJUDGED = "unjudged"
    LIMIT = "limit"
    NOTE = "note"


class Code(StrEnum):
    """Stable reason codes."""

    STOOD_DOWN = "stood-down"
    TAG = "tag-do-not-run"
    TAG_NO_WORK = "tag-no-work"
    TAG_NOT_LIFTED = "tag-not-lifted"
    TAG_STATIC = "tag-static"
    FUNCTION_LOST = "function-lost"
    FUNCTION_REDUCED = "function-reduced"
    UNASSESSED = "defect-not-assessed"
    RISK_HIGH = "risk-high"
    CARRIED_ON_NEED = "carried-forward-on-need"
    DEFERRAL_ENDED = "deferral-ended"
    DEFERRAL_UNSIGNED = "deferral-not-signed"
    DEFERRAL_REFUSED = "deferral-high"
    LIMIT_FORBIDS = "limit-forbids-slot"
    LIMIT_TICK = "limit-not-ticked"
    LIMIT_LIGHT_UNKNOWN = "limit-light-unknown"
    LIMIT_IN_FORCE = "limit-in-force"
    INSPECTION_LAPSED = "inspection-lapsed"
    INSPECTION_VOIDED = "inspection-voided"
    INSPECTION_TO_REPEAT = "inspection-to-repeat"
    INSPECTION_UNKNOWN = "inspection-not-known"
    METER_UNREAD = "meter-not-read"
    PAPER_ENDED = "paper-ended"
    PAPER_UNKNOWN = "paper-not-known"
    STRIPPED = "stripped-not-refitted"
    TEST_MISSING = "test-missing"
    SIGNATURE_MISSING = "second-signature-missing"
    CONSENT = "consent-outstanding"
    PART_UNKNOWN = "part-need-not-known"
    PART_NOT_ORDERED = "part-not-ordered"
    AFTER_USE = "after-use-overdue"
    CHECK_OPEN = "check-not-done"
    NO_WORK = "no-work-before-freeze"
    STANDBY_EMPTY = "standby-covers-nothing"
    STANDBY_SLOW = "standby-readiness-not-said"
    WATCH = "watch"
    OTHER_DEFECT = "defect-not-asked"
    OTHER_INTERVAL = "interval-noted"
    CREW_MISSING = "crew-missing"
    CREW_NOT_CURRENT = "crew-not-current"
    CREW_NOT_QUALIFIED = "crew-not-qualified"
    CREW_AWAY = "crew-away"
    CREW_TWICE = "crew-twice-in-slot"
    CREW_CLASH = "crew-clash"
    VEHICLE_CLASH = "vehicle-clash"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One reason: `subject` is ("defect", uid), ("job", uid) ...; `clears` are the steps whose end clears it.

    `act` is a person's act that would clear it where no work does; `sure` tells that the act needs no workshop time
    and is counted as done in time (event checks).
    """

    code: Code
    weight: Weight
    subject: tuple[str, str]
    words: str
    clears: tuple[str, ...] = ()
    act: str = ""
    sure: bool = False
    functions: tuple[str, ...] = ()
    data: dict[str, Any] = field(default_factory=dict)

    def as_dict(self) -> dict[str, Any]:
        return {
            "code": str(self.code),
            "weight": str(self.weight),
            "subject": {"kind": self.subject[0], "id": self.subject[1]},
            "words": self.words,
            "clears": list(self.clears),
            "act": self.act,
            "sure": self.sure,
            "functions": list(self.functions),
            "data": {k: str(v) if isinstance(v, (Decimal, dt.date)) else v for k, v in self.data.items()},
        }


def day_words(day: dt.date) -> str:
    """`Sun 14 June`: the day named, no leading zero, no year."""
    return f"{day:%a} {day.day} {day:%B}"
