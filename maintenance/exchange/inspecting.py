"""Tables of inspections, their results, checks that go with use, measures and readings."""

from __future__ import annotations

import datetime as dt

from fleet.enums import MeterKind
from fleet.exchange.cells import MIDDAY
from fleet.exchange.kinds import Amount, Code, Day, Moment, Ref, Refs, Text, Whatever, Whole, Word, Words, Yes
from fleet.exchange.rows import Batch, Row
from fleet.exchange.shared_columns import VEHICLE, note
from fleet.exchange.tables import Column, Table
from maintenance.enums import InspectionKind, Judgement, UseCheckKind
from maintenance.exchange.kinds import Values
from maintenance.models import Inspection, InspectionResult, Measure, Reading, UseCheck


def _fill_inspection(row: Row) -> None:
    """What is valid until when follows from the last time and the interval, unless the table says otherwise."""
    one = row.instance
    assert isinstance(one, Inspection)
    if not row.is_new:
        return
    if "due_on" not in row.values and one.last_on is not None and one.interval_days:
        try:
            one.due_on = one.last_on + dt.timedelta(days=one.interval_days)
        except OverflowError:
            row.fail("interval_days", "runs out of the calendar", "365")
    if "due_at_meter" not in row.values and one.last_meter is not None and one.interval_amount is not None:
        one.due_at_meter = one.last_meter + one.interval_amount
    if one.interval_amount is not None and not one.interval_meter:
        row.fail("interval_meter", "says by which meter the amount counts", "km")


def _fill_result(row: Row) -> None:
    one = row.instance
    assert isinstance(one, InspectionResult)
    if row.is_new and "done_at" not in row.values:
        one.done_at = dt.datetime.combine(one.done_on, MIDDAY, tzinfo=row.known.calendar.zone)


def _check_measures(batch: Batch) -> None:
    for row in batch.good:
        one = row.instance
        assert isinstance(one, Measure)
        if (row.is_new or row.changed) and not one.source and (one.low is not None or one.high is not None):
            row.warn("source", "the limit has no source: nobody can tell later where the figure came from")
        if one.low is not None and one.high is not None and one.low > one.high:
            row.fail("low", "the least lies above the most")


def _check_readings(batch: Batch) -> None:
    for row in batch.good:
        one = row.instance
        assert isinstance(one, Reading)
        wanted = len(one.measure.positions) if row.is_new else 0
        if wanted and len(one.values) != wanted:
            row.fail(
                "values",
                f"{len(one.values)} values for {wanted} positions ({', '.join(one.measure.positions)})",
            )


INSPECTIONS = Table(
    name="inspections", title="Inspections", model=Inspection, codes=("code",), key=("vehicle", "kind", "name"), fill=_fill_inspection,
    purpose="Recurring looks by date and meter, whichever comes first: what each is valid until.",
    columns=(
        Column(name="code", kind=Code(), help="Short name; needed when another row points at it.", example="I01"),
        Column(name="vehicle", kind=Ref("vehicles"), help="Empty: of the site.", example="V01"),
        Column(name="kind", kind=Word(InspectionKind), help="Which of the kinds that roles ask for.", example="brake reading", required=True),
        Column(name="name", kind=Text(), help="In words.", example="brake performance reading", required=True),
        Column(name="interval_days", kind=Whole(), help="Every so many days.", example="365"),
        Column(name="interval_meter", kind=Word(MeterKind), help="Meter by which the amount counts.", example="km"),
        Column(name="interval_amount", kind=Amount(), help="Every so much on that meter.", example="500"),
        Column(name="last_on", kind=Day(), help="Last done.", example="HWW-340"),
        Column(name="last_meter", kind=Amount(), help="Meter total when last done."),
        Column(name="due_on", kind=Day(), dash=True, help="Last valid day. Empty: last and interval.", example="HWW+25"),
        Column(name="due_at_meter", kind=Amount(), dash=True, help="Last valid meter total. Empty: last and interval."),
        Column(name="never_done", kind=Yes(), help="yes: no result is on file, so it cannot be judged.", example="no"),
        Column(name="voided_at", kind=Moment(), help="When a repair made it void."),
        Column(name="voided_why", kind=Text(), help="Which repair."),
        Column(name="hours", kind=Amount(), help="Usual hours to do it.", example="1"),
        Column(name="persons", kind=Whole(), help="People it needs.", example="2"),
        Column(name="skills", kind=Refs("skills"), help="Any one of these will do.", example="brakes"),
        Column(name="outside", kind=Yes(), help="By an outside examiner.", example="no"),
        Column(name="booked_on", kind=Day(), help="Day for which the visit or the work is booked."),
        Column(name="after_jobs", field="after_cards", kind=Refs("jobs"), help="Jobs that come first.", example="J40"),
        Column(name="after_inspections", kind=Refs("inspections"), help="Inspections that come first.", example="I09a"),
    ),
)  # fmt: skip

