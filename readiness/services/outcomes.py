"""Write down whether each entry ran as entered, after its slot."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Person
from fleet.services import acts
from fleet.services.permit import permit
from readiness.enums import EventState
from readiness.models import Entry, Event, Outcome
from readiness.services.base import day_time


class Said(NamedTuple):
    """What somebody says of one entry; an empty `ran` takes back what was written."""

    ran: str
    words: str = ""


def entries_to_answer(event: Event) -> list[Entry]:
    """Entries that were to run themselves, in order of their slots; a standby is asked for with what it covers."""
    rows = Entry.objects.filter(slot__event=event, covers=None).select_related(
        "slot", "vehicle", "outcome__by"
    )
    return list(rows.order_by("slot__starts_at", "slot__code", "vehicle__number"))


@transaction.atomic
def outcomes_write(*, by: Person, event: Event, said: Mapping[int, Said]) -> list[Outcome]:
    """Write down what became of these entries. Only what differs from what stands is written, one act each.

    Raises:
        ValidationError: the slot has not ended, the event was called off, or a reason is missing; by entry.
    """
    permit(by, "entry.ran")
    if event.state == EventState.CALLED_OFF:
        raise ValidationError(f"{event} was called off: nothing ran.")
    now, wrong, changed = timezone.now(), {}, []
    rows = {e.pk: e for e in entries_to_answer(event)}
    for pk, answer in said.items():
        entry = rows.get(pk)
        if entry is None:
            raise ValidationError("That entry is not on this programme any more.")
        try:
            found = _write(by, entry, answer, ended=entry.slot.ends_at <= now)
        except ValidationError as trouble:
            wrong[f"entry-{pk}"] = " ".join(trouble.messages)
        else:
            changed += [found] if found is not None else []
    if wrong:
        raise ValidationError(wrong)
    return changed


def _write(by: Person, entry: Entry, answer: Said, *, ended: bool) -> Outcome | None:
    row: Outcome | None = getattr(entry, "outcome", None)
    before = Said(row.ran, row.words) if row is not None else Said("")
    after = Said(answer.ran, answer.words.strip())
    if after == before or (not after.ran and row is None):
        return None
    if not ended:
        raise ValidationError(f"{entry.slot} ends {day_time(entry.slot.ends_at)}: not known yet.")
    detail = {"slot": entry.slot.code, "ran": [before.ran, after.ran], "why": after.words}
    if not after.ran:
        assert row is not None
        acts.record(act="entry.ran", by=by, subject=entry, vehicle=entry.vehicle, detail=detail)
        row.delete()
        return None
    row = row or Outcome(entry=entry)
    row.ran, row.words, row.by, row.at = after.ran, after.words, by, timezone.now()
    row.full_clean()
    row.save()
    acts.record(act="entry.ran", by=by, subject=entry, vehicle=entry.vehicle, detail=detail)
    return row
