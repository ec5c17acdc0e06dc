"""Tables of jobs and of what happens on them: steps, off and on, hours, tests, signatures."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from django.db.models import Model

from fleet.enums import CompetenceKind, InspectArea
from fleet.exchange.cells import join_list, split_list
from fleet.exchange.kinds import Amount, Code, Day, Moment, Ref, Refs, Text, Whole, Word, Words, Yes
from fleet.exchange.known import Known
from fleet.exchange.rows import Batch, Row
from fleet.exchange.shared_columns import PERSON, VEHICLE, note
from fleet.exchange.tables import Column, Table
from fleet.models import Competence, Subsystem, Vehicle
from maintenance.defaults import card_defaults
from maintenance.enums import ENDED_STATES, CardKind, CardState, HeldFor, SignatureKind, TestKind, Timing
from maintenance.exchange.kinds import Effects, Rating
from maintenance.exchange.serials import give_serials
from maintenance.models import (
    JobCard,
    JobSignature,
    JobStep,
    JobTest,
    LeaveSafe,
    StripItem,
    WorkLog,
)

TESTS = ("functional", "road", "none")
DEFECT_WORDS = ("rating", "effects", "reported_at", "reported_by", "assessed_by")


def _unfold(cells: dict[str, str]) -> list[tuple[str, dict[str, str]]]:
    """A row that carries a rating or effects is a job and its defect in one; the defect has the job's short name."""
    given = {name: cells.pop(name) for name in DEFECT_WORDS if name in cells}
    name = cells.get("code") or cells.get("serial")
    if not name or not ({"rating", "effects"} & set(given)):
        return []
    own = {"code": name, **given}
    own.update({column: cells[column] for column in ("vehicle", "subsystem", "title") if column in cells})
    cells["clears"] = join_list(
        [name, *(part for part in split_list(cells.get("clears", "")) if part != name)]
    )
    return [("defects", own)]


def _get_tests(card: JobCard, known: Known) -> list[str]:
    wanted = [word for word in ("functional", "road") if getattr(card, f"needs_{word}_test")]
    return wanted or ["none"]


def _put_tests(card: JobCard, wanted: list[str]) -> None:
    card.needs_functional_test = "functional" in wanted
    card.needs_road_test = "road" in wanted


def _elsewhere(card: JobCard, known: Known) -> list[Model]:
    """Goes out with the defect, not with the job."""
    return []


def _fill_job(row: Row) -> None:
    """Tests and second signature follow from the system, unless the table says otherwise."""
    card = row.instance
    assert isinstance(card, JobCard)
    if not row.is_new:
        return
    system, vehicle = card.subsystem, row.values.get("vehicle")
    asked = card_defaults(
        system=system.code if isinstance(system, Subsystem) else "",
        kind=card.kind,
        lifts=isinstance(vehicle, Vehicle) and vehicle.lifts,
    )
    if "tests" not in row.values:
        card.needs_functional_test, card.needs_road_test = asked.needs_functional_test, asked.needs_road_test
    if "second_area" not in row.values:
        card.second_area = asked.second_area
    if "state" not in row.values and card.held_for:
        card.state = CardState.HELD


def _check_jobs(batch: Batch) -> None:
    known = batch.known
    put_off = {id(known.target(one, "defect", "defects")) for one in _all(known, "deferrals")}
    for row in batch.good:
        card = row.instance
        assert isinstance(card, JobCard)
        if "state" in row.changed and _was_ended(row) and card.state not in ENDED_STATES:
            row.fail("state", f"the job has ended; a table does not open it again ({row.changed['state']})")
        if card.needs_consent and card.consent_answer and card.consent_by is None:
            row.fail("consent_by", "an answer says who gave it", "the curator's short name")
        if card.state == CardState.CARRIED_FORWARD and (row.is_new or "state" in row.changed):
            cleared = row.value("clears") or []
            if not any(id(defect) in put_off for defect in cleared):
                row.warn(
                    "state", "carried forward, and nothing in deferrals says until when and with which limits"
                )
    _no_ring(batch)


def _was_ended(row: Row) -> bool:
    old = row.changed["state"].removeprefix("state ").split(" -> ")[0]
    return old in ENDED_STATES


def _all(known: Known, name: str) -> list[Model]:
    return list({id(one): one for one in known.shelf(name).by_label.values()}.values())


