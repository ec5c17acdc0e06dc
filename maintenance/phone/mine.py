"""My jobs: what I have, what nobody has and I could do, what is held, what waits for my signature."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet
from django.utils import timezone

from fleet.enums import CompetenceKind, InspectArea
from fleet.models import Competence, Person
from fleet.rules import may
from maintenance import rules
from maintenance.enums import OPEN_STATES, CardState, Timing
from maintenance.models import Defect, JobCard, Reading
from maintenance.phone.entries import new_key
from maintenance.phone.freeze import next_freeze
from maintenance.phone.page import held_words
from maintenance.risk import level
from maintenance.waits import CARD_PARTS, is_handed_over, waits_for

LAST = 99
NOT_WAITING = frozenset({CardState.HELD, CardState.NOT_DUE, CardState.CARRIED_FORWARD})


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRow:
    card: JobCard
    why: str
    may_take: bool
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mine:
    have: tuple[JobRow, ...]
    free: tuple[JobRow, ...]
    held: tuple[JobRow, ...]
    to_sign: tuple[JobRow, ...]
    after: tuple[JobRow, ...]
    freeze: dt.datetime | None

    @property
    def is_empty(self) -> bool:
        return not (self.have or self.free or self.held or self.to_sign or self.after)


def my_jobs(person: Person, now: dt.datetime | None = None) -> Mine:
    """Fixed number of queries, however many jobs there are."""
    moment = now or timezone.now()
    skills = {skill.pk for skill in person.skills.all()}
    cards = sorted(_open_cards(), key=urgency)
    have = [one for one in cards if one.taken_by_id == person.pk]
    near = [one for one in cards if one.taken_by_id is None and fits(one, person, skills)]
    mine = [*have, *near]
    held = [one for one in mine if one.state == CardState.HELD]
    rest = [one for one in mine if one.state not in NOT_WAITING or one.taken_by_id == person.pk]
    now_rows = [one for one in rest if one.timing == Timing.BEFORE and one.state != CardState.HELD]
    later = [one for one in rest if one.timing == Timing.AFTER and one.state != CardState.HELD]
    return Mine(
        have=_rows([one for one in now_rows if one.taken_by_id == person.pk], person),
        free=_rows([one for one in now_rows if one.taken_by_id is None], person),
        held=_rows(held, person), to_sign=_rows(_to_sign(person, timezone.localdate(moment)), person),
        after=_rows(later, person), freeze=next_freeze(timezone.localdate(moment)),
    )  # fmt: skip


def _open_cards() -> QuerySet[JobCard]:
    rows = JobCard.objects.filter(state__in=OPEN_STATES).select_related("vehicle", "taken_by", "suits")
    return rows.prefetch_related(
        "skills", Prefetch("defects", Defect.objects.only("pk", "severity", "probability"))
    )


def fits(card: JobCard, person: Person, skills: set[int]) -> bool:
    """Planned for this person; or for nobody, and one of its skills is theirs, or it asks for none."""
    if card.suits_id is not None:
        return card.suits_id == person.pk
    asked = {skill.pk for skill in card.skills.all()}
    return rules.may_work_card(person, card) and (not asked or bool(asked & skills))


def urgency(card: JobCard) -> tuple[int, int, float, str]:
    """Before the event first, then the worst risk, then the longest work: what holds the freeze most comes first."""
    ranks = [
        level(one.severity, one.probability).rank
        for one in card.defects.all()
        if one.severity and one.probability
    ]
    return (
        0 if card.timing == Timing.BEFORE else 1,
        -max(ranks, default=-1),
        -float(card.hours_usual * card.persons) if card.hours_usual is not None else 0.0,
        card.serial,
    )


def _to_sign(person: Person, day: dt.date) -> list[JobCard]:
    """Finished but for a second signature that this person may give: authorised for the area, and not one who did it."""
    if person.is_trainee or not may(person, "card.second_sign"):
        return []
    known = list(Competence.objects.filter(person=person, kind=CompetenceKind.INSPECT))
    areas = {one.area for one in known if one.valid_through is None or one.valid_through >= day}
    if not areas:
        return []
    rows = JobCard.objects.filter(state__in=OPEN_STATES, refit_at__isnull=False).exclude(second_area="")
    rows |= (
        JobCard.objects.filter(state__in=OPEN_STATES, opened_at=None)
        .exclude(second_area="")
        .exclude(outcome="")
    )
    if InspectArea.ANY not in areas:
        rows = rows.filter(second_area__in=areas)
    parts = [
        Prefetch("readings", Reading.objects.select_related("measure", "replaced_by"))
        if name == "readings"
        else name
        for name in CARD_PARTS
    ]
    cards = rows.select_related("vehicle", "taken_by", "subsystem", "access").prefetch_related(*parts)
    return [one for one in cards if _wants_signature(one) and rules.may_second_sign(person, one, known, day)]


def _wants_signature(card: JobCard) -> bool:
    waits = waits_for(card)
    return is_handed_over(waits) and any(one.code == "second signature" for one in waits)


def _rows(cards: Iterable[JobCard], person: Person) -> tuple[JobRow, ...]:
    return tuple(
        JobRow(card=one, why=_why(one, person), may_take=_may_take(one, person), key=new_key())
        for one in cards
    )


def _may_take(card: JobCard, person: Person) -> bool:
    consent = not card.needs_consent or card.consent_answer == "yes"
    return card.taken_by_id is None and consent and rules.may_take_card(person, card)


def _why(card: JobCard, person: Person) -> str:
    """One line under the title: how it stands."""
    said = held_words(card)
    if said:
        return said
    if card.needs_consent and card.consent_answer != "yes":
        return "Waits for the curator's answer. Nothing of the fabric may be changed."
    hours = f"{card.hours_usual.normalize():f} h" if card.hours_usual is not None else "No hours estimated"
    people = f", {card.persons} people" if card.persons > 1 else ""
    state = card.get_state_display()
    suited = " Planned for you." if card.suits_id == person.pk and card.taken_by_id is None else ""
    return f"{state}. {hours}{people}.{suited}"
