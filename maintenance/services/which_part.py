"""Which part: a sheet opened for a fault, results written and taken back, and how it ended."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.errors import Conflict
from fleet.models import Fact, Person, Photo, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from maintenance import rules
from maintenance.fault_sheet import NOT_TODAY
from maintenance.models import (
    Defect,
    JobCard,
    JobPhoto,
    Reading,
    WhichResult,
    WhichSheet,
    WhichState,
    WhichTemplate,
)
from maintenance.queries.which_part import unsettled
from maintenance.services.base import announce, card_lock, card_save, moment, wanted
from maintenance.services.parts import part_need_add
from maintenance.which_sheet import leans_on, lifted, number, result_by_number, test_row
from maintenance.which_shipped import shipped

LONGEST_FIGURE = 20


def prior_lift(
    *, based_on: str, definition: Mapping[str, Any], vehicle: Vehicle, kind: str | None = None
) -> list[dict[str, Any]]:
    """What finished sheets of the same origin say: found on this vehicle, and on others of its kind.

    One that was built on a fact corrected since counts again when somebody has looked at it.
    """
    rows = WhichSheet.objects.filter(based_on=based_on, state=WhichState.FOUND).exclude(cause="")
    rows = rows.exclude(pk__in=unsettled().values("pk"))
    rows = rows.filter(vehicle__kind=kind or vehicle.kind)
    own: Counter[str] = Counter()
    like: Counter[str] = Counter()
    for pk, cause in rows.values_list("vehicle_id", "cause"):
        (own if pk == vehicle.pk else like)[cause] += 1
    chances = {one["key"]: float(one["chance"]) for one in definition["causes"]}
    return [asdict(one) for one in lifted(chances, own, like)]


def _leans(definition: Mapping[str, Any], facts: Iterable[Fact]) -> list[dict[str, Any]]:
    return [
        {**lean, "fact": fact.pk, "fact_about": fact.about, "fact_value": fact.value, "on": True}
        for fact in facts
        for lean in leans_on(definition, fact.about, fact.value)
    ]


@transaction.atomic
def which_open(
    *,
    by: Person,
    vehicle: Vehicle,
    template: WhichTemplate | str,
    defect: Defect | None = None,
    card: JobCard | None = None,
    at: dt.datetime | None = None,
    facts: Sequence[Fact] | None = None,
) -> WhichSheet:
    """Open a sheet for one fault, from one of the museum's own sheets or by the key of one that ships.

    `facts` are those it leans on; None takes what is held of the vehicle now.
    """
    permit(by, "which.fill")
    if isinstance(template, str):
        definition, based_on = shipped(template), template
    else:
        definition, based_on = template.definition, template.based_on
    there = WhichSheet.objects.filter(card=card, state=WhichState.OPEN, based_on=based_on).first()
    if card is not None and there is not None:
        raise ValidationError(
            f"{there.name} is being worked for job {card.serial} already. Go on with that one."
        )
    held = list(facts) if facts is not None else list(vehicle.facts.filter(corrected_by=None))
    row = WhichSheet(
        vehicle=vehicle, defect=defect, card=card, based_on=based_on, name=definition["name"], definition=definition,
        lifts=prior_lift(based_on=based_on, definition=definition, vehicle=vehicle), leans=_leans(definition, held),
        opened_at=moment(at), opened_by=by,
    )  # fmt: skip
    save_clean(row)
    used = {lean["fact"] for lean in row.leans}
    row.facts.set([fact for fact in held if fact.pk in used])
    acts.record(act="which.open", by=by, subject=row, vehicle=vehicle)
    return row


def _locked(sheet: WhichSheet, by: Person, *, ended: bool = False) -> WhichSheet:
    permit(by, "which.fill")
    row = WhichSheet.objects.select_for_update(of=("self",)).select_related("vehicle").get(pk=sheet.pk)
    if not row.is_open and not ended:
        raise Conflict("This sheet has ended. Open it again first; nothing was written.")
    row.version += 1
    return row


def _answer(
    definition: Mapping[str, Any], test: str, result: str, raw: str
) -> tuple[Mapping[str, Any], str, str]:
    """The test's rows, the result, and the figure as read: a figure decides the result where the test has a limit."""
    try:
        rows = test_row(definition, test)
        figure = number(raw)
    except ValueError as trouble:
        raise ValidationError({"raw": str(trouble)}) from trouble
    text = f"{figure:f}" if figure is not None else ""
    edge = rows["edge"]
    if result != NOT_TODAY and text and edge:
        by_number = result_by_number(edge, text)[0]
        if result and result != by_number:
            raise ValidationError(
                {
                    "raw": f"{text} {edge['unit']} means “{by_number}”. Take the tick away, or look at the figure again."
                }
            )
        result = by_number
    if not result:
        raise ValidationError({"result": "Choose what it gave, or that it is not possible today."})
    if result != NOT_TODAY and result not in {one["name"] for one in rows["results"]}:
        raise ValidationError({"result": f"{rows['name']} has no result “{result}”."})
    return rows, result, text


