"""Jobs opened, planned, taken, held. Work on them stands in bench.py, their end in closing.py."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.errors import Conflict
from fleet.models import Person, Skill, Subsystem, Vehicle
from fleet.rules import may
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from fleet.services.serials import next_serial
from maintenance import rules
from maintenance.defaults import card_defaults, recheck_defaults
from maintenance.enums import CardKind, CardState, HeldFor, SignatureKind
from maintenance.held import may_be_touched
from maintenance.models import Defect, JobCard, JobSignature, JobStep, SpecialTool
from maintenance.services.base import announce, card_lock, card_save, moment, wanted

PLAN_FIELDS = frozenset(
    {
        "title", "why", "code", "timing", "hours_best", "hours_usual", "hours_bad", "persons", "suits", "access",
        "access_group", "place", "needs_functional_test", "needs_road_test", "second_area", "needs_consent",
        "outside_on", "outside_who", "drying_hours", "voids_readings", "removes_original", "inspection", "subsystem",
        "recheck", "recheck_km",
    }
)  # fmt: skip
LISTS = frozenset({"defects", "skills", "tools", "after", "measures"})
NOT_BEGUN = frozenset({CardState.NOT_DUE, CardState.NOT_BOOKED, CardState.ASSESSED, CardState.BOOKED_IN})


@transaction.atomic
def card_open(
    *,
    by: Person,
    vehicle: Vehicle,
    title: str,
    subsystem: Subsystem | None = None,
    kind: str = CardKind.DEFECT,
    defects: Iterable[Defect] = (),
    state: str = CardState.ASSESSED,
    steps: Iterable[str | tuple[str, str]] = (),
    found_on: JobCard | None = None,
    at: dt.datetime | None = None,
    **plan: Any,
) -> JobCard:
    """Open a job. Tests and second signature come from its system unless the plan says otherwise."""
    permit(by, "card.open", rules.may_open_card(by, kind))
    if state not in NOT_BEGUN:
        raise ValidationError({"state": "A new job begins as not due, not booked, assessed or booked in."})
    _known(plan)
    listed = list(defects)
    _fits_vehicle(vehicle, subsystem, listed)
    subsystem = subsystem or next((one.subsystem for one in listed if one.subsystem is not None), None)
    asked = card_defaults(system=subsystem.code if subsystem else "", kind=kind, lifts=vehicle.lifts)
    fields: dict[str, Any] = {
        "needs_functional_test": asked.needs_functional_test,
        "needs_road_test": asked.needs_road_test,
        "second_area": asked.second_area,
        "needs_consent": kind == CardKind.FABRIC,
        **recheck_defaults(system=subsystem.code if subsystem else "", kind=kind, access=plan.get("access")),
    }
    lists = {name: list(plan.pop(name) or []) for name in list(plan) if name in LISTS}
    opened = moment(at)
    card = JobCard(
        serial=next_serial(timezone.localdate(opened)), vehicle=vehicle, subsystem=subsystem, kind=kind,
        title=title.strip(), state=state, found_on=found_on, created_at=opened, touched_at=opened, **{**fields, **plan},
    )  # fmt: skip
    save_clean(card)
    card.defects.set(listed)
    _lists_set(card, lists)
    for order, step in enumerate(steps, start=1):
        text, source = step if isinstance(step, tuple) else (step, "")
        save_clean(JobStep(card=card, order=order, text=text, source=source))
    acts.record(act="card.open", by=by, subject=card, vehicle=vehicle, detail={"version": card.version})
    announce("card.open", vehicle.pk)
    return card


def _known(plan: Mapping[str, Any]) -> None:
    unknown = sorted(set(plan) - PLAN_FIELDS - LISTS)
    if unknown:
        raise ValidationError(f"A job has no such thing to plan: {', '.join(unknown)}.")


def _fits_vehicle(vehicle: Vehicle, subsystem: Subsystem | None, defects: Iterable[Defect]) -> None:
    if subsystem is not None and subsystem.vehicle_id != vehicle.pk:
        raise ValidationError({"subsystem": "That system belongs to another vehicle."})
    for defect in defects:
        if defect.vehicle_id != vehicle.pk:
            raise ValidationError({"defects": f"{defect} is of another vehicle."})
        if not defect.is_open:
            raise ValidationError({"defects": f"{defect} is {defect.get_state_display().lower()} already."})


def _lists_set(card: JobCard, lists: Mapping[str, list[Any]]) -> None:
    for name, values in lists.items():
        if name == "after":
            _no_circle(card, values)
        by_name: Any = {"skills": Skill, "tools": SpecialTool}.get(name)
        getattr(card, name).set(
            [by_name.objects.get_or_create(name=v.strip())[0] if isinstance(v, str) else v for v in values]
        )


def _no_circle(card: JobCard, after: Iterable[JobCard]) -> None:
    """A job may not come after one that comes after it."""
    seen: set[int] = set()
    edge = list(after)
    while edge:
        one = edge.pop()
        if one.pk == card.pk:
            raise ValidationError(
                {"after": f"{card} would have to be done before itself. Look at which comes first."}
            )
        if one.pk not in seen:
            seen.add(one.pk)
            edge.extend(one.after.all())


@transaction.atomic
def card_plan(*, card: JobCard, by: Person, expected_version: int | None = None, **changes: Any) -> JobCard:
    """Change the plan of a job: hours, people, way in, place, tests, what comes first."""
    permit(by, "card.plan")
    _known(changes)
    row = card_lock(card, expected_version)
    lists = {name: list(changes.pop(name) or []) for name in list(changes) if name in LISTS}
    if "second_area" in changes and row.second_area and not changes["second_area"]:
        permit(
            by, "card.return", sentence="Only the workshop lead may say that no second signature is wanted."
        )
    _fits_vehicle(row.vehicle, changes.get("subsystem"), lists.get("defects", []))
    moved = {}
    for name, value in changes.items():
        if getattr(row, name) != value:
            moved[name] = [str(getattr(row, name)), str(value)]
            setattr(row, name, value)
    _lists_set(row, lists)
    return card_save(
        row,
        act="card.plan",
        by=by,
        fields=list(moved),
        detail={**moved, **{name: len(rows) for name, rows in lists.items()}},
    )


@transaction.atomic
def card_book_in(*, card: JobCard, by: Person, expected_version: int | None = None, **plan: Any) -> JobCard:
    """It will be done: booked in, with its plan."""
    permit(by, "card.plan")
    row = card_lock(card, expected_version)
    if row.state not in NOT_BEGUN | {CardState.CARRIED_FORWARD}:
        raise ValidationError({"state": f"{row} is {row.get_state_display().lower()} already."})
    if plan:
        row = card_plan(card=row, by=by, **plan)
    row.state = CardState.BOOKED_IN
    return card_save(row, act="card.book_in", by=by, fields=["state"])


@transaction.atomic
def card_take(
    *, card: JobCard, by: Person, expected_version: int | None = None, at: dt.datetime | None = None
) -> JobCard:
    """Have it in one's own name, so that nobody begins it twice."""
    permit(by, "card.take", rules.may_take_card(by, card), _trainee_words(by))
    row = card_lock(card, expected_version)
    if row.taken_by_id == by.pk:
        return row
    if row.taken_by is not None:
        since = timezone.localtime(row.taken_at) if row.taken_at else None
        when = f" since {since.day} {since:%B}" if since else ""
        raise Conflict(
            f"{row.taken_by.name} has {row}{when}. Ask {row.taken_by.first_name} to hand it back first."
        )
    may_be_touched(row.vehicle_id)
    if row.needs_consent and row.consent_answer != "yes":
        raise ValidationError({"consent": f"{row} needs the curator's consent before anything is touched."})
    row.taken_by, row.taken_at = by, moment(at)
    fields = ["taken_by", "taken_at"]
    if row.state != CardState.HELD or row.held_for == HeldFor.OWNER_GONE:
        row.state, row.held_for, row.held_until, row.held_note = CardState.IN_HAND, "", None, ""
        fields += ["state", "held_for", "held_until", "held_note"]
    return card_save(row, act="card.take", by=by, fields=fields, at=at)