def _no_ring(batch: Batch) -> None:
    """Jobs that wait for each other would never be begun."""
    shelf = batch.known.shelf("jobs")
    column = batch.table.by_name["after"]
    before: dict[int, list[Model]] = {id(one): shelf.linked(column, one) for one in shelf.on_file}
    rows = {id(row.instance): row for row in batch.good}
    for row in batch.good:
        if "after" in row.values:
            before[id(row.instance)] = row.values["after"]
    state: dict[int, int] = {}
    for row in rows.values():
        path: list[tuple[Model, int]] = [(row.instance, 0)]
        while path and state.get(id(path[0][0])) != 2:
            here, place = path.pop()
            state[id(here)] = 1
            nexts = before.get(id(here), [])
            if place >= len(nexts):
                state[id(here)] = 2
                continue
            path.append((here, place + 1))
            there = nexts[place]
            if state.get(id(there)) == 1:
                ring = [one for one, _ in path]
                names = [shelf.label(one) for one in ring[[id(one) for one in ring].index(id(there)) :]]
                row.fail("after", f"these jobs wait for each other: {', '.join(names)}")
                return
            if state.get(id(there)) is None:
                path.append((there, 0))


def _doers(known: Known) -> dict[int, set[str]]:
    """Who worked on each job, from every table that says so."""
    found: dict[int, set[str]] = defaultdict(set)
    people = known.shelf("people")

    def add(one: Any, attribute: str, card: Any = None) -> None:
        person = known.target(one, attribute, "people")
        if person is not None:
            found[id(card or known.target(one, "card", "jobs"))].add(people.label(person))

    for card in _all(known, "jobs"):
        add(card, "taken_by", card)
    for log in _all(known, "hours"):
        add(log, "person")
    for step in _all(known, "steps"):
        add(step, "done_by")
    for item in _all(known, "strip_items"):
        add(item, "off_by")
        add(item, "back_by")
    for one in _all(known, "signatures"):
        if isinstance(one, JobSignature) and one.kind == SignatureKind.DOER:
            add(one, "person")
    return found


def _check_signatures(batch: Batch) -> None:
    checked = [
        row
        for row in batch.good
        if row.is_new
        and isinstance(row.instance, JobSignature)
        and row.instance.kind == SignatureKind.INSPECTOR
    ]
    if not checked:
        return
    doers = _doers(batch.known)
    people = batch.known.shelf("people")
    may: dict[tuple[str, str], list[Competence]] = defaultdict(list)
    for one in _all(batch.known, "competences"):
        holder = batch.known.target(one, "person", "people")
        if isinstance(one, Competence) and one.kind == CompetenceKind.INSPECT and holder is not None:
            may[people.label(holder), one.area].append(one)
    for row in checked:
        signature = row.instance
        assert isinstance(signature, JobSignature)
        who, area = people.label(row.values["person"]), signature.area or signature.card.second_area
        name = signature.person.name
        if who in doers[id(row.values["job"])]:
            row.fail(
                "person",
                f"{name} worked on {row.raw.cells['job']}: whoever did safety work does not pass it",
                "another inspector",
            )
        elif area and not may[who, area] and not may[who, InspectArea.ANY.value]:
            row.fail(
                "person",
                f"{name} is not authorised to pass {area}",
                "a row in competences, or another inspector",
            )


