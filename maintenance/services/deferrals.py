"""A fault put off for now: in writing, with limits, signers and an end. Renewed by signing anew, never by silence."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Person
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.meters import decimal
from fleet.services.permit import is_importing, permit
from fleet.services.proof import proof_check
from maintenance.enums import CardState, DefectState
from maintenance.models import Defect, Deferral, DeferralLimit, DeferralSignature, JobCard
from maintenance.queries.deferrals import next_inspection_day
from maintenance.risk import level
from maintenance.rules import LimitRow, check_deferral, may_sign_deferral
from maintenance.services.base import (
    announce,
    card_lock,
    card_save,
    lock,
    moment,
    next_event_end,
    touch,
    wanted,
)

Signer = tuple[Person, str]


@transaction.atomic
def deferral_sign(
    *,
    defect: Defect,
    by: Person,
    signers: Sequence[Signer],
    severity_with: int,
    probability_with: str,
    limits: Sequence[Mapping[str, Any]],
    reason: str,
    ends_on: dt.date,
    severity_without: int | None = None,
    probability_without: str | None = None,
    signed_on: dt.date | None = None,
    proofs: Mapping[int, str] | None = None,
    cards: Iterable[JobCard] = (),
    signature_follows: bool = False,
    allow_past: bool = False,
    code: str = "",
    renews: Deferral | None = None,
    expected_version: int | None = None,
) -> Deferral:
    """Put a fault off.

    Args:
        defect: assessed; its rating is the rating without the limit unless a table brings its own.
        by: who is signed in.
        signers: (person, role) for each who signs. Everybody but `by` proves it by their own password or PIN.
        severity_with: rating while the limits are obeyed. The same severity as without.
        probability_with: the letter while the limits are obeyed.
        limits: dicts of `kind`, `value`, `text`, `driver`.
        reason: why it is put off.
        ends_on: the last day.
        severity_without: only with `allow_past`.
        probability_without: only with `allow_past`.
        signed_on: today; another day only with `allow_past`.
        proofs: password or PIN by the signer's id.
        cards: jobs that are carried forward with it.
        signature_follows: the second signer signs later (`deferral_countersign`); not in force until then.
        allow_past: writing down what was signed on paper, inside a table being brought in: another day, signers
            on their word, a longer term (which ends where the ladder says all the same).
        code: short name used in tables.
        renews: the deferral that this one follows.
        expected_version: of the defect as it was read.
    """
    if allow_past and not is_importing(by):
        raise ValidationError(
            {"signed_on": "Only a table that is brought in may carry signatures of another day."}
        )
    row = lock(defect, expected_version)
    if row.state != DefectState.ASSESSED:
        raise ValidationError(
            {"defect": f"{row} must be assessed first." if row.is_open else f"{row} is not open."}
        )
    today = timezone.localdate()
    day = signed_on or today
    without = (row.severity or 0, row.probability)
    if allow_past and severity_without is not None:
        without = (severity_without, probability_without or "")
    limit_rows = [_limit_row(limit, number) for number, limit in enumerate(limits)]
    _check(
        row, without=without, with_limit=(severity_with, probability_with), limits=limit_rows,
        reason=reason, signers=[(str(person.pk), role) for person, role in signers], days=(day, ends_on),
        today=None if allow_past else today, allow_long=allow_past, allow_unsigned=signature_follows,
    )  # fmt: skip
    made = Deferral(
        code=code, defect=row, severity_without=without[0], probability_without=without[1],
        severity_with=severity_with, probability_with=probability_with, reason=reason.strip(), signed_on=day,
        ends_on=ends_on, renews=renews,
    )  # fmt: skip
    save_clean(made)
    for limit in limits:
        save_clean(_limit(made, limit))
    for person, role in signers:
        _sign(made, person=person, role=role, by=by, proofs=proofs or {}, trusted=allow_past)
    if renews is None:
        for earlier in row.deferrals.filter(withdrawn_at=None).exclude(pk=made.pk):
            deferral_fall(earlier, by=by, reason="Another was signed in its place.")
    for card in cards:
        _carry_forward(card, by)
    touch(
        row,
        act="deferral.sign",
        by=by,
        fields=[],
        detail={"ends": ends_on.isoformat(), "rating": [made.rating_without, made.rating_with]},
    )
    return made


def _check(
    row: Defect,
    *,
    without: tuple[int, str],
    with_limit: tuple[int, str],
    days: tuple[dt.date, dt.date],
    **rest: Any,
) -> None:
    signed_on, ends_on = days
    wrong = check_deferral(
        severity_without=without[0], probability_without=without[1],
        severity_with=with_limit[0], probability_with=with_limit[1], signed_on=signed_on, ends_on=ends_on,
        next_event_end=next_event_end(row.vehicle_id, signed_on),
        next_inspection=next_inspection_day(row.vehicle_id, signed_on), **rest,
    )  # fmt: skip
    if wrong:
        raise ValidationError(wrong)


def _figure(limit: Mapping[str, Any], number: int) -> Decimal | None:
    value = limit.get("value")
    return None if value is None or value == "" else decimal(value, f"limits-{number}-value")


def _limit_row(limit: Mapping[str, Any], number: int) -> LimitRow:
    return LimitRow(
        kind=str(limit.get("kind", "")),
        value=_figure(limit, number),
        text=str(limit.get("text", "")),
        has_driver=limit.get("driver") is not None,
    )


def _limit(deferral: Deferral, limit: Mapping[str, Any]) -> DeferralLimit:
    return DeferralLimit(
        deferral=deferral, kind=limit["kind"], value=_figure(limit, 0), text=str(limit.get("text", "")),
        driver=limit.get("driver"),
    )  # fmt: skip


def _sign(
    deferral: Deferral, *, person: Person, role: str, by: Person, proofs: Mapping[int, str], trusted: bool
) -> DeferralSignature:
    if not trusted:
        rated = level(deferral.severity_without, deferral.probability_without)
        permit(
            person, "deferral.medium", may_sign_deferral(person, role, rated),
            f"{person.name} may not sign a {rated} risk as {role}. Nothing was signed.",
        )  # fmt: skip
        if person.pk != by.pk:
            proof_check(person=person, proof=proofs.get(person.pk, ""), field="proofs")
    if deferral.signatures.filter(person=person).exists():
        raise ValidationError(
            {"signers": f"{person.name} has signed already; two signatures are two people."}
        )
    signature = DeferralSignature(deferral=deferral, person=person, role=role)
    save_clean(signature)
    acts.record(
        act="deferral.signature",
        by=person,
        subject=deferral,
        vehicle=deferral.defect.vehicle,
        detail={"as": role},
    )
    return signature


def _carry_forward(card: JobCard, by: Person) -> None:
    row = card_lock(card)
    if row.is_stripped:
        raise ValidationError(
            {"cards": f"{row} is open and not put together again. It cannot be carried forward like that."}
        )
    row.state, row.held_for, row.held_until, row.taken_by = CardState.CARRIED_FORWARD, "", None, None
    card_save(row, act="card.carry_forward", by=by, fields=["state", "held_for", "held_until", "taken_by"])


@transaction.atomic
def deferral_countersign(*, deferral: Deferral, by: Person, role: str) -> DeferralSignature:
    """The signature that was still wanted, from the signer's own sign-in."""
    row = (
        Deferral.objects.select_for_update(of=("self",)).select_related("defect__vehicle").get(pk=deferral.pk)
    )
    if row.withdrawn_at is not None:
        raise ValidationError("That one is withdrawn. Sign a new one.")
    signature = _sign(row, person=by, role=role, by=by, proofs={}, trusted=False)
    announce("deferral.sign", row.defect.vehicle_id)
    return signature


