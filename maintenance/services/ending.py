"""Other ends of a job, and opening it again."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Person
from fleet.services.permit import permit
from maintenance.enums import CardState, NeedState
from maintenance.models import JobCard
from maintenance.services.base import card_lock, card_save, touch, wanted
from maintenance.services.defects import defect_clear, defect_reopen, defects_clear_where_done


@transaction.atomic
def card_reopen(*, card: JobCard, by: Person, reason: str, expected_version: int | None = None) -> JobCard:
    """More is to be done. Earlier tests and second signatures do not count for it; what it had cleared is open again."""
    permit(by, "card.reopen")
    row = card_lock(card, expected_version, ended=True)
    if row.is_open and not row.outcome:
        raise ValidationError(f"{row} is open already.")
    why = wanted(reason, "reason", "Write what is still to be done.")
    ended_as = row.state
    row.state, row.outcome, row.ended_at, row.taken_by, row.taken_at = (
        CardState.BOOKED_IN,
        "",
        None,
        None,
        None,
    )
    row.counts_from = timezone.now()
    card_save(
        row, act="card.reopen", by=by, detail={"reason": why},
        fields=["state", "outcome", "ended_at", "taken_by", "taken_at", "counts_from"],
    )  # fmt: skip
    if ended_as in {CardState.PASSED, CardState.NO_FAULT_FOUND}:
        for defect in row.defects.all():
            if defect.state == "cleared":
                defect_reopen(defect=defect, by=by, reason=f"Job {row.serial} opened again: {why}")
    return row


def _end(row: JobCard, by: Person, state: CardState, act: str, words: str) -> JobCard:
    if row.is_stripped:
        raise ValidationError({"refit": f"{row} is open and not put together again. Put it back first."})
    row.state, row.ended_at, row.outcome_words = state, timezone.now(), words
    row.held_for, row.held_until, row.held_note, row.taken_by, row.taken_at = "", None, "", None, None
    card_save(
        row, act=act, by=by, detail={"words": words},
        fields=["state", "ended_at", "outcome_words", "held_for", "held_until", "held_note", "taken_by", "taken_at"],
    )  # fmt: skip
    for need in row.parts.filter(state__in=[NeedState.NOT_ORDERED, NeedState.UNKNOWN]):
        need.state = NeedState.NOT_NEEDED
        touch(need, act="part.not_needed", by=by, fields=["state"])
    return row


@transaction.atomic
def card_not_needed(
    *, card: JobCard, by: Person, reason: str, expected_version: int | None = None
) -> JobCard:
    """Dropped by the lead: done by another job, or not wanted. Its faults stay as they are."""
    permit(by, "card.drop")
    row = card_lock(card, expected_version)
    row = _end(
        row, by, CardState.NOT_NEEDED, "card.drop", wanted(reason, "reason", "Write why it is not needed.")
    )
    defects_clear_where_done(row, by)
    return row


card_drop = card_not_needed


@transaction.atomic
def no_fault_found(*, card: JobCard, by: Person, words: str, expected_version: int | None = None) -> JobCard:
    """Looked, tried, and nothing was found. An assessed fault keeps gating until the lead agrees and sets it aside."""
    permit(by, "card.no_fault", not by.is_trainee and by.has_role("mechanic", "lead"))
    row = card_lock(card, expected_version)
    row = _end(
        row,
        by,
        CardState.NO_FAULT_FOUND,
        "card.no_fault",
        wanted(words, "words", "Write what was looked at and how it was tried."),
    )
    if by.has_role("lead"):
        for defect in row.defects.all():
            if not defect.cards.exclude(pk=row.pk).filter(ended_at=None).exists():
                defect_clear(
                    defect=defect, by=by, reason=f"No fault found on job {row.serial}: {words.strip()}"[:300]
                )
    return row