JOBS = Table(
    name="jobs", title="Jobs", model=JobCard, codes=("code", "serial"), unique=("serial",), fill=_fill_job, unfold=_unfold,
    purpose="One row for each job. With rating and effects it makes its defect as well, under the same short name.",
    checks=(_check_jobs,), before_write=give_serials,
    columns=(
        Column(name="code", kind=Code(), help="Short name used in other tables.", example="J01"),
        Column(name="serial", kind=Text(), help="Number in the job book. Empty: the next one."),
        VEHICLE,
        Column(name="subsystem", kind=Ref("subsystems", within=("vehicle",)), help="Which system.", example="BRK"),
        Column(name="kind", kind=Word(CardKind), help="Defect, periodic or fabric.", example="defect"),
        Column(name="title", kind=Text(), help="What is to be done, or what is wrong.", example="Pulls left when braking", required=True),
        Column(name="why", kind=Text(), help="Why, in more words."),
        Column(name="rating", kind=Rating(), help="Makes the defect: figure and letter.", example="2C", helper=True, get=_elsewhere),
        Column(name="effects", kind=Effects(), help="Makes the defect: functions it takes, and how far.", example="STOP:reduced", helper=True, get=_elsewhere),
        Column(name="reported_at", kind=Moment(), help="Of the defect: when it was reported.", example="HWW-40 15:00", helper=True, get=_elsewhere),
        Column(name="reported_by", kind=Ref("people"), help="Of the defect: who reported it.", example="P10", helper=True, get=_elsewhere),
        Column(name="assessed_by", kind=Ref("people"), help="Of the defect: who rated it.", example="P02", helper=True, get=_elsewhere),
        Column(name="clears", field="defects", kind=Refs("defects"), help="Defects that it clears, besides its own.", example="D01; D02"),
        Column(name="inspection", kind=Ref("inspections"), help="Inspection that it carries out.", example="I07"),
        Column(name="state", kind=Word(CardState), help="How it stands.", example="booked in"),
        Column(name="held_for", kind=Word(HeldFor), help="What it is held for.", example="part"),
        Column(name="held_until", kind=Day(), help="Until when, if known."),
        Column(name="held_note", kind=Text(), help="More about that."),
        Column(name="timing", kind=Word(Timing), help="pre: before the event; post: after it.", example="pre"),
        Column(name="hours_best", kind=Amount(), help="Bench hours if all goes well.", example="6"),
        Column(name="hours_usual", kind=Amount(), help="Bench hours as usual.", example="10"),
        Column(name="hours_bad", kind=Amount(), help="Bench hours if it goes badly.", example="18"),
        Column(name="persons", kind=Whole(), help="People present for all of them.", example="2"),
        Column(name="suits", kind=Ref("people"), help="Whom it suits best: a wish, not a must.", example="P02"),
        Column(name="skills", kind=Refs("skills"), help="Any one of these will do.", example="brakes; all-round"),
        Column(name="access", kind=Ref("accesses"), help="What must be opened first.", example="pit"),
        Column(name="access_group", kind=Text(), help="Jobs with the same word share one opening.", example="B1"),
        Column(name="place", kind=Ref("places"), help="Place that it holds, besides that of its way in."),
        Column(name="tools", kind=Refs("tools"), help="Special tools.", example="drum puller; internal micrometer"),
        Column(name="after", kind=Refs("jobs"), help="Jobs that come first.", example="J02"),
        Column(name="tests", kind=Words(TESTS, gaps=","), help="Tests before it is passed. Empty: by the system.", example="functional; road", field="needs_functional_test needs_road_test", get=_get_tests, put=_put_tests),
        Column(name="second_area", kind=Word(InspectArea), dash=True, help="Area of the second signature; - for none. Empty: by the system.", example="brakes"),
        Column(name="measures", kind=Refs("measures"), help="Readings wanted before it is handed in.", example="M01"),
        Column(name="consent", field="needs_consent", kind=Yes(), help="Needs the curator's consent.", example="no"),
        Column(name="consent_answer", kind=Word([("yes", "yes"), ("no", "no")]), help="The curator's answer."),
        Column(name="consent_words", kind=Text(), help="The curator's words."),
        Column(name="consent_by", kind=Ref("people"), help="Who answered.", example="P11"),
        Column(name="consent_at", kind=Moment(), help="When."),
        Column(name="outside_on", kind=Day(), help="Day of an outside visit, once booked."),
        Column(name="outside_who", kind=Text(), help="Who comes."),
        Column(name="drying_hours", kind=Whole(), help="Hours to cure, dry or cool.", example="0"),
        Column(name="voids", field="voids_readings", kind=Yes(), help="no: work that voids no reading or inspection.", example="yes"),
        Column(name="removes_original", kind=Yes(), help="Takes off an original part.", example="no"),
        Column(name="original_label", kind=Text(), help="Label of the original part kept."),
        Column(name="original_shelf", kind=Text(), help="Where it lies."),
        Column(name="taken_by", kind=Ref("people"), help="Who has it.", example="P02"),
        Column(name="taken_at", kind=Moment(), help="Since when."),
        Column(name="opened_at", kind=Moment(), help="When stripping began."),
        Column(name="refit_at", kind=Moment(), help="When all was back."),
        Column(name="counts_from", kind=Moment(), help="Tests and signatures before this say nothing."),
        Column(name="ended_at", kind=Moment(), help="When it ended."),
        Column(name="outcome", kind=Word([("done", "done"), ("limit", "limit"), ("not run", "not run"), ("as found", "as found")]), help="How it ended."),
        Column(name="outcome_words", kind=Text(), help="Work done, cause found."),
        Column(name="found_on", kind=Ref("jobs"), help="Job on which it was found."),
        Column(name="created_at", kind=Moment(), help="When it was written. Empty: now."),
        Column(name="touched_at", kind=Moment(), help="When somebody last worked on it. Empty: now."),
    ),
)  # fmt: skip

JOB = Column(name="job", field="card", kind=Ref("jobs"), help="Which job.", example="J01", required=True)

