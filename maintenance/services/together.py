"""Several jobs behind one opening, taken in one go by whoever opens it."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction

from fleet.errors import Conflict
from fleet.models import Person
from fleet.rules import may
from maintenance.models import JobCard
from maintenance.queries.cards import shares_opening
from maintenance.services.opening import card_plan, card_take


def cards_take_together(*, card: JobCard, by: Person) -> tuple[list[JobCard], list[tuple[JobCard, str]]]:
    """Take this job and those behind the same way in, and let them share one opening.

    Returns those taken, and each that was left with the reason (somebody has it, the curator has not answered).

    Raises:
        ValidationError: there is no way in to share, or none could be taken; nothing is written then.
    """
    if card.access is None:
        raise ValidationError("This job opens nothing that another could share.")
    taken: list[JobCard] = []
    left: list[tuple[JobCard, str]] = []
    with transaction.atomic():
        for one in [card, *shares_opening(card)]:
            try:
                with transaction.atomic():
                    taken.append(card_take(card=one, by=by))
            except (ValidationError, Conflict, PermissionDenied) as trouble:
                said = " ".join(trouble.messages) if isinstance(trouble, ValidationError) else str(trouble)
                left.append((one, said))
        if not taken:
            raise ValidationError(" ".join(said for _, said in left))
        if len(taken) > 1 and may(by, "card.plan"):
            word = next(
                (one.access_group for one in taken if one.access_group), f"{card.access} {card.serial}"[:40]
            )
            taken = [
                one if one.access_group == word else card_plan(card=one, by=by, access_group=word)
                for one in taken
            ]
    return taken, left
