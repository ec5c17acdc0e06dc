"""Tables of defects, what is put off with limits, tags, and what was built on a fact."""

from __future__ import annotations

from typing import Any

from fleet.exchange.kinds import Code, Day, Json, Moment, Ref, Text, Word
from fleet.exchange.known import Known
from fleet.exchange.rows import Batch, Row
from fleet.exchange.shared_columns import VEHICLE
from fleet.exchange.tables import Column, Table
from fleet.models import Person
from maintenance.enums import DefectSource, DefectState
from maintenance.exchange.kinds import Effects, Limits, Rating, Signers
from maintenance.exchange.serials import give_serials
from maintenance.models import (
    Defect,
    DefectEffect,
    DefectNote,
    Deferral,
    DeferralLimit,
    DeferralSignature,
    FactUse,
    Tag,
)
from maintenance.risk import LADDER, TermKind, level, may_carry
from maintenance.rules import LimitRow, check_assessment, check_deferral, longest_end


def _get_rating(defect: Defect, known: Known) -> tuple[int | None, str]:
    return defect.severity, defect.probability


def _put_rating(defect: Defect, rating: tuple[int, str] | None) -> None:
    defect.severity, defect.probability = rating or (None, "")


def _rating_pair(which: str) -> Any:
    def get(one: Deferral, known: Known) -> tuple[int, str]:
        return getattr(one, f"severity_{which}"), getattr(one, f"probability_{which}")

    def put(one: Deferral, rating: tuple[int, str]) -> None:
        setattr(one, f"severity_{which}", rating[0])
        setattr(one, f"probability_{which}", rating[1])

    return {"field": f"severity_{which} probability_{which}", "get": get, "put": put}


def _fill_defect(row: Row) -> None:
    """A rating says that it was assessed; an end that it was cleared."""
    defect = row.instance
    assert isinstance(defect, Defect)
    if "state" not in row.values:
        state = defect.state
        if defect.ended_at is not None and defect.is_open:
            state = DefectState.CLEARED
        elif defect.rating and defect.state == DefectState.REPORTED:
            state = DefectState.ASSESSED
        if row.is_new:
            defect.state = state
        elif state != defect.state:
            row.changed["state"] = f"state {defect.state} -> {state}"
            defect.state = state
    if row.is_new and "source" not in row.values:
        defect.source = DefectSource.IMPORT
    if row.is_new and defect.rating and "assessed_at" not in row.values:
        defect.assessed_at = defect.reported_at


def effects_of(row: Row) -> list[DefectEffect]:
    found = row.shelf.children(row.table.by_name["effects"], row.instance)
    return [one for one in found if isinstance(one, DefectEffect)]


def _check_defects(batch: Batch) -> None:
    for row in batch.good:
        defect = row.instance
        assert isinstance(defect, Defect)
        if not (row.is_new or row.changed):
            continue
        if defect.rating and defect.severity is not None:
            for words in check_assessment(
                severity=defect.severity,
                probability=defect.probability,
                effects=[one.effect for one in effects_of(row)],
            ):
                row.fail("effects", words, "STOP:lost")
        elif defect.state == DefectState.ASSESSED:
            row.fail("rating", "an assessed defect has a rating", "2C")


def _signers_of(row: Row) -> list[DeferralSignature]:
    found = row.shelf.children(row.table.by_name["signers"], row.instance)
    return [one for one in found if isinstance(one, DeferralSignature)]


def _limits_of(row: Row) -> list[LimitRow]:
    found = row.shelf.children(row.table.by_name["limits"], row.instance)
    return [
        LimitRow(
            kind=one.kind,
            value=one.value,
            text=one.text,
            has_driver=one.driver_id is not None or one.driver is not None,
        )
        for one in found
        if isinstance(one, DeferralLimit)
    ]


def _check_deferrals(batch: Batch) -> None:
    for row in batch.good:
        deferral = row.instance
        if not isinstance(deferral, Deferral) or not (row.is_new or row.changed):
            continue
        if deferral.ends_on < deferral.signed_on:
            row.fail("ends_on", "it ends before it is signed", f"{deferral.signed_on} or later")
            continue
        people = batch.known.shelf("people")
        signers = [(people.label(_person(one, batch.known)), one.role) for one in _signers_of(row)]
        wrong = check_deferral(
            severity_without=deferral.severity_without, probability_without=deferral.probability_without,
            severity_with=deferral.severity_with, probability_with=deferral.probability_with, limits=_limits_of(row), reason=deferral.reason, signers=signers, signed_on=deferral.signed_on,
            ends_on=deferral.ends_on, allow_long=True, allow_unsigned=True,
        )  # fmt: skip
        for words in wrong:
            row.fail(_column_of(words), words)
        if not wrong:
            _warn_of_deferral(row, deferral, signers)