STEPS = Table(
    name="steps", title="Steps of a job", model=JobStep, key=("job", "order"), purpose="What is done in which order, with its source.",
    columns=(
        JOB,
        Column(name="order", kind=Whole(), help="Place in the order.", example="1", required=True),
        Column(name="text", kind=Text(), help="What to do.", example="Chock both rear wheels", required=True),
        Column(name="source", kind=Text(), help="Where that stands.", example="vehicle's own manual, section 7"),
        Column(name="done_at", kind=Moment(), help="When it was done."),
        Column(name="done_by", kind=Ref("people"), help="By whom."),
    ),
)  # fmt: skip

STRIP_ITEMS = Table(
    name="strip_items", title="Off and on again", model=StripItem, key=("job", "number"),
    purpose="What was taken off, in order, where it lies, and whether it is back.",
    columns=(
        JOB,
        Column(name="number", kind=Whole(), help="Number in the order of taking off.", example="1", required=True),
        Column(name="what", kind=Text(), help="What.", example="hub cap", required=True),
        Column(name="count", kind=Whole(), help="How many.", example="1"),
        Column(name="tray", kind=Text(), help="Bag or tray.", example="bag 12"),
        Column(name="marks", kind=Text(), help="Witness marks, shims by position."),
        Column(name="renew", kind=Text(), help="Lockwire, split pin or gasket to renew."),
        Column(name="torque", kind=Text(), help="Torque, with its source."),
        Column(name="off_at", kind=Moment(), help="When it came off. Empty: now.", example="HWW-36 11:00"),
        Column(name="off_by", kind=Ref("people"), help="By whom.", example="P02"),
        Column(name="back_at", kind=Moment(), help="When it was back on."),
        Column(name="back_by", kind=Ref("people"), help="By whom."),
        Column(name="not_back_reason", kind=Text(), help="Why it stays off."),
    ),
)  # fmt: skip

HOURS = Table(
    name="hours", title="Hours worked", model=WorkLog, key=("job", "person", "day", "hours", "note"), repeats=True, append_only=True,
    purpose="Hours at the bench on each job. Only ever added to.",
    columns=(
        JOB,
        PERSON,
        Column(name="day", kind=Day(), help="Which day.", example="HWW-36", required=True),
        Column(name="hours", kind=Amount(), help="Hours.", example="2.5", required=True),
        note(),
        Column(name="at", kind=Moment(), help="When it was written down. Empty: now."),
    ),
)  # fmt: skip

TESTS_DONE = Table(
    name="tests_done", title="Tests done", model=JobTest, key=("job", "kind", "at"), repeats=True, append_only=True,
    purpose="Tests after a job, passed or failed. Only ever added to.",
    columns=(
        JOB,
        Column(name="kind", kind=Word(TestKind), help="Which test.", example="road", required=True),
        Column(name="passed", kind=Yes(), help="Passed.", example="yes", required=True),
        Column(name="words", kind=Text(), help="What was seen.", example="three stops, straight"),
        Column(name="at", kind=Moment(), help="When.", example="HWW-20 14:00", required=True),
        Column(name="by", kind=Ref("people"), help="Who drove or watched.", example="P09", required=True),
    ),
)  # fmt: skip

SIGNATURES = Table(
    name="signatures", title="Signatures on jobs", model=JobSignature, key=("job", "kind", "person", "at"), repeats=True, append_only=True,
    purpose="Who signed a job as what. Whoever worked on it cannot be its inspector.", checks=(_check_signatures,),
    columns=(
        JOB,
        Column(name="kind", kind=Word(SignatureKind), help="As what.", example="inspector", required=True),
        PERSON,
        Column(name="area", kind=Word(InspectArea), help="For which work.", example="brakes"),
        Column(name="at", kind=Moment(), help="When.", example="HWW-20 15:00", required=True),
        Column(name="proof", kind=Text(), help="How it was proved.", example="paper"),
        Column(name="words", kind=Text(), help="What was said with it."),
    ),
)  # fmt: skip

LEFT_SAFE = Table(
    name="left_safe", title="Left safe", model=LeaveSafe, key=("job", "by", "at"), repeats=True, append_only=True,
    purpose="Written when somebody stopped for the day: how it stands, where the parts are, what comes next.",
    columns=(
        JOB,
        Column(name="by", kind=Ref("people"), help="Who.", example="P02", required=True),
        Column(name="at", kind=Moment(), help="When.", example="HWW-36 15:45", required=True),
        Column(name="state_of_strip", kind=Text(), help="How it stands.", example="drum off, shoes on", required=True),
        Column(name="parts_where", kind=Text(), help="Where the parts are.", example="tray B2", required=True),
        Column(name="next_step", kind=Text(), help="What comes next.", example="measure both drums", required=True),
    ),
)  # fmt: skip