def _keep(
    row: WhichSheet,
    by: Person,
    test: str,
    result: str,
    raw: str,
    words: str,
    photo: Photo | None,
    at: dt.datetime,
    reading: Reading | None = None,
) -> WhichResult:
    rows, said, figure = _answer(row.definition, test, result, raw)
    there = row.results.filter(test=test, undone_at=None).select_related("by").first()
    if there is not None:
        when = timezone.localtime(there.at)
        raise Conflict(
            f"{there.by.name} wrote “{there.result}” for it, {when.day} {when:%B %H:%M}. Take that back first, if it was wrong."
        )
    edge = rows["edge"]
    unit = edge["unit"] if edge and figure else ""
    if reading is not None:
        figure, unit = "; ".join(reading.values)[:LONGEST_FIGURE], reading.measure.unit
    kept = WhichResult(
        sheet=row, test=test, result=said, raw=figure, unit=unit, words=words.strip(), photo=photo, at=at, by=by,
        reading=reading, in_version=row.version,
    )  # fmt: skip
    save_clean(kept)
    acts.record(
        act="which.result",
        by=by,
        subject=row,
        vehicle=row.vehicle,
        detail={"test": rows["name"], "result": said, "figure": figure},
    )
    return kept


@transaction.atomic
def which_result(
    *,
    by: Person,
    sheet: WhichSheet,
    test: str,
    result: str = "",
    raw: str = "",
    words: str = "",
    photo: Photo | None = None,
    at: dt.datetime | None = None,
) -> WhichResult:
    """Write down what one test gave, in any order; or that it is not possible today.

    Raises:
        Conflict: another has written a result for the test, or the sheet has ended.
    """
    row = _locked(sheet, by)
    kept = _keep(row, by, test, result, raw, words, photo, moment(at))
    row.save(update_fields=["version"])
    return kept


@transaction.atomic
def which_from_reading(*, by: Person, sheet: WhichSheet, test: str, reading: Reading) -> WhichResult:
    """A reading that was taken for a test becomes its result, by the limit that the reading was judged by."""
    row = _locked(sheet, by)
    try:
        edge = test_row(row.definition, test)["edge"]
    except ValueError as trouble:
        raise ValidationError(str(trouble)) from trouble
    if reading.measure.vehicle_id != row.vehicle_id:
        raise ValidationError("That reading is of another vehicle.")
    if not edge:
        raise ValidationError("This test has no limit: a reading cannot decide it. Choose what it gave.")
    result = {"within": edge["within"], "near": edge["within"], "past": edge["past"]}.get(reading.verdict)
    if result is None:
        raise ValidationError("That reading was not judged. Choose what it gave.")
    kept = _keep(row, by, test, result, "", reading.verdict_words, None, reading.at, reading)
    row.save(update_fields=["version"])
    return kept


@transaction.atomic
def which_typed_back(
    *, by: Person, sheet: WhichSheet, rows: Sequence[Mapping[str, str]], at: dt.datetime | None = None
) -> WhichSheet:
    """What was written on paper, all tests in one pass: all of it, or none of it."""
    row = _locked(sheet, by)
    if not rows:
        raise ValidationError("Nothing was filled in.")
    for one in rows:
        try:
            _keep(row, by, one["test"], one["result"], one["raw"], one["words"], None, moment(at))
        except ValidationError as trouble:
            name = test_row(row.definition, one["test"])["name"]
            raise ValidationError([f"{name}: {line}" for line in trouble.messages]) from trouble
    row.save(update_fields=["version"])
    return row


@transaction.atomic
def which_undo(*, by: Person, result: WhichResult) -> WhichResult:
    """Take a result back. It stays readable, ruled through."""
    row = _locked(result.sheet, by)
    kept = WhichResult.objects.select_for_update(of=("self",)).get(pk=result.pk)
    if kept.undone_at is not None:
        return kept
    kept.undone_at, kept.undone_by, kept.out_version = timezone.now(), by, row.version
    save_clean(kept, ["undone_at", "undone_by", "out_version"])
    row.save(update_fields=["version"])
    acts.record(
        act="which.undo",
        by=by,
        subject=row,
        vehicle=row.vehicle,
        detail={"test": kept.test, "result": kept.result},
    )
    return kept


@transaction.atomic
def which_overrule(
    *, by: Person, sheet: WhichSheet, lifts: bool | None = None, lean: int | None = None
) -> WhichSheet:
    """Let earlier findings, or what leans on a fact, count or not. `lean` is its place in the list, turned over."""
    row = _locked(sheet, by)
    if lifts is not None:
        row.lifts_used = lifts
    if lean is not None:
        if not 0 <= lean < len(row.leans):
            raise ValidationError("There is no such thing to overrule.")
        row.leans[lean]["on"] = not row.leans[lean]["on"]
    save_clean(row, ["version", "lifts_used", "leans"])
    acts.record(
        act="which.overrule",
        by=by,
        subject=row,
        vehicle=row.vehicle,
        detail={"earlier findings": row.lifts_used, "facts": [one["on"] for one in row.leans]},
    )
    return row


