"""Rows and verdicts to the workshop that the forecast plays: who is in when, what work there is, what must be clear."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from statistics import median

from fleet.enums import CompetenceKind, Engagement, InspectArea
from fleet.models import Person as PersonRow
from maintenance.enums import CardState, HeldFor, NeedState, TestKind, Timing
from maintenance.models import Inspection as InspectionRow
from maintenance.models import JobCard, PartNeed
from maintenance.waits import card_hazards
from readiness.engine.gates import Verdict
from readiness.engine.reasons import Weight
from readiness.engine.state import Entry, Event, Museum
from readiness.engine.workshop import (
    Delivery,
    DeliveryState,
    Discovery,
    Estimate,
    Hand,
    Place,
    Tool,
    Work,
    WorkDay,
    Workshop,
)
from readiness.snapshot.begun import doers, kept_by
from readiness.snapshot.goals import goals_of
from readiness.snapshot.learnt import Learnt, learnt, scaled
from readiness.snapshot.museum import Names, missing_tests
from readiness.snapshot.rows import Rows

HORIZON_DAYS = 35
FALLBACK_HOURS = 3.0
ENOUGH_ALIKE = 3
FUNCTIONAL_HOURS = 0.5
ROAD_HOURS = 1.0
TOOL_BACK_DAYS = 2
MORNING = dt.time(10)
EVENING = dt.time(16)
LATE_WORK_RANK = 10.0
DELIVERY_STATES: dict[NeedState, DeliveryState] = {
    NeedState.ON_SHELF: "on_shelf",
    NeedState.ON_ORDER: "on_order",
    NeedState.OUT_FOR_REPAIR: "on_order",
    NeedState.NOT_ORDERED: "not_ordered",
}
STATE_RANK = {
    CardState.REFIT_DONE: 0.0,
    CardState.TESTED: 0.0,
    CardState.IN_HAND: 0.1,
    CardState.BOOKED_IN: 0.2,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Workload:
    """The workshop and, per entry, the goals whose clearing together clears the entry."""

    workshop: Workshop
    goals: dict[str, tuple[str, ...]]
    labels: dict[str, str] = field(default_factory=dict)
    has_history: bool = True


def workload(rows: Rows, museum: Museum, verdicts: Mapping[str, tuple[Event, Entry, Verdict]]) -> Workload:
    """Build the workshop for all events that are not over, and a goal for each entry whose gates are open."""
    names = Names(rows)
    now = museum.now
    known = learnt(rows)
    last = max((e.freeze for e in museum.events), default=now)
    horizon = max(now, last) + dt.timedelta(days=HORIZON_DAYS)
    hands = tuple(_hand(rows, p, now, horizon, known) for p in rows.people if p.is_active and _works_here(p))
    in_time = last if last > now else horizon
    coming = {h.uid for h in hands if any(day.start < in_time for day in h.days)}
    builder = _Builder(rows, names, museum, verdicts, known, coming)
    works = builder.works()
    kept = {w.uid for w in works}
    goals, by_entry = goals_of(museum, verdicts, rows, names, kept)
    workshop = Workshop(
        now=now,
        horizon=horizon,
        hands=hands,
        places=tuple(Place(uid=f"place-{p.pk}", name=p.name, capacity=p.capacity) for p in rows.places),
        tools=tuple(
            Tool(uid=f"tool-{t.pk}", name=t.name, back=_tool_back(t.on_loan_to, t.back_on, now))
            for t in rows.tools
        ),
        deliveries=tuple(_delivery(names, p, known) for p in rows.parts),
        works=works,
        goals=goals,
        evidence=known.season,
    )
    return Workload(
        workshop=workshop,
        goals=by_entry,
        labels={w.uid: w.label for w in works},
        has_history=known.has_history,
    )


def _works_here(person: PersonRow) -> bool:
    return (
        person.is_mechanic
        or person.is_lead
        or person.is_trainee
        or bool(person.skills.all())
        or person.is_curator
        or any(c.kind == CompetenceKind.INSPECT for c in person.competences.all())
    )


def _tool_back(on_loan_to: str, back_on: dt.date | None, now: dt.datetime) -> dt.datetime | None:
    if not on_loan_to:
        return None
    if back_on is None:
        return now + dt.timedelta(days=TOOL_BACK_DAYS)
    return dt.datetime.combine(back_on, MORNING)


def days_in(person: PersonRow, first: dt.date, last: dt.date) -> list[dt.date]:
    """The days on which somebody means to be in: pattern, plus days added, less days away."""
    exceptions = {x.day: x.is_in for x in person.day_exceptions.all()}
    found = []
    for n in range((last - first).days + 1):
        day = first + dt.timedelta(days=n)
        if exceptions.get(day, any(p.holds_on(day) for p in person.patterns.all())):
            found.append(day)
    return found


def _hand(rows: Rows, person: PersonRow, now: dt.datetime, horizon: dt.datetime, known: Learnt) -> Hand:
    m = rows.museum
    default = m.turn_up_staff if person.engagement == Engagement.STAFF else m.turn_up_volunteer
    signs: set[str] = set()
    for c in person.competences.all():
        if c.kind == CompetenceKind.INSPECT and (c.valid_through is None or c.valid_through >= now.date()):
            signs |= set(InspectArea.values) if c.area == InspectArea.ANY else {c.area}
    days = []
    for day in days_in(person, now.date(), horizon.date()):
        start, end = dt.datetime.combine(day, person.day_start), dt.datetime.combine(day, person.day_end)
        if end > now:
            days.append(WorkDay(start=start, end=end, worked_slots=person.worked_quarters))
    return Hand(
        uid=person.code,
        name=person.name,
        skills=frozenset(s.name for s in person.skills.all()),
        days=tuple(days),
        turn_up=float(person.turn_up)
        if person.turn_up is not None
        else known.turn_up(person.code, float(default)),
        trainee=person.is_trainee,
        signs=frozenset(signs),
    )


def _delivery(names: Names, part: PartNeed, known: Learnt) -> Delivery:
    state = DELIVERY_STATES.get(NeedState(part.state), "unknown")
    promised = dt.datetime.combine(part.promised_on, MORNING) if part.promised_on else None
    ordered = dt.datetime.combine(part.ordered_on, MORNING) if part.ordered_on else None
    return Delivery(
        uid=names.part[part.pk],
        name=part.name,
        state=state,
        ordered=ordered,
        promised=promised,
        received=dt.datetime.combine(part.received_on, MORNING) if part.received_on else None,
        lead_days=part.lead_days,
        ratios=known.lead(part.supplier_id),
    )


class _Builder:
    """Works of all open cards that are meant for an event not over, and of inspections to repeat."""

    def __init__(
        self,
        rows: Rows,
        names: Names,
        museum: Museum,
        verdicts: Mapping[str, tuple[Event, Entry, Verdict]],
        known: Learnt,
        coming: set[str],
    ) -> None:
        self.rows, self.names, self.museum, self.known = rows, names, museum, known
        self.coming = coming
        self.gating: dict[str, tuple[dt.datetime, int]] = {}
        self.inspection_after: dict[str, set[str]] = {}
        for event, _, verdict in verdicts.values():
            if verdict.standing != "open":
                continue
            for uid in verdict.needs:
                best = (event.freeze, 0)
                self.gating[uid] = min(self.gating.get(uid, best), best)
            for reason in verdict.reasons:
                if reason.subject[0] == "inspection" and reason.weight is Weight.OPEN:
                    for uid in reason.clears:
                        self.inspection_after.setdefault(uid, set()).update(reason.data.get("after", []))
        self.by_system: dict[str, list[float]] = {}
        for c in rows.cards:
            if c.hours_usual:
                self.by_system.setdefault(c.subsystem.group if c.subsystem else "", []).append(
                    float(c.hours_usual)
                )
        usual = [hours for alike in self.by_system.values() for hours in alike]
        self.usual = median(usual) if usual else FALLBACK_HOURS
        ends = [e.last_day for e in museum.events if e.last_day >= museum.now.date()]
        self.first_end = min(ends, default=None)
        self.several = len(ends) > 1

    def works(self) -> tuple[Work, ...]:
        found = [self._card(c) for c in self.rows.cards if self._wanted(c)]
        found += [
            self._inspection(i)
            for i in self.rows.inspections
            if f"inspection:{self.names.inspection[i.pk]}" in self.gating
        ]
        kept = {w.uid for w in found}
        return tuple(_without_strangers(w, kept) for w in found)

    def _wanted(self, card: JobCard) -> bool:
        if card.state == CardState.CARRIED_FORWARD or card.consent_answer == "no":
            return False
        if self.museum.vehicles[card.vehicle.code].status != "in service":
            return False
        job = next(
            j for j in self.museum.vehicles[card.vehicle.code].jobs if j.uid == self.names.job[card.pk]
        )
        if not job.lifts and job.before_event:
            return False
        return card.timing == Timing.BEFORE or self.several

    def rank(self, uid: str, state: str) -> float:
        if uid not in self.gating:
            return LATE_WORK_RANK
        order = sorted({freeze for freeze, _ in self.gating.values()})
        return float(order.index(self.gating[uid][0])) + STATE_RANK.get(CardState(state), 0.3)

    def _card(self, card: JobCard) -> Work:
        uid = self.names.job[card.pk]
        now = self.museum.now
        refit = card.refit_at is not None
        tests = missing_tests(card)
        access = card.access
        safety = bool(card.second_area) or card.needs_road_test
        held_until, held_for = self._hold(card)
        not_before = (
            now + dt.timedelta(hours=access.cooling_hours)
            if access and access.cooling_hours and not card.opened_at
            else None
        )
        if card.timing == Timing.AFTER and self.first_end is not None:
            after_event = dt.datetime.combine(self.first_end + dt.timedelta(days=1), dt.time.min)
            not_before = max(not_before or after_event, after_event)
        place = card.place or (access.place if access else None)
        return Work(
            uid=uid,
            label=card.title,
            vehicle=card.vehicle.code,
            estimate=None if refit else self._estimate(card),
            persons=card.persons,
            skills=frozenset(s.name for s in card.skills.all()),
            two_person=any(h.second_person for h in card_hazards(card)),
            prefers=card.taken_by.code if card.taken_by else card.suits.code if card.suits else None,
            place=f"place-{place.pk}" if place and not refit else None,
            tools=tuple(f"tool-{t.pk}" for t in card.tools.all()) if not refit else (),
            parts=tuple(self.names.part[p.pk] for p in self.rows.parts if p.card_id == card.pk)
            if not refit
            else (),
            group=f"{card.vehicle.code}:{card.access_group}" if card.access_group and not refit else None,
            open_hours=_fixed_hours(access.open_hours)
            if access and not card.opened_at and not refit
            else None,
            close_hours=_fixed_hours(access.close_hours) if access and not refit else None,
            functional_hours=FUNCTIONAL_HOURS
            if safety and TestKind.FUNCTIONAL.label.lower() in tests
            else 0.0,
            road_hours=ROAD_HOURS if TestKind.ROAD.label.lower() in tests else 0.0,
            second_signature=card.second_area or None,
            doers=doers(card),
            kept_by=kept_by(card, self.coming),
            cure_hours=float(card.drying_hours),
            after=tuple(self.names.job[c.pk] for c in card.after.all() if c.pk in self.names.job)
            + tuple(sorted(self.inspection_after.get(uid, set()))),
            not_before=not_before,
            fixed=dt.datetime.combine(card.outside_on, MORNING) if card.outside_on else None,
            hours_done=float(sum(h.hours for h in card.hours.all())) / card.persons if not refit else 0.0,
            discovery=self._discovery(card) if not refit else None,
            booked=card.state not in {CardState.NOT_DUE, CardState.NOT_BOOKED}
            and not (card.outside_who and card.outside_on is None),
            hold_until=held_until,
            hold_for=held_for,
            rank=self.rank(uid, card.state),
        )

    def _estimate(self, card: JobCard) -> Estimate:
        person = card.taken_by or card.suits
        system = card.subsystem.group if card.subsystem else ""
        factor = self.known.hours(person.code if person else "", system, card.kind)
        if card.hours_best is not None and card.hours_bad is not None and card.hours_usual is not None:
            figures = scaled((card.hours_best, card.hours_usual, card.hours_bad), factor)
            return Estimate.three(*figures)
        if card.hours_usual is not None:
            return Estimate.expert(float(card.hours_usual)).times(factor)
        return Estimate.guess(self._usual(card) * factor)

    def _usual(self, card: JobCard) -> float:
        """The middle of what is estimated for work on the same system, else for all work."""
        same = self.by_system.get(card.subsystem.group, []) if card.subsystem else []
        return median(same) if len(same) >= ENOUGH_ALIKE else self.usual

    def _discovery(self, card: JobCard) -> Discovery | None:
        if card.opened_at is not None or card.access is None:
            return None
        chance = self.known.discovery(card.access.name, float(card.access.discovery))
        if not chance:
            return None
        usual = float(card.hours_usual or self._usual(card))
        return Discovery(chance=min(chance, 1.0), extra=Estimate.three(0.3 * usual, 0.6 * usual, 1.5 * usual))

    def _hold(self, card: JobCard) -> tuple[dt.datetime | None, str]:
        waiting = card.held_for if card.state == CardState.HELD else ""
        consent = card.needs_consent and not card.consent_answer
        if not consent and waiting not in {
            HeldFor.DECISION,
            HeldFor.CURATOR,
            HeldFor.OWNER_GONE,
            HeldFor.PERSON,
            HeldFor.ACCESS,
        }:
            return None, "a decision"
        curator = consent or waiting == HeldFor.CURATOR
        earliest = card.held_until or self.museum.now.date() + dt.timedelta(
            days=self.rows.museum.decision_days
        )
        deciders = [p for p in self.rows.people if p.is_active and (p.is_curator if curator else p.is_lead)]
        days = sorted(d for p in deciders for d in days_in(p, earliest, earliest + dt.timedelta(days=28)))
        day = days[0] if days else earliest
        return dt.datetime.combine(day, EVENING), "the curator's consent" if curator else "a decision"

    def _inspection(self, row: InspectionRow) -> Work:
        name = self.names.inspection[row.pk]
        uid = f"inspection:{name}"
        after = {self.names.job[c.pk] for c in row.after_cards.all() if c.pk in self.names.job}
        after |= {
            f"inspection:{self.names.inspection[i.pk]}"
            for i in row.after_inspections.all()
            if i.pk in self.names.inspection
        }
        after |= self.inspection_after.get(uid, set())
        fixed = dt.datetime.combine(row.booked_on, MORNING) if row.booked_on and row.outside else None
        return Work(
            uid=uid,
            label=row.name,
            vehicle=row.vehicle.code if row.vehicle else "",
            estimate=Estimate.expert(float(row.hours)),
            persons=row.persons,
            skills=frozenset(s.name for s in row.skills.all()),
            after=tuple(sorted(after)),
            fixed=fixed,
            not_before=dt.datetime.combine(row.booked_on, dt.time.min)
            if row.booked_on and not row.outside
            else None,
            booked=not row.outside or row.booked_on is not None,
            rank=self.rank(uid, CardState.BOOKED_IN),
        )


def _fixed_hours(hours: object) -> Estimate | None:
    value = float(str(hours))
    return Estimate.three(value, value, value) if value else None


def _without_strangers(work: Work, kept: set[str]) -> Work:
    """Drop needs that are already done: a closed card or a valid inspection makes no step."""
    after = tuple(dict.fromkeys(uid for uid in work.after if uid in kept and uid != work.uid))
    return work if after == work.after else replace(work, after=after)