def _column_of(words: str) -> str:
    if "High" in words or "severity" in words or "Rated" in words:
        return "rating_without"
    return "reason" if "why" in words else "limits"


def _person(one: DeferralSignature, known: Known) -> Person:
    found = known.target(one, "person", "people")
    assert isinstance(found, Person)
    return found


def _warn_of_deferral(row: Row, deferral: Deferral, signers: list[tuple[str, str]]) -> None:
    without = level(deferral.severity_without, deferral.probability_without)
    with_limit = level(deferral.severity_with, deferral.probability_with)
    carry = may_carry(without_limit=without, with_limit=with_limit, signed=list(dict(signers).values()))
    if carry.missing:
        row.warn(
            "signers",
            f"rated {without}: {carry.sentence} Until then it is no deferral",
            " and ".join(carry.missing),
        )
    for one in _signers_of(row):
        person = _person(one, row.known)
        if not getattr(person, f"is_{one.role}", False) and not (one.role == "mechanic" and person.is_lead):
            row.warn("signers", f"{person.name} signs as {one.role} and has not that role")
    if LADDER[with_limit].term.kind is TermKind.DAYS:
        longest = longest_end(
            severity=deferral.severity_with, probability=deferral.probability_with, signed_on=deferral.signed_on,
            limits=_limits_of(row), next_event_end=None, next_inspection=None,
        )  # fmt: skip
        if deferral.ends_on > longest:
            row.warn(
                "ends_on", f"longer than the ladder allows: it ends on {longest} all the same", str(longest)
            )


def _fill_tag(row: Row) -> None:
    tag = row.instance
    assert isinstance(tag, Tag)
    if row.is_new and not tag.reason and tag.card is not None:
        tag.reason = tag.card.title[:120]


def _check_tags(batch: Batch) -> None:
    for row in batch.good:
        tag = row.instance
        assert isinstance(tag, Tag)
        if row.is_new and not tag.reason:
            row.fail("reason", "a tag without a job says why it hangs", "lock ring pitted")
        if not (row.is_new or row.changed) or tag.lifted_at is None:
            continue
        lifter = batch.known.target(tag, "lifted_by", "people")
        if not isinstance(lifter, Person):
            row.fail("lifted_by", "a lifted tag says who lifted it", "the workshop lead")
        elif not lifter.is_lead and lifter.left_on is None:
            row.fail("lifted_by", f"{lifter.name} is not the workshop lead: only the lead lifts a tag")
        if tag.lifted_at < tag.placed_at:
            row.fail("lifted_at", "it was lifted before it was hung")


DEFECTS = Table(
    name="defects", title="Defects", model=Defect, codes=("code", "serial"), unique=("serial",), fill=_fill_defect,
    purpose="Only for defects without a job, or for a job that clears several: a jobs row may make its own defect.",
    checks=(_check_defects,), before_write=give_serials,
    columns=(
        Column(name="code", kind=Code(), help="Short name; needed when another row points at it.", example="D01"),
        Column(name="serial", kind=Text(), help="Number in the job book. Empty: the next one."),
        VEHICLE,
        Column(name="subsystem", kind=Ref("subsystems", within=("vehicle",)), help="Which system. Empty: not sure where.", example="BRK"),
        Column(name="title", kind=Text(), help="What it is.", example="Handbrake pawl slips on steep ground", required=True),
        Column(name="words", kind=Text(), help="As reported."),
        Column(name="rating", kind=Rating(), field="severity probability", help="Figure and letter; empty: not assessed.", example="2C", locked=True, get=_get_rating, put=_put_rating),
        Column(name="effects", kind=Effects(), help="Which functions it takes, and how far.", example="HOLD:reduced"),
        Column(name="state", kind=Word(DefectState), help="Empty: follows from rating and end.", example="assessed"),
        Column(name="source", kind=Word(DefectSource), help="How it was found.", example="person"),
        Column(name="reported_at", kind=Moment(), help="When.", example="HWW-40 15:00"),
        Column(name="reported_by", kind=Ref("people"), help="Who.", example="P10"),
        Column(name="reporter_name", kind=Text(), help="Who, when not one of us."),
        Column(name="answers", kind=Json(), help="What the fault slip was told.", example="did you stop=yes"),
        Column(name="assessed_at", kind=Moment(), dash=True, help="When it was rated."),
        Column(name="assessed_by", kind=Ref("people"), help="Who rated it.", example="P02"),
        Column(name="ended_at", kind=Moment(), help="When it was cleared or set aside."),
        Column(name="end_reason", kind=Text(), help="How it ended."),
        Column(name="joined_to", kind=Ref("defects"), help="Defect that it was joined to."),
        Column(name="found_on", kind=Ref("jobs"), help="Job on which it was found."),
    ),
)  # fmt: skip

