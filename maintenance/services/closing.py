"""The end of a job: handed in, tested, signed by another, passed; and what passing it does to the vehicle."""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.enums import InspectArea
from fleet.models import Person
from fleet.rules import may
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from fleet.services.proof import proof_check
from maintenance import rules
from maintenance.defaults import VOID_AREAS, card_voids
from maintenance.enums import CardState, NeedState, SignatureKind, TestKind, Timing
from maintenance.models import Inspection, JobCard, JobSignature, JobTest
from maintenance.services.base import card_lock, card_save, moment, touch, wanted
from maintenance.services.defects import defects_clear_where_done
from maintenance.services.rechecks import recheck_ask
from maintenance.waits import Wait, doers, is_handed_over, waits_for

GOOD_OUTCOMES = frozenset({"done", "limit"})
OUTCOMES = frozenset({"done", "limit", "not run", "as found"})


@transaction.atomic
def card_close(
    *,
    card: JobCard,
    by: Person,
    outcome: str,
    words: str,
    at: dt.datetime | None = None,
    expected_version: int | None = None,
) -> list[Wait]:
    """Hand in a job. Nothing handed in is lost: what it still waits for comes back, and it passes when that is met.

    Outcomes: "done"; "limit" (done, and the fault stays open until a limit is signed); "not run" (a tag is hung);
    "as found" (put back as it was, to be done after the event).
    """
    row = card_lock(card, expected_version)
    permit(by, "card.close", rules.may_close_card(by, row), _trainee(by))
    if outcome not in OUTCOMES:
        raise ValidationError(
            {"outcome": "Say how it ended: done; done, a limit is needed; must not run; put back as found."}
        )
    said = wanted(words, "words", "Write what was found and what was done.")
    row.outcome, row.outcome_words = outcome, said
    save_clean(JobSignature(card=row, kind=SignatureKind.DOER, person=by, at=moment(at)))
    row = card_save(
        row, act="card.close", by=by, fields=["outcome", "outcome_words"], detail={"outcome": outcome}, at=at
    )
    if outcome == "not run":
        _must_not_run(row, by, said)
        return []
    if outcome == "as found":
        _as_found(row, by)
        return []
    settle(row, by)
    return waits_for(row, person=by) if row.is_open else []


def _trainee(by: Person) -> str:
    return "A trainee does not hand in a job alone. Ask the one you work with." if by.is_trainee else ""


def _must_not_run(row: JobCard, by: Person, words: str) -> None:
    from maintenance.services.tags import tag_hang

    row.state, row.taken_by, row.taken_at = CardState.ASSESSED, None, None
    row.held_for, row.held_until, row.held_note = "", None, ""
    card_save(
        row,
        act="card.not_run",
        by=by,
        fields=["state", "taken_by", "taken_at", "held_for", "held_until", "held_note"],
    )
    if not row.tags.filter(lifted_at=None).exists():
        tag_hang(vehicle=row.vehicle, by=by, reason=words, card=row)


def _as_found(row: JobCard, by: Person) -> None:
    row.state, row.timing, row.taken_by, row.taken_at = CardState.ASSESSED, Timing.AFTER, None, None
    row.held_for, row.held_until, row.held_note = "", None, ""
    if row.opened_at is not None and row.refit_at is None:
        off = [wait for wait in waits_for(row) if wait.code in {"refit", "strip gap"}]
        if off:
            raise ValidationError(
                {"outcome": f"It is not as it was found. {' '.join(wait.words for wait in off)}"}
            )
    card_save(
        row, act="card.as_found", by=by,
        fields=["state", "timing", "taken_by", "taken_at", "held_for", "held_until", "held_note"],
    )  # fmt: skip


def put_back_as_found(
    *, card: JobCard, by: Person, words: str, expected_version: int | None = None
) -> JobCard:
    """Put back without the repair; it joins what is done after the event, with what was learnt."""
    card_close(card=card, by=by, outcome="as found", words=words, expected_version=expected_version)
    return JobCard.objects.get(pk=card.pk)


def settle(row: JobCard, by: Person | None) -> JobCard:
    """Move a locked job as far as it has got: refit done, tested, and passed once it is handed in and waits for nothing."""
    row = JobCard.objects.get(pk=row.pk)
    if not row.is_open or (row.state == CardState.HELD and row.outcome not in GOOD_OUTCOMES):
        return row
    waits = waits_for(row, person=_who_handed_in(row))
    handed_in = row.outcome in GOOD_OUTCOMES
    if handed_in and not waits:
        return _pass(row, by)
    state = _reached(row, waits, handed_in)
    if state != row.state:
        row.state = state
        row.held_for, row.held_until, row.held_note = "", None, ""
        card_save(
            row,
            act="card.moved",
            by=by,
            fields=["state", "held_for", "held_until", "held_note"],
            detail={"state": state},
        )
    return row


def _who_handed_in(row: JobCard) -> Person | None:
    signed = row.signatures.filter(kind=SignatureKind.DOER).select_related("person").last()
    return signed.person if signed is not None else row.taken_by


def _reached(row: JobCard, waits: list[Wait], handed_in: bool) -> str:
    together = row.refit_at is not None or (handed_in and row.opened_at is None)
    if not (together and is_handed_over(waits)):
        return row.state
    if any(wait.code.startswith("test ") for wait in waits):
        return CardState.REFIT_DONE
    return CardState.TESTED


