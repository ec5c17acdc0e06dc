"""A job handed in twice, by two who could not see each other. Both are kept; the lead says which holds."""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Act, Person
from fleet.services.permit import permit
from maintenance import rules
from maintenance.models import JobCard
from maintenance.queries.hand_ins import SECOND, SETTLED, acts_of, unsettled
from maintenance.services.base import card_lock, card_save, wanted
from maintenance.services.closing import OUTCOMES


@transaction.atomic
def second_hand_in(
    *, card: JobCard, by: Person, outcome: str, words: str, first: Act, made: dt.datetime
) -> str:
    """Keep a hand-in that came after another one. The first stays as it is; "must not run" hangs a tag all the same."""
    row = card_lock(card, ended=True)
    permit(by, "card.close", rules.may_close_card(by, row))
    if outcome not in OUTCOMES:
        raise ValidationError({"outcome": "Say how it ended."})
    said = wanted(words, "words", "Write what was found and what was done.")
    card_save(
        row, act=SECOND, by=by,
        detail={"outcome": outcome, "words": said, "first": first.pk, "first_by": first.by_name, "made": made.isoformat()},
    )  # fmt: skip
    tagged = ""
    if outcome == "not run" and not row.tags.filter(lifted_at=None).exists():
        from maintenance.services.tags import tag_hang

        tag_hang(vehicle=row.vehicle, by=by, reason=said, card=row)
        tagged = " A do-not-run tag is on the vehicle until the lead lifts it."
    at = timezone.localtime(first.at)
    return (
        f"{first.by_name or 'Another'} had ended this job, {at.day} {at:%B} {at:%H:%M}. "
        f"Yours is kept beside it, and the lead settles which holds.{tagged}"
    )


@transaction.atomic
def hand_ins_settle(*, card: JobCard, by: Person, words: str) -> JobCard:
    """The lead has read both and says what holds. To have more done, the job is opened again."""
    permit(by, "card.return", by.has_role("lead"), "The workshop lead settles two hand-ins.")
    row = card_lock(card, ended=True)
    if not unsettled(acts_of(row.pk, SECOND, SETTLED)):
        raise ValidationError(f"{row} has no second hand-in to settle.")
    said = wanted(words, "words", "Write which holds, and why.")
    return card_save(row, act=SETTLED, by=by, detail={"words": said})