NOTES = Table(
    name="notes", title="Notes on defects", model=DefectNote, key=("defect", "at", "text"), repeats=True, append_only=True,
    purpose="Dated additions to a defect.",
    columns=(
        Column(name="defect", kind=Ref("defects"), help="Which.", example="D01", required=True),
        Column(name="at", kind=Moment(), help="When.", example="HWW-38 12:00", required=True),
        Column(name="by", kind=Ref("people"), help="Who.", example="P02"),
        Column(name="text", kind=Text(), help="What.", example="Same fault again on the slope by the gate", required=True),
    ),
)  # fmt: skip

DEFERRALS = Table(
    name="deferrals", title="Put off, with limits", model=Deferral, codes=("code",), key=("defect", "signed_on"),
    purpose="Defects put off for now, in writing: ratings, limits, who signed, until when. A signed one is never rewritten.",
    checks=(_check_deferrals,),
    columns=(
        Column(name="code", kind=Code(), help="Short name; needed when ticks point at it.", example="DF1"),
        Column(name="defect", kind=Ref("defects"), help="Which defect; a job's own defect has the job's short name.", example="J20", required=True),
        Column(name="rating_without", kind=Rating(), help="As it stands: decides who signs.", example="3B", required=True, locked=True, **_rating_pair("without")),
        Column(name="rating_with", kind=Rating(), help="With the limits kept: decides how long.", example="3D", required=True, locked=True, **_rating_pair("with")),
        Column(name="limits", kind=Limits(), help="What the vehicle may not do until then.", example="max speed=20; daylight only; text: battery charged overnight", required=True, locked=True),
        Column(name="reason", kind=Text(), help="Why it is put off.", example="dynamo away for rewind", required=True),
        Column(name="signed_on", kind=Day(), help="Day of signing.", example="HWW-41", required=True, locked=True),
        Column(name="signers", kind=Signers(), help="Who signed as what.", example="P02 as lead; P12 as manager", required=True),
        Column(name="ends_on", kind=Day(), help="Last day on which it holds.", example="HWW+30", required=True, locked=True),
        Column(name="renews", kind=Ref("deferrals"), help="The earlier one that this one takes over from."),
        Column(name="withdrawn_at", kind=Moment(), help="When it was withdrawn."),
        Column(name="withdrawn_reason", kind=Text(), help="Why."),
        Column(name="created_at", kind=Moment(), help="When it was written down. Empty: now."),
    ),
)  # fmt: skip

TAGS = Table(
    name="tags", title="Do-not-run tags", model=Tag, codes=("stub",), fill=_fill_tag, checks=(_check_tags,),
    purpose="Tags hung on vehicles, and those that were lifted again.",
    columns=(
        VEHICLE,
        Column(name="stub", kind=Text(), help="Number on the stub.", example="T-014", required=True),
        Column(name="reason", kind=Text(), help="In ten words. Empty: the job's title.", example="lock ring pitted"),
        Column(name="job", field="card", kind=Ref("jobs"), help="Job that ends it.", example="J03"),
        Column(name="placed_at", kind=Moment(), help="When it was hung.", example="HWW-36 15:30"),
        Column(name="placed_by", kind=Ref("people"), help="Who hung it.", example="P02"),
        Column(name="lifted_at", kind=Moment(), help="When it was lifted."),
        Column(name="lifted_by", kind=Ref("people"), help="Who lifted it: the workshop lead."),
        Column(name="lifted_stub", kind=Text(), help="Stub number entered on lifting."),
    ),
)  # fmt: skip

FACT_USES = Table(
    name="fact_uses", title="Built on a fact", model=FactUse, key=("fact", "defect", "job"),
    purpose="Defects and jobs that were built on a fact; shown when it is corrected.",
    columns=(
        Column(name="fact", kind=Ref("facts"), help="Which fact.", example="F01", required=True),
        Column(name="defect", kind=Ref("defects"), help="Defect that was built on it."),
        Column(name="job", field="card", kind=Ref("jobs"), help="Job that was built on it.", example="J01"),
        Column(name="settled_on", kind=Day(), help="When it was looked at after a correction."),
        Column(name="settled_how", kind=Text(), help="What was decided."),
    ),
)  # fmt: skip