@transaction.atomic
def which_finish(
    *,
    by: Person,
    sheet: WhichSheet,
    cause: str,
    words: str = "",
    parts: Iterable[str] = (),
    part_state: str = "not ordered",
    at: dt.datetime | None = None,
) -> WhichSheet:
    """End a sheet on a cause, or without one. An open job gets the cause in words, and what it needs."""
    row = _locked(sheet, by)
    permit(
        by, "which.fill", rules.may_end_which(by), "A trainee works it beside somebody and does not end it."
    )
    causes = {one["key"]: one for one in row.definition["causes"]}
    if cause and cause not in causes:
        raise ValidationError({"cause": "This sheet has no such cause."})
    if not cause and not words.strip():
        raise ValidationError({"words": "Write how it ended, since no cause was found."})
    needed = [name.strip() for name in parts if name.strip()]
    if needed and row.card is None:
        raise ValidationError(
            {"parts": "No job stands for this sheet. Make the job first; it holds the parts."}
        )
    row.state = WhichState.FOUND if cause else WhichState.ENDED
    row.cause, row.words, row.ended_at, row.ended_by = cause, words.strip(), moment(at), by
    save_clean(row, ["state", "cause", "words", "ended_at", "ended_by", "version"])
    acts.record(
        act="which.finish",
        by=by,
        subject=row,
        vehicle=row.vehicle,
        detail={"cause": row.cause_name, "words": row.words, "parts": needed},
    )
    _fill_card(row, by, causes.get(cause), needed, part_state)
    announce("which.finish", row.vehicle_id)
    return row


def _as_found(row: WhichSheet) -> list[str]:
    """What each test gave, for the job: the state in which it was found."""
    names = {one["key"]: one["name"] for one in row.definition["tests"]}
    return [
        f"{names[one.test]}: {one.result}" + (f" ({one.raw} {one.unit}".rstrip() + ")" if one.raw else "")
        for one in row.results.filter(undone_at=None).order_by("at", "pk")
        if one.result != NOT_TODAY
    ]


def _fill_card(
    row: WhichSheet, by: Person, cause: Mapping[str, Any] | None, parts: Iterable[str], part_state: str
) -> None:
    if row.card is None or not row.card.is_open:
        return
    card = card_lock(row.card)
    said = f"Cause found: {cause['name']}. {cause['act']}" if cause else f"Cause not found: {row.words}"
    found = _as_found(row)
    lines = [said.strip(), f"As found, by {row.name}: {'; '.join(found)}." if found else ""]
    new = [line for line in lines if line and line not in card.outcome_words]
    card.outcome_words = "\n".join(line for line in (card.outcome_words.strip(), *new) if line)
    card_save(
        card, act="card.cause", by=by, fields=["outcome_words"], detail={"cause": said}, at=row.ended_at
    )
    for one in row.results.filter(undone_at=None).exclude(photo=None).select_related("photo"):
        JobPhoto.objects.get_or_create(card=card, photo=one.photo, defaults={"moment": "as found"})
    for name in parts:
        part_need_add(by=by, name=name, card=card, state=part_state, note=f"By the sheet: {row.name}"[:200])


@transaction.atomic
def which_settle(*, by: Person, sheet: WhichSheet, how: str) -> WhichSheet:
    """A fact under an ended sheet was corrected: what was done about what the sheet had said."""
    permit(by, "fact.correct")
    row = WhichSheet.objects.select_for_update(of=("self",)).select_related("vehicle").get(pk=sheet.pk)
    row.settled_how = wanted(how, "how", "Write what was done about it, or why nothing needs to be.")
    row.settled_at, row.settled_by = timezone.now(), by
    row.version += 1
    save_clean(row, ["settled_at", "settled_by", "settled_how", "version"])
    acts.record(act="which.settle", by=by, subject=row, vehicle=row.vehicle, detail={"how": row.settled_how})
    return row


@transaction.atomic
def which_reopen(*, by: Person, sheet: WhichSheet, why: str) -> WhichSheet:
    """Go on with a sheet that has ended. How it ended stays in the act book."""
    row = _locked(sheet, by, ended=True)
    if row.is_open:
        return row
    if not why.strip():
        raise ValidationError({"why": "Write why it is opened again."})
    was = {"cause": row.cause_name, "words": row.words, "why": why.strip()}
    row.state, row.cause, row.words, row.ended_at, row.ended_by = WhichState.OPEN, "", "", None, None
    save_clean(row, ["state", "cause", "words", "ended_at", "ended_by", "version"])
    acts.record(act="which.reopen", by=by, subject=row, vehicle=row.vehicle, detail=was)
    return row
