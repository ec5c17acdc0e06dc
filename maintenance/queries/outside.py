"""Who was asked from outside, in the order in which it needs somebody: no answer, coming, over."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from maintenance.enums import OutsideState
from maintenance.models import OutsideHand

OVER_SHOWN = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class OutsideLine:
    hand: OutsideHand
    holds: str
    overdue: bool
    waited_days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OutsidePage:
    awaited: tuple[OutsideLine, ...]
    coming: tuple[OutsideLine, ...]
    over: tuple[OutsideLine, ...]


def holds_words(hand: OutsideHand) -> str:
    """What waits for them, in words."""
    if hand.card is not None:
        return f"job {hand.card.serial} {hand.card.title}"
    if hand.inspection is not None:
        return f"{hand.inspection.name}"
    if hand.part is not None:
        return f"part {hand.part.name}"
    return "nothing that is written down"


def outside_page(today: dt.date) -> OutsidePage:
    """Two queries, however many were asked."""
    rows = OutsideHand.objects.select_related("vehicle", "card", "inspection", "part")
    lines = [_line(row, today) for row in rows.filter(state__in=[OutsideState.ASKED, OutsideState.APPOINTED])]
    over = rows.exclude(state__in=[OutsideState.ASKED, OutsideState.APPOINTED]).order_by("-ended_at")[
        :OVER_SHOWN
    ]
    asked = [one for one in lines if one.hand.state == OutsideState.ASKED]
    coming = [one for one in lines if one.hand.state == OutsideState.APPOINTED]
    return OutsidePage(
        awaited=tuple(sorted(asked, key=lambda one: (not one.overdue, one.hand.asked_on, one.hand.pk))),
        coming=tuple(sorted(coming, key=lambda one: (one.hand.comes_on or dt.date.max, one.hand.pk))),
        over=tuple(_line(row, today) for row in over),
    )


def _line(row: OutsideHand, today: dt.date) -> OutsideLine:
    return OutsideLine(
        hand=row,
        holds=holds_words(row),
        overdue=row.is_overdue(today),
        waited_days=(today - row.asked_on).days,
    )


def unanswered(today: dt.date) -> list[OutsideLine]:
    """Asked, and no answer came in time: for the coordinator's letter."""
    return [one for one in outside_page(today).awaited if one.overdue]
