"""At the bench: cautions, steps, hours, off and on again, leaving it safe."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from fleet.errors import Conflict
from fleet.models import Person, Photo
from fleet.services.fields import save_clean
from fleet.services.meters import Figure, decimal
from fleet.services.permit import permit
from maintenance import rules
from maintenance.enums import CardState
from maintenance.held import may_be_touched
from maintenance.models import CautionRead, JobCard, JobPhoto, JobStep, LeaveSafe, StripItem, WorkLog
from maintenance.services.base import card_lock, card_save, moment, wanted
from maintenance.services.closing import settle
from maintenance.waits import not_back

BENCH_STATES = frozenset(
    {
        CardState.NOT_DUE,
        CardState.NOT_BOOKED,
        CardState.ASSESSED,
        CardState.BOOKED_IN,
        CardState.CARRIED_FORWARD,
    }
)


def _work(card: JobCard, by: Person, expected_version: int | None = None) -> JobCard:
    row = card_lock(card, expected_version)
    permit(by, "card.take", rules.may_work_card(by, row))
    return row


@transaction.atomic
def cautions_read(
    *, card: JobCard, by: Person, day: dt.date | None = None, at: dt.datetime | None = None
) -> CautionRead:
    """This person has read the cautions of this job, today."""
    read_at = moment(at)
    on = day or timezone.localdate(read_at)
    row = _work(card, by)
    there = CautionRead.objects.filter(card=row, person=by, day=on).first()
    if there is not None:
        return there
    read = CautionRead(card=row, person=by, day=on, at=read_at)
    save_clean(read)
    card_save(row, act="card.cautions", by=by, at=read_at)
    return read


@transaction.atomic
def card_steps_set(
    *, card: JobCard, by: Person, steps: Iterable[str | tuple[str, str]], expected_version: int | None = None
) -> list[JobStep]:
    """The steps of a job, each with its source. What is ticked already stays."""
    row = _work(card, by, expected_version)
    kept = list(row.steps.exclude(done_at=None))
    row.steps.filter(done_at=None).delete()
    done_texts = {step.text for step in kept}
    order = max((step.order for step in kept), default=0)
    for step in steps:
        text, source = step if isinstance(step, tuple) else (step, "")
        if text in done_texts:
            continue
        order += 1
        save_clean(JobStep(card=row, order=order, text=text, source=source))
    card_save(row, act="card.steps", by=by)
    return list(row.steps.all())


@transaction.atomic
def step_done(*, step: JobStep, by: Person, at: dt.datetime | None = None) -> JobStep:
    row = _work(step.card, by)
    may_be_touched(row.vehicle_id)
    fresh = JobStep.objects.get(pk=step.pk)
    if fresh.done_at is None:
        fresh.done_at, fresh.done_by = moment(at), by
        fresh.save(update_fields=["done_at", "done_by"])
        card_save(row, act="card.step_done", by=by, detail={"step": str(fresh)}, at=at)
        settle(row, by)
    return fresh


@transaction.atomic
def step_undo(*, step: JobStep, by: Person) -> JobStep:
    row = _work(step.card, by)
    fresh = JobStep.objects.get(pk=step.pk)
    if fresh.done_at is not None:
        fresh.done_at, fresh.done_by = None, None
        fresh.save(update_fields=["done_at", "done_by"])
        card_save(row, act="card.step_undo", by=by, detail={"step": str(fresh)})
    return fresh


@transaction.atomic
def hours_add(
    *,
    card: JobCard,
    by: Person,
    hours: Figure,
    person: Person | None = None,
    day: dt.date | None = None,
    note: str = "",
) -> WorkLog:
    """Hours at the bench, one's own; the lead may write another's. A job that has ended takes late hours too."""
    row = card_lock(card, ended=True)
    worker = person or by
    own = worker.pk == by.pk and rules.may_work_card(by, row)
    permit(by, "card.take", own or by.has_role("lead"), "Write your own hours; the lead may write another's.")
    log = WorkLog(
        card=row, person=worker, day=day or timezone.localdate(), hours=decimal(hours, "hours"), note=note
    )
    if log.day > timezone.localdate():
        raise ValidationError({"day": "That day has not come yet."})
    save_clean(log)
    fields = []
    if row.state in BENCH_STATES - {CardState.CARRIED_FORWARD}:
        row.state = CardState.IN_HAND
        fields = ["state"]
    card_save(
        row, act="card.hours", by=by, fields=fields, detail={"person": worker.name, "hours": str(log.hours)}
    )
    return log


@transaction.atomic
def left_safe(
    *,
    card: JobCard,
    by: Person,
    state_of_strip: str,
    parts_where: str,
    next_step: str,
    at: dt.datetime | None = None,
) -> LeaveSafe:
    """Stopping for the day: how it stands, where the parts are, what comes next."""
    row = _work(card, by)
    note = LeaveSafe(
        card=row, by=by, at=moment(at),
        state_of_strip=wanted(state_of_strip, "state_of_strip", "Write how it stands."),
        parts_where=wanted(parts_where, "parts_where", "Write where the parts are."),
        next_step=wanted(next_step, "next_step", "Write what comes next."),
    )  # fmt: skip
    save_clean(note)
    card_save(row, act="card.left_safe", by=by, at=note.at)
    return note


@transaction.atomic
def strip_add(
    *,
    card: JobCard,
    by: Person,
    what: str,
    number: int | None = None,
    count: int = 1,
    tray: str = "",
    marks: str = "",
    renew: str = "",
    torque: str = "",
    at: dt.datetime | None = None,
) -> StripItem:
    """One thing taken off, numbered. The first one opens the job; after a refit it is in pieces again."""
    row = _work(card, by)
    may_be_touched(row.vehicle_id)
    if row.needs_consent and row.consent_answer != "yes":
        raise ValidationError({"consent": "The curator has not said yes. Nothing is taken off before that."})
    off_at = moment(at)
    highest = row.strip_items.aggregate(top=Max("number"))["top"] or 0
    taken = number if number is not None else highest + 1
    if row.strip_items.filter(number=taken).exists():
        there = row.strip_items.get(number=taken)
        raise Conflict(f"Number {taken} is {there.what} already. The next free number is {highest + 1}.")
    item = StripItem(
        card=row, number=taken, what=wanted(what, "what", "Write what was taken off."), count=count, tray=tray,
        marks=marks, renew=renew, torque=torque, off_at=off_at, off_by=by,
    )  # fmt: skip
    save_clean(item)
    fields = ["opened_at", "refit_at"]
    if row.opened_at is None or row.refit_at is not None:
        row.opened_at = off_at
    row.refit_at = None
    if row.state in BENCH_STATES | {CardState.REFIT_DONE, CardState.TESTED}:
        row.state = CardState.IN_HAND
        fields.append("state")
    card_save(row, act="card.off", by=by, fields=fields, detail={"item": str(item)}, at=off_at)
    return item


@transaction.atomic
def strip_back(
    *, item: StripItem, by: Person, at: dt.datetime | None = None, not_back_reason: str = ""
) -> StripItem:
    """Back on; or why it never will be (renewed, scrapped)."""
    row = _work(item.card, by)
    may_be_touched(row.vehicle_id)
    fresh = StripItem.objects.get(pk=item.pk)
    if fresh.back_at is not None:
        return fresh
    if not_back_reason.strip():
        fresh.not_back_reason, fresh.back_by = not_back_reason.strip(), by
    else:
        fresh.back_at, fresh.back_by, fresh.not_back_reason = moment(at), by, ""
    save_clean(fresh, ["back_at", "back_by", "not_back_reason"])
    card_save(row, act="card.on", by=by, detail={"item": str(fresh)}, at=at)
    return fresh


@transaction.atomic
def refit_done(
    *, card: JobCard, by: Person, at: dt.datetime | None = None, expected_version: int | None = None
) -> JobCard:
    """Put together again. Refused while anything of the list is off: each is named."""
    row = _work(card, by, expected_version)
    off = not_back(row)
    if off:
        raise ValidationError(
            {"refit": f"Not back on yet: {'; '.join(off)}. Tick each one, or say why it stays off."}
        )
    row.refit_at = moment(at)
    row.opened_at = row.opened_at or row.refit_at
    row.state, row.held_for, row.held_until, row.held_note = CardState.REFIT_DONE, "", None, ""
    card_save(
        row,
        act="card.refit",
        by=by,
        at=at,
        fields=["refit_at", "opened_at", "state", "held_for", "held_until", "held_note"],
    )
    return settle(row, by)


@transaction.atomic
def original_kept(*, card: JobCard, by: Person, label: str, shelf: str) -> JobCard:
    """The original part that came off is kept: its label number and its shelf."""
    row = _work(card, by)
    row.removes_original = True
    row.original_label = wanted(label, "label", "Write the number on the label.")
    row.original_shelf = wanted(shelf, "shelf", "Write the shelf.")
    card_save(
        row,
        act="card.original_kept",
        by=by,
        fields=["removes_original", "original_label", "original_shelf"],
        detail={"label": label, "shelf": shelf},
    )
    return settle(row, by)


@transaction.atomic
def card_photo_add(
    *, card: JobCard, by: Person, photo: Photo, moment_of: str = "note", item: StripItem | None = None
) -> JobPhoto:
    """A photograph goes with a job, as found, as left, or of one thing taken off. An ended job takes them too."""
    row = card_lock(card, ended=True)
    permit(by, "card.take", rules.may_work_card(by, row))
    if item is not None and item.card_id != row.pk:
        raise ValidationError({"item": "That was taken off on another job."})
    there = JobPhoto.objects.filter(card=row, photo=photo, moment=moment_of, item=item).first()
    if there is not None:
        return there
    link = JobPhoto(card=row, photo=photo, moment=moment_of, item=item)
    save_clean(link)
    card_save(row, act="card.photo", by=by)
    return link