def deferral_renew(
    *,
    deferral: Deferral,
    by: Person,
    signers: Sequence[Signer],
    ends_on: dt.date,
    reason: str,
    limits: Sequence[Mapping[str, Any]] | None = None,
    probability_with: str = "",
    proofs: Mapping[int, str] | None = None,
    signature_follows: bool = False,
) -> Deferral:
    """The same again with a new end: looked at anew, signed anew. The old one stays readable and runs out by itself."""
    if limits is None:
        limits = [
            {"kind": limit.kind, "value": limit.value, "text": limit.text, "driver": limit.driver}
            for limit in deferral.limits.select_related("driver")
        ]
    return deferral_sign(
        defect=deferral.defect, by=by, signers=signers, severity_with=deferral.severity_with,
        probability_with=probability_with or deferral.probability_with, limits=limits, reason=reason, ends_on=ends_on,
        proofs=proofs, signature_follows=signature_follows, renews=deferral,
    )  # fmt: skip


@transaction.atomic
def deferral_withdraw(*, deferral: Deferral, by: Person, reason: str) -> Deferral:
    """No longer: the fault gates again from now on, and its jobs come back to be done."""
    permit(by, "deferral.withdraw")
    why = wanted(reason, "reason", "Write why it is withdrawn.")
    row = Deferral.objects.select_for_update(of=("self",)).select_related("defect").get(pk=deferral.pk)
    if row.withdrawn_at is not None:
        raise ValidationError("It is withdrawn already.")
    defect = lock(row.defect)
    deferral_fall(row, by=by, reason=why)
    for card in defect.cards.filter(state=CardState.CARRIED_FORWARD):
        fresh = card_lock(card)
        fresh.state = CardState.ASSESSED
        card_save(fresh, act="card.come_back", by=by, fields=["state"])
    touch(defect, act="deferral.withdraw", by=by, fields=[], detail={"reason": why})
    return row


def deferral_fall(deferral: Deferral, *, by: Person | None, reason: str) -> None:
    """End one inside another service's transaction."""
    deferral.withdrawn_at, deferral.withdrawn_reason = moment(None), reason[:200]
    deferral.save(update_fields=["withdrawn_at", "withdrawn_reason"])
    acts.record(
        act="deferral.fall",
        by=by,
        subject=deferral,
        vehicle=deferral.defect.vehicle,
        detail={"reason": reason},
    )
    announce("deferral.fall", deferral.defect.vehicle_id)
