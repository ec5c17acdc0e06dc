"""Rows to the state that the gates judge."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict

from fleet.enums import Function
from fleet.models import Person as PersonRow
from fleet.models import Vehicle as VehicleRow
from maintenance.defaults import card_voids
from maintenance.enums import CardState, NeedState, SignatureKind, TestKind, Timing, UseCheckKind
from maintenance.models import Defect as DefectRow
from maintenance.models import Deferral as DeferralRow
from maintenance.models import Inspection as InspectionRow
from maintenance.models import JobCard
from readiness.engine import roles, state
from readiness.models import Entry as EntryRow
from readiness.models import Event as EventRow
from readiness.models import Slot as SlotRow
from readiness.snapshot.rows import Rows, short_names

EVERY_FUNCTION = frozenset(Function.values)


class Names:
    """Short names of every kind of row, the same throughout one assessment."""

    def __init__(self, rows: Rows) -> None:
        self.vehicle = {v.pk: v.code for v in rows.vehicles}
        self.person = {p.pk: p.code for p in rows.people}
        self.job = short_names(rows.cards, "job")
        self.defect = short_names(rows.defects, "defect")
        self.inspection = short_names(rows.inspections, "inspection")
        self.part = short_names(rows.parts, "part")


def slot_name(rows: Rows, event: EventRow, slot: SlotRow) -> str:
    """`HWW:S6:2027-05-01T14:15`: the same after an export and an import, unlike a database key."""
    return f"{event.code}:{slot.code}:{rows.local(slot.starts_at):%Y-%m-%dT%H:%M}"


def entry_name(rows: Rows, event: EventRow, slot: SlotRow, entry: EntryRow) -> str:
    return f"{slot_name(rows, event, slot)}:{entry.vehicle.code}"


def museum_state(rows: Rows) -> state.Museum:
    """Turn rows into the state that `readiness.engine.gates.judge` reads."""
    names = Names(rows)
    events = tuple(_event(rows, event) for event in rows.events)
    planned = _planned(rows)
    return state.Museum(
        now=rows.local(rows.now),
        rules=_rules(rows),
        vehicles={v.code: _vehicle(rows, names, v, planned) for v in rows.vehicles},
        people={p.code: _person(p) for p in rows.people},
        events=events,
        event_ends=tuple(sorted(e.last_day for e in rows.events)),
        site=tuple(_inspection(rows, names, i) for i in rows.inspections if i.vehicle_id is None),
    )


def _rules(rows: Rows) -> state.Rules:
    own = {(r.role, r.subject, r.code): (r.demand, r.count) for r in rows.rules}
    table = roles.default_table() | own
    m = rows.museum
    return state.Rules(
        table=table,
        likely_from=m.likely_from,
        doubtful_from=m.doubtful_from,
        event_check_days=m.event_check_days,
        change_over=dt.timedelta(minutes=m.change_over_minutes),
    )


def _person(row: PersonRow) -> state.Person:
    return state.Person(
        uid=row.code,
        name=row.name if row.is_active else f"{row.name} (has left)",
        competences=()
        if not row.is_active
        else tuple(
            state.Competence(
                kind=c.kind,
                vehicle=c.vehicle.code if c.vehicle else "",
                area=c.area,
                valid_through=c.valid_through,
                with_person=c.with_person.code if c.with_person else "",
            )
            for c in sorted(row.competences.all(), key=lambda c: (c.kind, c.area, c.pk))
        ),
        away=frozenset(x.day for x in row.day_exceptions.all() if not x.is_in),
    )


def _event(rows: Rows, row: EventRow) -> state.Event:
    light = {d.day: (d.sunrise, d.sunset) for d in row.event_days.all()}
    slots: dict[int, state.Slot] = {}
    entries: list[state.Entry] = []
    for slot in row.slots.all():
        slots[slot.pk] = _slot(rows, row, slot, light)
        entries += [_entry(rows, row, slot, slots[slot.pk], entry) for entry in slot.entries.all()]
    return state.Event(
        uid=row.code,
        code=row.code,
        name=row.name,
        freeze=rows.local(row.freeze_at),
        first_day=row.first_day,
        last_day=row.last_day,
        slots=tuple(slots.values()),
        entries=tuple(entries),
    )


def _slot(
    rows: Rows, event: EventRow, row: SlotRow, light: dict[dt.date, tuple[dt.time | None, dt.time | None]]
) -> state.Slot:
    starts = rows.local(row.starts_at)
    sunrise, sunset = light.get(starts.date(), (None, None))
    return state.Slot(
        uid=slot_name(rows, event, row),
        code=row.code,
        name=row.name,
        role=row.role,
        starts=starts,
        ends=rows.local(row.ends_at),
        speed_kmh=row.speed_kmh,
        km=row.distance_km,
        hours=row.hours,
        runs=row.runs,
        also_asks=frozenset(row.also_asks),
        sunrise=sunrise,
        sunset=sunset,
        at_least=row.at_least,
        crew=tuple(
            state.CrewDuty(duty=c.duty, person=c.person.code if c.person else "", borrowed=c.borrowed)
            for c in row.crew.all()
            if c.entry_id is None
        ),
    )


def _entry(rows: Rows, event: EventRow, row_slot: SlotRow, slot: state.Slot, row: EntryRow) -> state.Entry:
    return state.Entry(
        uid=entry_name(rows, event, row_slot, row),
        slot=slot,
        vehicle=row.vehicle.code,
        covers=row.covers.code if row.covers else "",
        ready_minutes=row.ready_minutes,
        km=row.distance_km,
        hours=row.hours,
        crewed_inside=row.crewed_inside,
        ticks=frozenset(f"limit-{t.limit_id}" for t in row.ticks.all()),
        crew=tuple(
            state.CrewDuty(duty=c.duty, person=c.person.code if c.person else "", borrowed=c.borrowed)
            for c in row.crew.all()
        ),
    )


def _planned(rows: Rows) -> dict[str, list[state.Use]]:
    """Rehearsals and slots of every event, by vehicle: what the meters will be carrying."""
    planned: dict[str, list[state.Use]] = defaultdict(list)
    for event in rows.events:
        for r in event.rehearsals.all():
            planned[r.vehicle.code].append(
                state.Use(at=dt.datetime.combine(r.day, dt.time(17)), hours=r.hours, km=r.km)
            )
        for slot in event.slots.all():
            shape = _slot(rows, event, slot, {})
            for entry in slot.entries.all():
                planned[entry.vehicle.code].append(_entry(rows, event, slot, shape, entry).use)
    return planned


def _vehicle(rows: Rows, names: Names, row: VehicleRow, planned: dict[str, list[state.Use]]) -> state.Vehicle:
    today = rows.local(rows.now).date()
    checks = [c for c in rows.checks if c.vehicle_id == row.pk]
    overdue = [
        c.for_day
        for c in checks
        if c.kind == UseCheckKind.AFTER_USE and c.done_at is None and (c.due_by or c.for_day) < today
    ]
    defects = tuple(_defect(names, d) for d in rows.defects if d.vehicle_id == row.pk)
    return state.Vehicle(
        uid=row.code,
        number=row.number,
        name=row.name,
        status=row.status,
        tracked=row.is_tracked,
        closed=row.is_closed,
        steam=row.is_steam,
        lifts=row.lifts,
        tag=_tag(rows, names, row),
        defects=defects,
        jobs=tuple(_job(rows, names, c) for c in rows.cards if c.vehicle_id == row.pk),
        inspections=tuple(_inspection(rows, names, i) for i in rows.inspections if i.vehicle_id == row.pk),
        meters=tuple(
            state.MeterState(kind=m.kind, total=last.total, read_at=rows.local(last.read_at))
            for m in row.meters.all()
            if (last := next(iter(m.readings.all()), None)) is not None
        ),
        outings=tuple(
            state.Use(at=dt.datetime.combine(o.day, dt.time(17)), hours=o.hours, km=o.km)
            for o in row.outings.all()
        ),
        planned=tuple(sorted(planned.get(row.code, []), key=lambda u: u.at)),
        lent=bool(row.owner.strip()),
        papers=tuple((p.kind, p.valid_through) for p in row.papers.all()),
        overdue_after_use=min(overdue, default=None),
        checks_done=frozenset((c.kind, c.for_day) for c in checks if c.done_at is not None),
    )


def _tag(rows: Rows, names: Names, row: VehicleRow) -> state.TagState | None:
    hung = [t for t in rows.tags if t.vehicle_id == row.pk]
    if not hung:
        return None
    # The worst of several: one without work first, then one whose card is still open.
    tag = min(hung, key=lambda t: (t.card_id is not None, t.card_id in rows.ended_tag_cards, t.pk))
    return state.TagState(
        uid=tag.stub,
        job=names.job.get(tag.card_id or 0, ""),
        job_done=tag.card_id in rows.ended_tag_cards,
        reason=tag.reason,
    )


def _defect(names: Names, row: DefectRow) -> state.Defect:
    return state.Defect(
        uid=names.defect[row.pk],
        label=row.title,
        assessed=row.state != "reported",
        touches=frozenset(row.subsystem.serves) if row.subsystem else frozenset(),
        unsure=row.subsystem is None,
        severity=row.severity or 0,
        probability=row.probability,
        effects=tuple(sorted((e.function, e.effect) for e in row.effects.all())),
        deferrals=tuple(_deferral(d) for d in row.deferrals.all()),
        jobs=tuple(sorted(names.job[c.pk] for c in row.cards.all() if c.pk in names.job)),
    )


def _deferral(row: DeferralRow) -> state.Deferral:
    return state.Deferral(
        uid=row.code or f"deferral-{row.pk}",
        signed_on=row.signed_on,
        ends_on=row.ends_on,
        severity_without=row.severity_without,
        probability_without=row.probability_without,
        severity_with=row.severity_with,
        probability_with=row.probability_with,
        signers=tuple((s.person.code, s.role) for s in row.signatures.all()),
        limits=tuple(
            state.Limit(
                uid=f"limit-{x.pk}",
                kind=x.kind,
                value=x.value,
                text=x.text,
                words=x.words,
                driver=x.driver.code if x.driver else "",
            )
            for x in row.limits.all()
        ),
    )


def missing_tests(card: JobCard) -> tuple[str, ...]:
    """Tests that the card asks for and that have not been passed since the refit."""
    wanted = [
        k
        for k, asked in (
            (TestKind.FUNCTIONAL, card.needs_functional_test),
            (TestKind.ROAD, card.needs_road_test),
        )
        if asked
    ]
    since = card.refit_at
    passed = {t.kind for t in card.tests.all() if t.passed and (since is None or t.at >= since)}
    return tuple(TestKind(k).label.lower() for k in wanted if k not in passed)


def _job(rows: Rows, names: Names, row: JobCard) -> state.Job:
    parts = [p for p in rows.parts if p.card_id == row.pk]
    signed = any(s.kind == SignatureKind.INSPECTOR for s in row.signatures.all())
    outside_unbooked = bool(row.outside_who) and row.outside_on is None
    return state.Job(
        uid=names.job[row.pk],
        label=f"{names.job[row.pk]} {row.title}",
        state=row.state,
        before_event=row.timing == Timing.BEFORE,
        booked=row.state not in {CardState.NOT_DUE, CardState.NOT_BOOKED} and not outside_unbooked,
        functions=frozenset(row.subsystem.serves) if row.subsystem else EVERY_FUNCTION,
        stripped=row.is_stripped,
        refit_done=row.refit_at is not None,
        tests_missing=missing_tests(row),
        signature_missing=row.second_area if row.second_area and not signed else "",
        consent=({"yes": "given", "no": "no"}.get(row.consent_answer, "wanted") if row.needs_consent else ""),
        voids=card_voids(row),
        unknown_parts=tuple((names.part[p.pk], p.name) for p in parts if p.state == NeedState.UNKNOWN),
        late_parts=tuple((names.part[p.pk], p.name) for p in parts if p.state == NeedState.NOT_ORDERED),
        held_for=row.held_for if row.state == CardState.HELD else "",
        after=tuple(sorted(names.job[c.pk] for c in row.after.all() if c.pk in names.job)),
    )


def _inspection(rows: Rows, names: Names, row: InspectionRow) -> state.Inspection:
    cards = [c for c in rows.cards if c.inspection_id == row.pk]
    after = [names.job[c.pk] for c in row.after_cards.all() if c.pk in names.job]
    after += [
        f"inspection:{names.inspection[i.pk]}"
        for i in row.after_inspections.all()
        if i.pk in names.inspection
    ]
    return state.Inspection(
        uid=names.inspection[row.pk],
        kind=row.kind,
        name=row.name,
        valid_through=row.due_on,
        meter=row.interval_meter,
        valid_meter=row.due_at_meter,
        interval_days=row.interval_days,
        interval_amount=row.interval_amount,
        unknown=row.never_done,
        voided=row.voided_at is not None,
        voided_why=row.voided_why,
        jobs=tuple(sorted(names.job[c.pk] for c in cards)),
        outside=row.outside,
        booked_on=row.booked_on,
        after=tuple(sorted(after)),
    )


__all__ = ["Names", "entry_name", "missing_tests", "museum_state", "slot_name"]