def _pass(row: JobCard, by: Person | None) -> JobCard:
    now = timezone.now()
    row.state, row.ended_at = CardState.PASSED, now
    row.held_for, row.held_until, row.held_note = "", None, ""
    card_save(
        row, act="card.pass", by=by, fields=["state", "ended_at", "held_for", "held_until", "held_note"]
    )
    _void_inspections(row, now)
    _parts_fitted(row, by)
    if row.outcome == "done":
        defects_clear_where_done(row, by)
    _inspection_renew(row, by)
    recheck_ask(card=row, by=by)
    return row


def _void_inspections(row: JobCard, now: dt.datetime) -> None:
    kinds = card_voids(row)
    for inspection in Inspection.objects.filter(vehicle_id=row.vehicle_id, kind__in=kinds).exclude(
        pk=row.inspection_id or 0
    ):
        inspection.voided_at = now
        inspection.voided_why = (
            f"Repair on {VOID_AREAS[inspection.kind]}: job {row.serial}. To be done again."[:200]
        )
        inspection.save(update_fields=["voided_at", "voided_why"])


def _parts_fitted(row: JobCard, by: Person | None) -> None:
    for need in row.parts.exclude(
        state__in=[NeedState.FITTED, NeedState.NOT_NEEDED, NeedState.ON_ORDER, NeedState.OUT_FOR_REPAIR]
    ):
        need.state = NeedState.FITTED if need.state == NeedState.ON_SHELF else NeedState.NOT_NEEDED
        touch(
            need,
            act="part.fitted" if need.state == NeedState.FITTED else "part.not_needed",
            by=by,
            fields=["state"],
        )


def _inspection_renew(row: JobCard, by: Person | None) -> None:
    """The job that carries out one of our own inspections renews it; an outside one needs its certificate."""
    from maintenance.services.inspections import inspection_renew

    if row.inspection is None or row.inspection.outside or row.outcome != "done" or by is None:
        return
    inspection_renew(
        inspection=row.inspection, by=by, done_on=timezone.localdate(row.ended_at), done_at=row.ended_at,
        words=f"Job {row.serial}. {row.outcome_words}"[:300],
    )  # fmt: skip


@transaction.atomic
def test_record(
    *,
    card: JobCard,
    by: Person,
    kind: str,
    passed: bool,
    words: str = "",  # noqa: PT028 - a test of the vehicle, not of the code
    at: dt.datetime | None = None,  # noqa: PT028
) -> JobTest:
    """A test on the bench, on the vehicle, or on the road. A failed one sends the job back to the bench."""
    permit(by, "card.test", not by.is_trainee and may(by, "card.test"))
    row = card_lock(card)
    if kind != TestKind.BENCH and row.is_stripped:
        raise ValidationError(
            {"kind": "It is not put together again. Say that the refit is done, then test it."}
        )
    if not passed and not words.strip():
        raise ValidationError({"words": "Write what failed."})
    test = JobTest(card=row, kind=kind, passed=passed, words=words.strip(), at=moment(at), by=by)
    save_clean(test)
    fields = []
    if not passed and row.state in {CardState.REFIT_DONE, CardState.TESTED}:
        row.state = CardState.IN_HAND
        fields = ["state"]
    card_save(row, act="card.test", by=by, fields=fields, detail={"test": kind, "passed": passed}, at=at)
    if passed:
        settle(row, by)
    return test


@transaction.atomic
def second_sign(
    *,
    card: JobCard,
    by: Person,
    proof: str,
    person: Person | None = None,
    words: str = "",
    at: dt.datetime | None = None,
) -> JobSignature:
    """Another authorised person has looked with their own eyes. `person` signs, on whosever phone `by` has open."""
    row = card_lock(card)
    signer = person or by
    area = row.second_area
    if not area:
        raise ValidationError({"area": f"{row} asks for no second signature."})
    if signer.pk in doers(row):
        permit(
            signer,
            "card.second_sign",
            False,
            f"{signer.name} worked on this job. Whoever did safety work does not pass it.",
        )
    signed_at = moment(at)
    competences = list(signer.competences.all())
    label = InspectArea(area).label.lower()
    permit(
        signer, "card.second_sign", rules.may_second_sign(signer, row, competences, timezone.localdate(signed_at)),
        f"{signer.name} is not authorised to pass {label} on that day. Ask somebody who is.",
    )  # fmt: skip
    if row.is_stripped:
        raise ValidationError({"refit": "It is not put together again. There is nothing to pass yet."})
    how = proof_check(person=signer, proof=proof)
    signature = JobSignature(
        card=row, kind=SignatureKind.INSPECTOR, person=signer, area=area, proof=how, words=words, at=signed_at
    )
    save_clean(signature)
    card_save(row, act="card.second_sign", by=signer, detail={"area": area, "proof": how}, at=at)
    settle(row, by)
    return signature


@transaction.atomic
def return_to_service(*, card: JobCard, by: Person, words: str = "") -> JobSignature:
    """The lead signs the vehicle back after this job. Not before it is passed."""
    permit(by, "card.return")
    row = card_lock(card, ended=True)
    if row.state != CardState.PASSED:
        left = " ".join(wait.words for wait in waits_for(row)) or "It has not been handed in."
        raise ValidationError({"card": f"{row} is not passed yet. {left}"})
    signature = JobSignature(card=row, kind=SignatureKind.RETURN, person=by, words=words)
    save_clean(signature)
    card_save(row, act="card.return", by=by)
    return signature
