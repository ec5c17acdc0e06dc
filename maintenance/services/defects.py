"""Faults: reported by anybody, assessed by the lead, answered by work or by a signed limit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Person, Photo, Subsystem, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from fleet.services.serials import next_serial
from maintenance.enums import OPEN_STATES, CardState, DefectSource, DefectState, Effect
from maintenance.models import Defect, DefectEffect, DefectNote, JobCard
from maintenance.risk import level
from maintenance.rules import check_assessment
from maintenance.services.base import announce, lock, moment, touch, wanted

TITLE_WORDS = 9


@transaction.atomic
def defect_report(
    *,
    vehicle: Vehicle,
    by: Person | None,
    subsystem: Subsystem | None = None,
    title: str = "",
    words: str = "",
    answers: Mapping[str, str] | None = None,
    reporter_name: str = "",
    source: str = DefectSource.PERSON,
    photos: Iterable[Photo] = (),
    at: dt.datetime | None = None,
    found_on: JobCard | None = None,
    code: str = "",
) -> Defect:
    """Report a fault. `by` None is a visitor or driver with a fault slip; `subsystem` None is "not sure where"."""
    permit(by, "fault.slip" if by is None else "fault.report")
    if subsystem is not None and subsystem.vehicle_id != vehicle.pk:
        raise ValidationError({"subsystem": "That system belongs to another vehicle."})
    said = title.strip() or _title_from(words, answers or {}, subsystem)
    reported_at = moment(at)
    row = Defect(
        serial=next_serial(timezone.localdate(reported_at)), code=code, vehicle=vehicle, subsystem=subsystem,
        title=said[:200], words=words.strip(), answers=dict(answers or {}), source=source, reported_at=reported_at,
        reported_by=by, reporter_name=reporter_name.strip()[:80] or (by.name if by else ""), found_on=found_on,
    )  # fmt: skip
    save_clean(row)
    row.photos.set(photos)
    acts.record(
        act="defect.report",
        by=by,
        by_name=reporter_name,
        subject=row,
        vehicle=vehicle,
        detail={"version": row.version},
    )
    announce("defect.report", vehicle.pk)
    return row


def _title_from(words: str, answers: Mapping[str, str], subsystem: Subsystem | None) -> str:
    told = [*answers.values(), words] if answers else [words]
    text = next((one.strip() for one in told if one.strip()), "")
    if not text and subsystem is None:
        raise ValidationError({"words": "Say what you saw, heard or smelt, in a few words."})
    parts = text.split()
    short = " ".join(parts[:TITLE_WORDS]) + (" ..." if len(parts) > TITLE_WORDS else "")
    if subsystem is not None:
        return f"{subsystem.name}: {short}" if short else f"{subsystem.name}: something wrong"
    return short


@transaction.atomic
def defect_assess(
    *,
    defect: Defect,
    by: Person,
    severity: int,
    probability: str,
    effects: Mapping[str, str],
    title: str = "",
    subsystem: Subsystem | None = None,
    expected_version: int | None = None,
    at: dt.datetime | None = None,
) -> Defect:
    """Rate a fault and say what it takes from the vehicle. Assessing again answers a finding that has changed.

    A deferral that was signed for a lesser risk falls.
    """
    permit(by, "defect.assess")
    row = lock(defect, expected_version)
    _must_be_open(row)
    wrong = check_assessment(severity=severity, probability=probability, effects=effects.values())
    if wrong:
        raise ValidationError({"severity": wrong})
    before = row.rating
    row.severity, row.probability, row.state = severity, probability, DefectState.ASSESSED
    row.assessed_at, row.assessed_by = moment(at), by
    if title.strip():
        row.title = title.strip()
    if subsystem is not None:
        if subsystem.vehicle_id != row.vehicle_id:
            raise ValidationError({"subsystem": "That system belongs to another vehicle."})
        row.subsystem = subsystem
    _effects_set(row, effects)
    fields = ["severity", "probability", "state", "assessed_at", "assessed_by", "title", "subsystem"]
    touch(
        row, act="defect.assess", by=by, fields=fields,
        detail={"rating": [before, row.rating], "effects": dict(effects)},
    )  # fmt: skip
    _fall_where_worse(row, by)
    return row


def _effects_set(row: Defect, effects: Mapping[str, str]) -> None:
    row.effects.all().delete()
    for function, effect in effects.items():
        save_clean(
            DefectEffect(
                defect=row, function=function, effect=Effect(effect) if effect in Effect.values else effect
            )
        )


def _fall_where_worse(row: Defect, by: Person) -> None:
    from maintenance.services.deferrals import deferral_fall

    now = level(row.severity or 0, row.probability)
    for deferral in row.deferrals.filter(withdrawn_at=None):
        if level(deferral.severity_without, deferral.probability_without).rank < now.rank:
            deferral_fall(
                deferral, by=by, reason=f"Assessed again as {row.rating}, worse than what was signed."
            )


def _must_be_open(row: Defect) -> None:
    if not row.is_open:
        raise ValidationError(f"{row} is {row.get_state_display().lower()}. Open it again first.")


@transaction.atomic
def defect_set_aside(
    *, defect: Defect, by: Person, reason: str, expected_version: int | None = None
) -> Defect:
    """Nothing in it: a wrong report, or mischief. Stays readable; the lead alone, with the reason."""
    permit(by, "defect.set_aside")
    row = lock(defect, expected_version)
    _must_be_open(row)
    row.end_reason = wanted(reason, "reason", "Write why it is set aside.")
    row.state, row.ended_at = DefectState.SET_ASIDE, timezone.now()
    return touch(
        row,
        act="defect.set_aside",
        by=by,
        fields=["state", "ended_at", "end_reason"],
        detail={"reason": reason},
    )


@transaction.atomic
def defect_merge(*, defect: Defect, into: Defect, by: Person, expected_version: int | None = None) -> Defect:
    """Two reports of one fault: this one is joined to the other. Both keep their words, photographs and jobs."""
    permit(by, "defect.merge")
    first, second = sorted(
        (defect, into), key=lambda one: one.pk
    )  # always in one order, so that two leads never wait for each other
    locked = {row.pk: row for row in (lock(first), lock(second))}
    row, kept = locked[defect.pk], locked[into.pk]
    if expected_version is not None:
        row = lock(defect, expected_version)
    if row.pk == kept.pk:
        raise ValidationError({"into": "A report cannot be joined to itself."})
    _must_be_open(row)
    _must_be_open(kept)
    if row.vehicle_id != kept.vehicle_id:
        raise ValidationError({"into": f"{kept} is of another vehicle."})
    if row.rating and (not kept.rating or _rank(row) > _rank(kept)):
        raise ValidationError(
            {
                "into": f"{row.serial} is rated worse than {kept.serial}. Join them the other way round, or assess {kept.serial} first."
            }
        )
    row.state, row.joined_to, row.ended_at = DefectState.MERGED, kept, timezone.now()
    row.end_reason = f"Joined to {kept.serial}."
    touch(
        row,
        act="defect.merge",
        by=by,
        fields=["state", "joined_to", "ended_at", "end_reason"],
        detail={"into": kept.serial},
    )
    save_clean(
        DefectNote(
            defect=kept, by=by, text=f"{row.serial} joined to this one. It said: {row.words or row.title}"
        )
    )
    for card in row.cards.filter(state__in=OPEN_STATES):
        card.defects.add(kept)
    kept.photos.add(*row.photos.all())
    return touch(kept, act="defect.joined", by=by, fields=[], detail={"from": row.serial})


def _rank(row: Defect) -> int:
    return level(row.severity or 0, row.probability).rank


@transaction.atomic
def defect_note(*, defect: Defect, by: Person, text: str, at: dt.datetime | None = None) -> DefectNote:
    permit(by, "defect.note")
    note = DefectNote(defect=defect, by=by, at=moment(at), text=wanted(text, "text", "Write the note first."))
    save_clean(note)
    acts.record(act="defect.note", by=by, subject=defect, vehicle=defect.vehicle)
    return note


@transaction.atomic
def defect_reopen(*, defect: Defect, by: Person, reason: str, expected_version: int | None = None) -> Defect:
    """It is there after all. Its assessment stands until the lead looks again."""
    permit(by, "defect.reopen")
    row = lock(defect, expected_version)
    if row.is_open:
        raise ValidationError(f"{row} is open already.")
    why = wanted(reason, "reason", "Write what was seen.")
    row.state = DefectState.ASSESSED if row.rating else DefectState.REPORTED
    row.joined_to, row.ended_at, row.end_reason = None, None, ""
    save_clean(DefectNote(defect=row, by=by, text=f"Opened again: {why}"))
    return touch(
        row,
        act="defect.reopen",
        by=by,
        fields=["state", "joined_to", "ended_at", "end_reason"],
        detail={"reason": why},
    )


def defect_clear(*, defect: Defect, by: Person | None, reason: str) -> Defect:
    """Answered by work. Called by the job that did it, inside its transaction; its deferrals end with it."""
    from maintenance.services.deferrals import deferral_fall

    row = lock(defect)
    if not row.is_open:
        return row
    row.state, row.ended_at, row.end_reason = DefectState.CLEARED, timezone.now(), reason
    touch(
        row, act="defect.clear", by=by, fields=["state", "ended_at", "end_reason"], detail={"reason": reason}
    )
    for deferral in row.deferrals.filter(withdrawn_at=None):
        deferral_fall(deferral, by=by, reason=reason)
    return row


def defects_clear_where_done(card: JobCard, by: Person | None) -> list[Defect]:
    """Clear what this job cleared, unless another open job still works on the same fault."""
    cleared = []
    for defect in card.defects.all():
        others = defect.cards.filter(state__in=OPEN_STATES).exclude(pk=card.pk)
        done: Any = defect.cards.filter(state=CardState.PASSED, outcome="done")
        if not others.exists() and done.exists():
            cleared.append(defect_clear(defect=defect, by=by, reason=f"Done on job {card.serial}."))
    return cleared