def _trainee_words(by: Person) -> str:
    return "A trainee works beside somebody. Ask the one you work with to take it." if by.is_trainee else ""


@transaction.atomic
def card_hand_back(
    *, card: JobCard, by: Person, note: str = "", expected_version: int | None = None
) -> JobCard:
    """Nobody has it now. The lead may take it out of another's name. A job left in pieces needs its leave-safe note."""
    row = card_lock(card, expected_version)
    if row.taken_by is None:
        raise ValidationError(f"Nobody has {row}.")
    permit(
        by, "card.take", by.pk == row.taken_by_id or by.has_role("lead"),
        f"Only {row.taken_by.name} or the workshop lead may hand {row} back.",
    )  # fmt: skip
    if row.is_stripped and not row.left_safe.filter(at__gte=row.opened_at).exists():
        raise ValidationError(
            {"left_safe": "It is open. Write first how it stands, where the parts are, and what comes next."}
        )
    before = row.taken_by.name
    row.taken_by, row.taken_at = None, None
    fields = ["taken_by", "taken_at"]
    if row.state == CardState.IN_HAND:
        row.state = CardState.BOOKED_IN
        fields.append("state")
    return card_save(row, act="card.hand_back", by=by, fields=fields, detail={"had it": before, "note": note})


@transaction.atomic
def card_hold(
    *,
    card: JobCard,
    by: Person,
    reason: str,
    until: dt.date | None = None,
    note: str = "",
    expected_version: int | None = None,
) -> JobCard:
    """It cannot go on, and why."""
    row = card_lock(card, expected_version)
    permit(by, "card.plan", rules.may_work_card(by, row) or by.has_role("coordinator"))
    if reason not in HeldFor.values:
        raise ValidationError({"reason": f"Say what it is held for: {', '.join(HeldFor.labels).lower()}."})
    row.state, row.held_for, row.held_until, row.held_note = CardState.HELD, reason, until, note.strip()
    return card_save(
        row,
        act="card.hold",
        by=by,
        fields=["state", "held_for", "held_until", "held_note"],
        detail={"for": reason, "note": note},
    )


