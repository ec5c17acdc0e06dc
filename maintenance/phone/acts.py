"""What can be done on a job from the phone: one row an act, each calling one service."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import models
from django.utils import timezone

from fleet.errors import Conflict
from fleet.models import Person, Photo
from maintenance import rules
from maintenance.enums import CardState, DefectSource, TestKind
from maintenance.forms import phone as forms
from maintenance.held import may_be_touched
from maintenance.models import JobCard, Submission
from maintenance.queries.hand_ins import handed_in_since
from maintenance.services import bench, cards, closing, defects, parts, readings
from maintenance.services.second_hand_in import hand_ins_settle, second_hand_in
from maintenance.waits import cautions_needed, is_handed_over, waits_for

EVERYWHERE = ("waits", "foot")


@dataclass(frozen=True, slots=True, kw_only=True)
class Press:
    """One act as it was sent: who, on which job, about what, with which words; `rows` takes the key of what it made."""

    card: JobCard
    by: Person
    data: Mapping[str, Any]
    row: Any = None
    photo: Photo | None = None
    seen: int | None = None
    form: Any = None
    made: dt.datetime = field(default_factory=timezone.now)
    rows: dict[str, int] = field(default_factory=dict)

    @property
    def day(self) -> dt.date:
        """The day on which it was done, which may be before the day on which it came."""
        return timezone.localdate(self.made)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhoneAct:
    """One row: the form, the service behind it, and what of the page changes with it.

    Attributes:
        form: what is typed.
        do: calls the service; answers with one sentence.
        section: the part of the page that it stands in.
        also: other parts that change with it.
        rows: where the thing that it is about is found, by the number that the form carries.
        whole: the page is shown anew: rights and parts change everywhere.
        needs_work: refused to whoever may not work on the job, before a photograph is looked at.
    """

    form: type[forms.PhoneForm]
    do: Callable[[Press], str]
    section: str
    also: tuple[str, ...] = ()
    rows: Callable[[JobCard], models.QuerySet[Any]] | None = None
    whole: bool = False
    needs_work: bool = False


def _take(press: Press) -> str:
    cards.card_take(card=press.card, by=press.by, expected_version=press.seen)
    return f"You have job {press.card.serial} now."


def _second(press: Press) -> str:
    cards.card_second(card=press.card, by=press.by, person=press.by, expected_version=press.seen)
    return f"You are the second person at job {press.card.serial}."


def _not_second(press: Press) -> str:
    if press.card.second_id != press.by.pk:
        raise Conflict("You are not the second person at this job any more.")
    cards.card_second(card=press.card, by=press.by, person=None, expected_version=press.seen)
    return "Nobody is the second person now."


def _hand_back(press: Press) -> str:
    cards.card_hand_back(card=press.card, by=press.by, note=press.data["note"], expected_version=press.seen)
    return "Handed back. No one has it now."


def _hold(press: Press) -> str:
    cards.card_hold(
        card=press.card, by=press.by, reason=press.data["reason"], until=press.data["until"], note=press.data["note"],
        expected_version=press.seen,
    )  # fmt: skip
    return "Held, and everybody can see what for."


def _release(press: Press) -> str:
    cards.card_release(card=press.card, by=press.by, expected_version=press.seen)
    return "No longer held."


def _cautions(press: Press) -> str:
    bench.cautions_read(card=press.card, by=press.by, day=press.day)
    return (
        "You have read the cautions today."
        if press.day == timezone.localdate()
        else "You had read the cautions."
    )


def cautions_first(press: Press) -> None:
    """Nothing is ticked or taken off before the cautions are read, each work day anew; the day on which it was done counts."""
    if all(cautions_needed(press.card, press.by, day) for day in {press.day, timezone.localdate()}):
        raise ValidationError(
            "Read the cautions first, and say so at the top of this job. They are read anew each work day."
        )


def _step(press: Press) -> str:
    if not press.data["done"]:
        step = bench.step_undo(step=press.row, by=press.by)
        return f"Step {step.order} is not done."
    cautions_first(press)
    step = bench.step_done(step=press.row, by=press.by)
    return f"Step {step.order} done."


def _reading(press: Press) -> str:
    row = readings.reading_add(
        by=press.by, measure=press.row, values=press.form.values, card=press.card, moment_of=press.data["moment"],
        note=press.data["note"],
    )  # fmt: skip
    return f"Written down. {row.measure.name}: {row.verdict_words}."


def _photo(press: Press) -> str:
    assert press.photo is not None
    bench.card_photo_add(
        card=press.card,
        by=press.by,
        photo=press.photo,
        moment_of=press.data["moment"] or "note",
        item=press.row,
    )
    return "The photograph is with the job."


def _off(press: Press) -> str:
    cautions_first(press)
    item = bench.strip_add(
        card=press.card, by=press.by,
        **{name: press.data[name] for name in ("what", "number", "count", "tray", "marks", "renew", "torque")},
    )  # fmt: skip
    if press.photo is not None:
        bench.card_photo_add(card=press.card, by=press.by, photo=press.photo, moment_of="as found", item=item)
    press.rows["row"] = item.pk
    return f"Written down as number {item.number}: {item.what}."


def _back(press: Press) -> str:
    item = bench.strip_back(item=press.row, by=press.by)
    return f"Number {item.number} is back on."


def _stays_off(press: Press) -> str:
    item = bench.strip_back(item=press.row, by=press.by, not_back_reason=press.data["reason"])
    return f"Number {item.number} stays off: {item.not_back_reason}."


def _refit(press: Press) -> str:
    bench.refit_done(card=press.card, by=press.by, expected_version=press.seen)
    return "Refit done. Now test it."


def _original(press: Press) -> str:
    bench.original_kept(card=press.card, by=press.by, label=press.data["label"], shelf=press.data["shelf"])
    return "The original part is kept and can be found again."


def _safe(press: Press) -> str:
    names = ("state_of_strip", "parts_where", "next_step")
    bench.left_safe(card=press.card, by=press.by, **{name: press.data[name] for name in names})
    return "Left safe. The next one knows where to begin."


def _hours(press: Press) -> str:
    log = bench.hours_add(
        card=press.card,
        by=press.by,
        hours=press.data["hours"],
        day=press.data["day"],
        note=press.data["note"],
    )
    return f"{log.hours:f} h written down."


def _test(press: Press) -> str:
    test = closing.test_record(
        card=press.card,
        by=press.by,
        kind=press.data["kind"],
        passed=press.data["result"] == "passed",
        words=press.data["words"],
    )
    return f"{TestKind(test.kind).label} {'passed' if test.passed else 'failed'}."


def _sign(press: Press) -> str:
    signer = Person.objects.filter(pk=press.data["signer"]).first()
    if signer is None:
        raise ValidationError({"signer": "Choose a name from the list."})
    closing.second_sign(
        card=press.card, by=press.by, person=signer, proof=press.data["proof"], words=press.data["words"]
    )
    return f"Checked and signed by {signer.name}."


def _close(press: Press) -> str:
    """Done is handed in once the bench work is done; tests and the second signature may follow by others."""
    outcome = press.data["outcome"]
    first = handed_in_since(press.card, press.seen)
    if first is not None:
        return second_hand_in(
            card=press.card,
            by=press.by,
            outcome=outcome,
            words=press.data["words"],
            first=first,
            made=press.made,
        )
    if outcome in closing.GOOD_OUTCOMES:
        left = [one for one in waits_for(press.card, person=press.by) if not is_handed_over([one])]
        if left:
            raise ValidationError([one.words for one in left])
    waits = closing.card_close(
        card=press.card, by=press.by, outcome=outcome, words=press.data["words"], expected_version=press.seen
    )
    return said_at_close(outcome, [one.words for one in waits])


def said_at_close(outcome: str, waits: list[str]) -> str:
    if outcome == "not run":
        return "Handed in. A do-not-run tag is on the vehicle; write its number on the red label and hang it."
    if outcome == "as found":
        return "Handed in: put back as found, to be done after the event."
    if waits:
        return f"Handed in. It still waits: {' '.join(waits)}"
    return "Handed in and passed."


def _return(press: Press) -> str:
    closing.return_to_service(card=press.card, by=press.by, words=press.data["words"])
    return "Signed back to service."


def _settle(press: Press) -> str:
    hand_ins_settle(card=press.card, by=press.by, words=press.data["words"])
    return "Settled. Both hand-ins stay in the book."


def _found(press: Press) -> str:
    row = defects.defect_report(
        vehicle=press.card.vehicle, by=press.by, subsystem=press.card.subsystem, words=press.data["words"],
        source=DefectSource.DISCOVERY, photos=[press.photo] if press.photo is not None else [], found_on=press.card,
    )  # fmt: skip
    return f"Reported as {row.serial}. The lead assesses it; this job can still be finished."


def _part(press: Press) -> str:
    row = parts.part_need_add(
        by=press.by,
        name=press.data["name"],
        card=press.card,
        quantity=press.data["quantity"],
        note=press.data["note"],
    )
    return f"Wanted: {row.name}."


ACTS: Mapping[str, PhoneAct] = {
    "take": PhoneAct(form=forms.PlainForm, do=_take, section="head", whole=True),
    "hand_back": PhoneAct(form=forms.HandBackForm, do=_hand_back, section="head", whole=True),
    "second": PhoneAct(form=forms.PlainForm, do=_second, section="head"),
    "not_second": PhoneAct(form=forms.PlainForm, do=_not_second, section="head"),
    "hold": PhoneAct(form=forms.HoldForm, do=_hold, section="held", whole=True),
    "release": PhoneAct(form=forms.PlainForm, do=_release, section="held", whole=True),
    "cautions": PhoneAct(form=forms.PlainForm, do=_cautions, section="cautions", also=("steps", "strip")),
    "step": PhoneAct(form=forms.StepForm, do=_step, section="steps", rows=lambda card: card.steps.all()),
    "reading": PhoneAct(
        form=forms.ReadingForm, do=_reading, section="readings", rows=lambda card: card.vehicle.measures.all()
    ),
    "photo": PhoneAct(
        form=forms.PhotoForm, do=_photo, section="strip", also=("photos",), rows=lambda card: card.strip_items.all(),
        needs_work=True,
    ),
    "off": PhoneAct(form=forms.OffForm, do=_off, section="strip", also=("tests",), needs_work=True),
    "back": PhoneAct(form=forms.PlainForm, do=_back, section="strip", rows=lambda card: card.strip_items.all()),
    "stays_off": PhoneAct(
        form=forms.StaysOffForm, do=_stays_off, section="strip", rows=lambda card: card.strip_items.all()
    ),
    "refit": PhoneAct(form=forms.PlainForm, do=_refit, section="strip", whole=True),
    "original": PhoneAct(form=forms.OriginalForm, do=_original, section="strip"),
    "safe": PhoneAct(form=forms.SafeForm, do=_safe, section="safe"),
    "hours": PhoneAct(form=forms.HoursForm, do=_hours, section="hours"),
    "test": PhoneAct(form=forms.TestForm, do=_test, section="tests"),
    "sign": PhoneAct(form=forms.SignForm, do=_sign, section="sign"),
    "close": PhoneAct(form=forms.CloseForm, do=_close, section="close", whole=True),
    "return": PhoneAct(form=forms.ReturnForm, do=_return, section="close", whole=True),
    "settle": PhoneAct(form=forms.SettleForm, do=_settle, section="head", whole=True),
    "found": PhoneAct(form=forms.FoundForm, do=_found, section="found"),
    "part": PhoneAct(form=forms.PartForm, do=_part, section="parts"),
}  # fmt: skip
ENDED = frozenset({CardState.PASSED, CardState.NO_FAULT_FOUND, CardState.NOT_NEEDED})


def row_of(act: PhoneAct, card: JobCard, target: str) -> Any:
    """The step, thing or measure that an act is about; None where it is about the job as a whole."""
    if act.rows is None or not target:
        if act.rows is not None and act.form is not forms.PhotoForm:
            raise Conflict("What this was about is no longer on the job. Look at it again.")
        return None
    number = _made_by(target[4:]) if target.startswith("key:") else target
    found = act.rows(card).filter(pk=number).first() if number.isdigit() else None
    if found is None:
        raise Conflict("What this was about is no longer on the job. Look at it again.")
    return found


def _made_by(key: str) -> str:
    """The number of what an earlier entry made: a phone without signal knows a thing only by its own entry's key."""
    there = Submission.objects.filter(key=key[:64], act="phone.off").first()
    return str(there.answer.get("row", "")) if there is not None else ""


HELD_TAKES = frozenset({"photo", "found", "hours", "safe", "settle"})
"""What may be sent for a vehicle that is held as found: it says how it is or was, and changes nothing on it."""


def may_begin(name: str, act: PhoneAct, card: JobCard, by: Person) -> None:
    """Refuse before anything is read from a file that was sent.

    Raises:
        PermissionDenied: this person may not work on the job.
        ValidationError: the vehicle is held as it was found.
    """
    if name not in HELD_TAKES:
        may_be_touched(card.vehicle_id)
    if act.needs_work and not rules.may_work_card(by, card):
        raise PermissionDenied(
            "Only a mechanic or the workshop lead may write on this job. Nothing was changed."
        )
