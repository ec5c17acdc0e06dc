"""Rules of the workshop that look at the thing as well as at the person. Pure: rows in, yes or no out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from fleet.enums import CompetenceKind, InspectArea
from fleet.models import Competence, Person
from fleet.rules import MECHANIC, may
from maintenance.enums import VALUED_LIMITS, CardKind, Effect, LimitKind, UseCheckKind
from maintenance.models import JobCard
from maintenance.risk import LADDER, Level, TermKind, level, may_carry, term_end
from maintenance.waits import doers

CHECK_ACTS = {
    UseCheckKind.EVENT: "check.event",
    UseCheckKind.FIRST_PARADE: "check.first_parade",
    UseCheckKind.AFTER_USE: "check.after_use",
    UseCheckKind.CONDITION_BEFORE: "check.condition",
    UseCheckKind.CONDITION_AFTER: "check.condition",
}
DEFERRAL_ACTS = {
    Level.SERIOUS: "deferral.serious",
    Level.MEDIUM: "deferral.medium",
    Level.LOW: "deferral.low",
    Level.ELIMINATED: "deferral.low",
}


def may_open_card(person: Person | None, kind: str) -> bool:
    return may(person, "card.open_fabric" if kind == CardKind.FABRIC else "card.open")


def may_work_card(person: Person | None, card: JobCard) -> bool:
    """Write hours, steps and the off-and-on list. Whoever a job is planned for may work on it too."""
    if person is not None and person.is_active and card.suits_id == person.pk:
        return True
    return may(person, "card.take_fabric" if card.kind == CardKind.FABRIC else "card.take")


def may_take_card(person: Person | None, card: JobCard) -> bool:
    """Have a job in one's own name. A trainee works beside somebody and never has it alone."""
    return person is not None and not person.is_trainee and may_work_card(person, card)


def may_close_card(person: Person | None, card: JobCard) -> bool:
    if person is None or person.is_trainee:
        return False
    planned = person.is_active and card.suits_id == person.pk
    return planned or may(person, "card.close_fabric" if card.kind == CardKind.FABRIC else "card.close")


def may_end_which(person: Person | None) -> bool:
    """End a which-part sheet on a cause; a trainee writes results beside somebody."""
    return person is not None and not person.is_trainee and may(person, "which.fill")


def may_inspect(competences: Iterable[Competence], area: str, day: dt.date) -> bool:
    """Authorised to pass another's work in this area on this day (valid through its last day)."""
    return any(
        one.kind == CompetenceKind.INSPECT
        and one.area in {area, InspectArea.ANY}
        and (one.valid_through is None or one.valid_through >= day)
        for one in competences
    )


def may_second_sign(
    person: Person | None, card: JobCard, competences: Iterable[Competence], day: dt.date
) -> bool:
    """Somebody else than the doers, authorised for the area on the day of signing."""
    if person is None or person.is_trainee or person.pk in doers(card):
        return False
    return may(person, "card.second_sign") and may_inspect(competences, card.second_area, day)


def may_sign_deferral(person: Person | None, role: str, rated: Level) -> bool:
    """Sign in this role at this level; High is nobody's to sign."""
    if rated not in DEFERRAL_ACTS or person is None or not person.has_role(role):
        return False
    return may(person, DEFERRAL_ACTS[rated]) and not (role == MECHANIC and person.is_trainee)


def check_assessment(*, severity: int, probability: str, effects: Iterable[str]) -> list[str]:
    """What is wrong with an assessment; empty when nothing is."""
    try:
        rated = level(severity, probability)
    except ValueError as trouble:
        return [str(trouble)]
    if rated is Level.HIGH and not set(effects) & {Effect.LOST, Effect.REDUCED}:
        return [
            "Rated High, and yet no function is lost or reduced. Say which function it takes, or rate it again."
        ]
    return []


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitRow:
    """One limit as it is entered: `kind` is a value of LimitKind."""

    kind: str
    value: Decimal | None = None
    text: str = ""
    has_driver: bool = False


def check_limit(limit: LimitRow) -> list[str]:
    if limit.kind not in LimitKind.values:
        return [f"{limit.kind} is not a kind of limit. Use one of: {', '.join(LimitKind.values)}."]
    kind = LimitKind(limit.kind)
    if kind in VALUED_LIMITS and (limit.value is None or limit.value <= 0):
        return [f"{kind.label}: write a figure above nought."]
    if kind is LimitKind.FREE_TEXT and not limit.text.strip():
        return ["Write the limit in words."]
    if kind is LimitKind.NAMED_DRIVER and not limit.has_driver:
        return ["Named driver only: name the driver."]
    return []