@transaction.atomic
def card_release(*, card: JobCard, by: Person | None, expected_version: int | None = None) -> JobCard:
    """What it was held for is here. `by` None: the part came in, or the curator answered."""
    row = card_lock(card, expected_version)
    if by is not None:
        permit(by, "card.plan", rules.may_work_card(by, row) or by.has_role("coordinator"))
    if row.state != CardState.HELD:
        raise ValidationError({"state": f"{row} is not held."})
    row.state = CardState.IN_HAND if row.taken_by_id else CardState.BOOKED_IN
    row.held_for, row.held_until, row.held_note = "", None, ""
    return card_save(row, act="card.release", by=by, fields=["state", "held_for", "held_until", "held_note"])


@transaction.atomic
def consent_answer(
    *, card: JobCard, by: Person, answer: str, words: str, expected_version: int | None = None
) -> JobCard:
    """The curator answers for the fabric: yes or no, with words."""
    permit(by, "consent.answer")
    row = card_lock(card, expected_version)
    if answer not in {"yes", "no"}:
        raise ValidationError({"answer": "Answer yes or no."})
    row.consent_words = wanted(words, "words", "Write why, and what must be kept.")
    row.needs_consent, row.consent_answer, row.consent_by, row.consent_at = True, answer, by, timezone.now()
    save_clean(JobSignature(card=row, kind=SignatureKind.CURATOR, person=by, words=row.consent_words[:200]))
    row = card_save(
        row, act="consent.answer", by=by, detail={"answer": answer},
        fields=["needs_consent", "consent_answer", "consent_words", "consent_by", "consent_at"],
    )  # fmt: skip
    if answer == "yes" and row.held_for == HeldFor.CURATOR:
        return card_release(card=row, by=None)
    return row


@transaction.atomic
def owner_gone(*, person: Person, by: Person, day: dt.date) -> list[JobCard]:
    """Somebody has left: their open jobs are held and say so. Called by the receiver of `person_left`."""
    held = []
    for card in JobCard.objects.filter(taken_by=person).order_by("pk"):
        if not card.is_open:
            continue
        row = card_lock(card)
        row.taken_by, row.taken_at = None, None
        row.state, row.held_for = CardState.HELD, HeldFor.OWNER_GONE
        row.held_note = f"{person.name} had it and left on {day.day} {day:%B %Y}."[:200]
        held.append(
            card_save(
                row,
                act="card.owner_gone",
                by=by,
                fields=["taken_by", "taken_at", "state", "held_for", "held_note"],
            )
        )
    JobCard.objects.filter(suits=person).update(suits=None)
    return held


@transaction.atomic
def card_second(
    *, card: JobCard, by: Person, person: Person | None, expected_version: int | None = None
) -> JobCard:
    """Who stands by, or works along, at work for two. `person` None: nobody any more."""
    row = card_lock(card, expected_version)
    own = person is not None and person.pk == by.pk and may(by, "card.take")
    permit(by, "card.take", own or rules.may_work_card(by, row) or may(by, "card.plan"))
    if person is not None and person.pk == row.taken_by_id:
        raise ValidationError({"person": f"{person.name} has the job. The second person is another."})
    if person is not None and not person.is_active:
        raise ValidationError({"person": f"{person.name} is not here any more."})
    row.second = person
    return card_save(
        row,
        act="card.second",
        by=by,
        fields=["second"],
        detail={"second": person.name if person else "nobody"},
    )
