"""Two hand-ins of one job, made on two phones without signal: which are still to be settled."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import QuerySet

from fleet.models import Act
from maintenance.models import JobCard

CLOSE, REOPEN, SECOND, SETTLED = "card.close", "card.reopen", "card.second_hand_in", "card.hand_ins_settled"
ENDS = (CLOSE, "card.no_fault", "card.drop")
KIND = JobCard._meta.label_lower


def acts_of(pk: int, *names: str) -> QuerySet[Act]:
    return Act.objects.filter(subject_kind=KIND, subject_id=str(pk), act__in=names).order_by("pk")


def handed_in_since(card: JobCard, seen: int | None) -> Act | None:
    """How the job ended after the version that somebody's page showed; None where it had not, or is open again."""
    last = acts_of(card.pk, *ENDS, REOPEN).last()
    if last is None or last.act == REOPEN:
        return None
    if seen is None:
        return None if card.is_open else last
    return last if int(last.detail.get("version", 0)) > seen else None


def unsettled(lines: Iterable[Act]) -> list[Act]:
    """Second hand-ins after the last settling, oldest first. `lines`: both kinds of one job, oldest first."""
    left: list[Act] = []
    for line in lines:
        left = [] if line.act == SETTLED else [*left, line]
    return left


def cards_to_settle() -> list[int]:
    """Keys of the jobs that have more than one hand-in and no word of the lead yet."""
    state: dict[str, bool] = {}
    rows = Act.objects.filter(act__in=[SECOND, SETTLED], subject_kind=KIND).order_by("pk")
    for subject, act in rows.values_list("subject_id", "act"):
        state[subject] = act == SECOND
    return [int(subject) for subject, left in state.items() if left]