IDLE_LIMITS = frozenset({LimitKind.STATIC_ONLY.value, LimitKind.EQUIPMENT_LOCKED.value})


def longest_end(
    *,
    severity: int,
    probability: str,
    signed_on: dt.date,
    limits: Iterable[LimitRow],
    next_event_end: dt.date | None,
    next_inspection: dt.date | None,
) -> dt.date:
    """The last day that the ladder allows, by the rating *with* the limit.

    With no event on file, a term "to the end of the next event" is held to the days of a Medium one. Raises
    ValueError at High.
    """
    rated = level(severity, probability)
    if LADDER[rated].term.kind is TermKind.NEXT_EVENT and next_event_end is None:
        next_event_end = signed_on + dt.timedelta(days=LADDER[Level.MEDIUM].term.days)
    return term_end(
        with_limit=rated,
        signed_on=signed_on,
        next_event_end=next_event_end,
        next_inspection=next_inspection,
        idle=any(limit.kind in IDLE_LIMITS for limit in limits),
    )


def check_deferral(
    *,
    severity_without: int,
    probability_without: str,
    severity_with: int,
    probability_with: str,
    limits: Sequence[LimitRow],
    reason: str,
    signers: Sequence[tuple[str, str]],
    signed_on: dt.date,
    ends_on: dt.date,
    next_event_end: dt.date | None = None,
    next_inspection: dt.date | None = None,
    today: dt.date | None = None,
    allow_long: bool = False,
    allow_unsigned: bool = False,
) -> list[str]:
    """Every rule of putting a defect off, as sentences; empty when it may be signed.

    Args:
        severity_without: rating as the vehicle stands; decides who signs.
        probability_without: the same.
        severity_with: rating while the limits are obeyed; decides how long. The severity may not differ:
            only use, exposure or a barrier changes the letter.
        probability_with: the same.
        limits: what the vehicle may not do until then; none is not a deferral.
        reason: why it is put off.
        signers: (person, role) for each signature; a person counts once.
        signed_on: the day of signing.
        ends_on: the last day.
        next_event_end: last day of the next event, if one is planned.
        next_inspection: the vehicle's next inspection due after signing, if one is on file.
        today: refuses another day of signing; None where past ones are brought in.
        allow_long: a longer term is kept as written (it ends where the ladder says all the same).
        allow_unsigned: signatures may follow; until then it is not in force.
    """
    try:
        without, with_limit = (
            level(severity_without, probability_without),
            level(severity_with, probability_with),
        )
    except ValueError as trouble:
        return [str(trouble)]
    wrong = [sentence for limit in limits for sentence in check_limit(limit)]
    if Level.HIGH in {without, with_limit}:
        return [*wrong, "A High risk may not be put off, whoever signs. Repair it, or hang a do-not-run tag."]
    if severity_with != severity_without:
        wrong.append(
            "The severity is the same with the limit and without: only use, exposure or a barrier changes the letter. "
            f"Rate it {severity_without} with the limit too."
        )
    if not limits:
        wrong.append("Say what the vehicle may not do until then: at least one limit.")
    if len(reason.strip().split()) < 2:
        wrong.append("Write why it is put off, in a few words.")
    people: dict[str, str] = {}
    for person, role in signers:
        people.setdefault(person, role)
    carry = may_carry(without_limit=without, with_limit=with_limit, signed=people.values())
    if not carry.allowed and not (allow_unsigned and carry.code == "signers-missing"):
        wrong.append(f"Rated {without} without the limit. {carry.sentence}")
    if today is not None and signed_on != today:
        wrong.append("It is signed today, not on another day.")
    return wrong + _term_wrong(
        ends_on, signed_on, allow_long,
        longest_end(
            severity=severity_with, probability=probability_with, signed_on=signed_on, limits=limits,
            next_event_end=next_event_end, next_inspection=next_inspection,
        ),
    )  # fmt: skip


def _term_wrong(ends_on: dt.date, signed_on: dt.date, allow_long: bool, longest: dt.date) -> list[str]:
    if ends_on < signed_on:
        return ["It ends before it is signed."]
    if ends_on > longest and not allow_long:
        return [
            f"The longest allowed is to {longest.day} {longest:%B %Y}. Choose that day or an earlier one."
        ]
    return []
