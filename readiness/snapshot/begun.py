"""Who has had a hand in a card, and who goes on with it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Set as AbstractSet
from decimal import Decimal

from fleet.models import Person
from maintenance.enums import CardState, SignatureKind
from maintenance.models import JobCard


def doers(card: JobCard) -> tuple[str, ...]:
    """Who has had a hand in it: they may not pass it."""
    people = {h.person.code for h in card.hours.all()}
    people |= {s.person.code for s in card.signatures.all() if s.kind == SignatureKind.DOER}
    return tuple(sorted(people | ({card.taken_by.code} if card.taken_by else set())))


def kept_by(card: JobCard, coming: AbstractSet[str]) -> tuple[str, ...]:
    """Who has begun it and goes on with it, the leader first; nobody where it was taken but not begun.

    The leader is whoever has taken it. Of the others who have written hours on it, those with most go on, as many as
    the job asks for. A trainee leads nothing: a card that only trainees have worked on is free for anybody. So is one
    whose people do not mean to come again in time (`coming`: who does): a lead gives it to somebody else.
    """
    hours: dict[Person, Decimal] = defaultdict(Decimal)
    for log in card.hours.all():
        hours[log.person] += log.hours
    begun = card.state == CardState.IN_HAND or (card.state == CardState.HELD and (hours or card.opened_at))
    if not begun:
        return ()
    if card.taken_by is not None:
        hours[card.taken_by] += Decimal(0)
    people = sorted(hours, key=lambda p: (p != card.taken_by, -hours[p], p.code))
    people = [p for p in people if p.code in coming]
    leader = next((p for p in people if not p.is_trainee), None)
    if leader is None:
        return ()
    return tuple(p.code for p in (leader, *(p for p in people if p != leader)))[: card.persons]