RESULTS = Table(
    name="results", title="Results of inspections", model=InspectionResult, key=("inspection", "done_on", "words"), repeats=True, append_only=True,
    purpose="What each inspection found.", fill=_fill_result,
    columns=(
        Column(name="inspection", kind=Ref("inspections"), help="Which.", example="I01", required=True),
        Column(name="done_on", kind=Day(), help="The day that counts.", example="HWW-340", required=True),
        Column(name="done_at", kind=Moment(), help="With the time. Empty: midday.", example="HWW-340 11:00"),
        Column(name="meter", kind=Amount(), help="Meter total then."),
        Column(name="passed", kind=Yes(), help="no when it failed.", example="yes"),
        Column(name="words", kind=Text(), help="What was found.", example="58 in 100, even"),
        Column(name="reference", kind=Text(), help="Number of the certificate."),
        Column(name="by", kind=Ref("people"), help="Who did it.", example="P02"),
        Column(name="by_name", kind=Text(), help="Outside examiner."),
    ),
)  # fmt: skip

USE_CHECKS = Table(
    name="use_checks", title="Checks that go with use", model=UseCheck, key=("vehicle", "kind", "for_day"),
    purpose="Event checks, first parades, after-use checks and the curator's condition checks: asked for, and done.",
    columns=(
        VEHICLE,
        Column(name="kind", kind=Word(UseCheckKind), help="Which check.", example="event", required=True),
        Column(name="for_day", kind=Day(), help="Day of use; of an event check the first day.", example="HWW", required=True),
        Column(name="due_by", kind=Day(), help="To be done by.", example="HWW-1"),
        Column(name="done_at", kind=Moment(), help="When it was done; empty: not yet."),
        Column(name="by", kind=Ref("people"), help="Who did it.", example="P10"),
        Column(name="nil_defect", kind=Yes(), help="Looked, and found nothing.", example="no"),
        Column(name="words", kind=Text(), help="What was found."),
    ),
)  # fmt: skip

MEASURES = Table(
    name="measures", title="Measures and their limits", model=Measure, codes=("code",), key=("vehicle", "system", "name"),
    purpose="What is measured on a vehicle, how, and against which limit from which source.", checks=(_check_measures,),
    columns=(
        Column(name="code", kind=Code(), help="Short name; needed when another row points at it.", example="M01"),
        VEHICLE,
        Column(name="system", kind=Text(), help="Code of the system.", example="BRK", required=True),
        Column(name="name", kind=Text(), help="What is measured.", example="front drum bore", required=True),
        Column(name="unit", kind=Text(), help="Unit.", example="mm"),
        Column(name="positions", kind=Words(), help="Where, when there are several values.", example="nearside; offside"),
        Column(name="method", kind=Text(), help="How.", example="internal micrometer, two axes"),
        Column(name="condition", kind=Text(), help="Warm or cold.", example="cold"),
        Column(name="judgement", kind=Word(Judgement), help="How it is judged.", example="spread", required=True),
        Column(name="low", kind=Amount(), help="Least."),
        Column(name="high", kind=Amount(), help="Most.", example="0.5"),
        Column(name="choices", kind=Words(), help="For a look: good answers, then |, then the others.", example="dry; |; wet"),
        Column(name="basis", kind=Text(), help="For spread: difference, lowest of highest, below average, share of highest.", example="difference"),
        Column(name="source", kind=Text(), help="Where the limit comes from.", example="museum's brake sheet"),
        Column(name="changed_at", kind=Moment(), help="When the limit was last changed."),
    ),
)  # fmt: skip

READINGS = Table(
    name="readings", title="Readings", model=Reading, key=("measure", "job", "at", "moment"), repeats=True, append_only=True,
    purpose="What was read, with the limit it was judged by. Only ever added to; a wrong one is replaced by a later row.",
    checks=(_check_readings,),
    columns=(
        Column(name="measure", kind=Ref("measures"), help="Which measure.", example="M01", required=True),
        Column(name="job", field="card", kind=Ref("jobs"), help="On which job.", example="J01"),
        Column(name="values", kind=Values(), help="In the order of the positions.", example="355.6; 357.1", required=True),
        Column(name="moment", kind=Word([("as found", "as found"), ("as left", "as left"), ("check", "check")]), help="Before the work, after it, or neither.", example="as found"),
        Column(name="condition", kind=Text(), help="Warm or cold.", example="cold"),
        Column(name="at", kind=Moment(), help="When.", example="HWW-38 11:30", required=True),
        Column(name="by", kind=Ref("people"), help="Who.", example="P02"),
        Column(name="verdict", kind=Word([(word, word) for word in ("within", "near", "past", "not sure")]), help="Result then. Empty: not sure."),
        Column(name="verdict_words", kind=Text(), help="The same in a sentence."),
        Column(name="limit_used", kind=Whatever(), help="The limit then, written by the program."),
        note(),
        Column(name="replaces", kind=Ref("readings"), help="Earlier reading that it stands for, written as measure / job / time / moment."),
    ),
)  # fmt: skip
