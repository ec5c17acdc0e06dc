"""What a job still waits for before it is passed. Reads only; prefetch with `CARD_PARTS` where it matters."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleet.enums import InspectArea
from fleet.hazards import Hazard, hazards_for
from fleet.models import Person
from maintenance.enums import SignatureKind, TestKind
from maintenance.models import JobCard, JobSignature

CARD_PARTS = (
    "steps", "strip_items", "tests", "signatures", "hours", "cautions_read", "measures", "readings", "defects__effects",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """One thing still wanted: a stable code, and what a person reads."""

    code: str
    words: str


def card_hazards(card: JobCard) -> list[Hazard]:
    """Cautions of the system and of the way in, once each, warnings first."""
    codes: list[str] = list(card.subsystem.hazards) if card.subsystem is not None else []
    if card.access is not None:
        codes += card.access.hazards
    return hazards_for(codes)


def cautions_needed(card: JobCard, person: Person, day: dt.date) -> list[Hazard]:
    """What this person must read before working on this job today; empty once read."""
    if any(read.person_id == person.pk and read.day == day for read in card.cautions_read.all()):
        return []
    return card_hazards(card)


def doers(card: JobCard) -> frozenset[int]:
    """Everybody who worked on it: hours, steps, off-and-on list, doer's signature, or the one who has it."""
    found = {log.person_id for log in card.hours.all()}
    found |= {one.person_id for one in card.signatures.all() if one.kind == SignatureKind.DOER}
    found |= {step.done_by_id for step in card.steps.all() if step.done_by_id}
    for item in card.strip_items.all():
        found |= {person for person in (item.off_by_id, item.back_by_id) if person}
    if card.taken_by_id:
        found.add(card.taken_by_id)
    return frozenset(found)


def counted_from(card: JobCard) -> dt.datetime | None:
    """Tests and signatures before this moment say nothing: refit, or the job opened again, whichever is later."""
    moments = [moment for moment in (card.refit_at, card.counts_from) if moment is not None]
    return max(moments, default=None)


def _counts(card: JobCard, at: dt.datetime) -> bool:
    start = counted_from(card)
    return start is None or at >= start


def tests_missing(card: JobCard) -> list[str]:
    """Kinds of test that are asked and whose last result since the refit is not a pass."""
    asked = [TestKind.FUNCTIONAL] if card.needs_functional_test else []
    asked += [TestKind.ROAD] if card.needs_road_test else []
    missing = []
    for kind in asked:
        counted = [test for test in card.tests.all() if test.kind == kind and _counts(card, test.at)]
        if not counted or not max(counted, key=lambda test: (test.at, test.pk)).passed:
            missing.append(kind.value)
    return missing


def second_signature(card: JobCard) -> JobSignature | None:
    """The signature that passes the safety work, if it counts: right area, after the refit, not by a doer."""
    worked = doers(card)
    good = [
        one
        for one in card.signatures.all()
        if one.kind == SignatureKind.INSPECTOR
        and one.area in {card.second_area, InspectArea.ANY}
        and one.person_id not in worked
        and _counts(card, one.at)
    ]
    return good[-1] if good else None


def strip_gaps(card: JobCard) -> list[int]:
    """Numbers that are missing from the off-and-on list: something was taken off and not written down."""
    numbers = {item.number for item in card.strip_items.all()}
    return sorted(set(range(1, max(numbers, default=0) + 1)) - numbers)


def not_back(card: JobCard) -> list[str]:
    return [str(item) for item in card.strip_items.all() if item.back_at is None and not item.not_back_reason]


def readings_wanted(card: JobCard) -> list[str]:
    """Readings that the job asks for, or that were taken as found and have no as left."""
    live = [reading for reading in card.readings.all() if not hasattr(reading, "replaced_by")]
    left = {reading.measure_id for reading in live if reading.moment == "as left"}
    wanted = {measure.pk: measure.name for measure in card.measures.all()}
    wanted |= {reading.measure_id: reading.measure.name for reading in live if reading.moment == "as found"}
    return [name for pk, name in wanted.items() if pk not in left]


def waits_for(card: JobCard, *, person: Person | None = None) -> list[Wait]:
    """Everything that stands between this job and passed, in the order in which it is done.

    `person`: who hands it in; without one, whoever has it.
    """
    found: list[Wait] = []

    def wait(code: str, words: str) -> None:
        found.append(Wait(code=code, words=words))

    holder = person.pk if person is not None else card.taken_by_id
    if card_hazards(card) and not any(
        r.person_id == holder or holder is None for r in card.cautions_read.all()
    ):
        wait("cautions", "The cautions have not been read. Read them first.")
    if card.needs_consent and card.consent_answer != "yes":
        said = "The curator said no." if card.consent_answer == "no" else "The curator has not answered yet."
        wait("consent", f"{said} Nothing of the fabric may be changed.")
    undone = [step.text for step in card.steps.all() if step.done_at is None]
    if undone:
        wait("steps", f"Not done yet: {'; '.join(undone)}.")
    gaps = strip_gaps(card)
    if gaps:
        wait(
            "strip gap",
            f"Number {', '.join(map(str, gaps))} is missing from the off-and-on list. Write down what it was.",
        )
    if card.removes_original and not (card.original_label and card.original_shelf):
        wait(
            "original",
            "The original part taken off has no label number and shelf yet. Keep it, and write both down.",
        )
    off = not_back(card)
    if off:
        wait("refit", f"Not back on yet: {'; '.join(off)}.")
    elif (card.opened_at is not None or card.strip_items.all()) and card.refit_at is None:
        wait("refit", "Nobody has said that it is put together again.")
    readings = readings_wanted(card)
    if readings:
        wait("readings", f"Readings wanted as left: {'; '.join(readings)}.")
    for kind in tests_missing(card):
        wait("test " + kind, f"{TestKind(kind).label} not passed yet.")
    if card.second_area and second_signature(card) is None:
        area = InspectArea(card.second_area).label.lower()
        wait("second signature", f"Second signature wanted ({area}), by somebody who did not do the work.")
    return found


LAST_WAITS = ("test ", "second signature")


def is_handed_over(waits: list[Wait]) -> bool:
    """Only tests and signatures are left: the bench work is done."""
    return all(one.code.startswith(LAST_WAITS) for one in waits)
