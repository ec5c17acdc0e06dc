"""What the museum's own record has taught: turn-up, hours against estimates, finds on opening, suppliers' promises.

Each figure starts at the museum's default and moves by what is on record, shrunk (readiness/engine/learning.py); a person
may overrule it. Without history every figure is its default, and is said to be. Six queries, whatever the record holds.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from django.db.models import Exists, OuterRef, Sum

from fleet.enums import Engagement
from fleet.models import SignIn, Subsystem
from maintenance.enums import CardKind, CardState, NeedState
from maintenance.models import Defect, JobCard, PartNeed, Supplier
from readiness.engine.learning import (
    HABIT_SCATTER,
    JOB_SCATTER,
    LEAD_RATIOS,
    Chance,
    Spent,
    habits,
    lead_ratios,
    scatter,
    turn_ups,
)
from readiness.engine.params import Params
from readiness.engine.workshop import Estimate, Evidence
from readiness.models import LearntKind, Overrule
from readiness.snapshot.rows import Rows

LOOK_BACK_DAYS = 3 * 365
Ratios = tuple[tuple[float, float], ...]
Group = tuple[str, str, str]
"""Person, system, kind of work."""

WHOLE = "workshop"
"""Key of the hours of the whole workshop: used where a person, system and kind has no record of its own."""
ENOUGH_JOBS, ENOUGH_GROUPS = 20, 4
"""From so many finished jobs in so many groups on, the spread is taken from the record too (*common practice*)."""
LEAST_SPREAD = 0.05
SEASON_DAYS = 60
AWAITED = frozenset({NeedState.ON_ORDER, NeedState.OUT_FOR_REPAIR})
LATE = sum(ratio * chance for ratio, chance in LEAD_RATIOS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One learnt figure: what is used, what it would be without history, from how many, and whether a person set it."""

    kind: str
    key: str
    label: str
    default: float
    learnt: float
    cases: int
    rests_on: str
    set_by_hand: Overrule | None = None

    @property
    def used(self) -> float:
        return float(self.set_by_hand.value or 0) if self.set_by_hand is not None else self.learnt


@dataclass(frozen=True, slots=True, kw_only=True)
class Learnt:
    """All figures, by kind and key, and the suppliers' ratios."""

    figures: dict[tuple[str, str], Figure] = field(default_factory=dict)
    ratios: dict[int, Ratios] = field(default_factory=dict)
    season: tuple[Evidence, ...] = ()
    """The jobs of the last weeks against what the forecast thinks of them: how this season goes altogether."""

    @property
    def has_history(self) -> bool:
        return any(f.cases for f in self.figures.values())

    def turn_up(self, person: str, default: float) -> float:
        return self._used(LearntKind.TURN_UP, person, default)

    def hours(self, person: str, system: str, kind: str) -> float:
        """Factor on a job's estimate: of this person in such work, else of the whole workshop."""
        whole = self._used(LearntKind.HOURS, WHOLE, 1.0)
        return self._used(LearntKind.HOURS, hours_key(person, system, kind), whole)

    def discovery(self, access: str, default: float) -> float:
        return self._used(LearntKind.DISCOVERY, access, default)

    def lead(self, supplier: int | None) -> Ratios:
        return self.ratios.get(supplier or 0, LEAD_RATIOS)

    def _used(self, kind: str, key: str, default: float) -> float:
        found = self.figures.get((kind, key))
        return found.used if found is not None else default


def hours_key(person: str, system: str, kind: str) -> str:
    return f"{person}:{system}:{kind}"


def learnt(rows: Rows) -> Learnt:
    """Everything learnt up to the moment of the rows."""
    since = (rows.now - dt.timedelta(days=LOOK_BACK_DAYS)).date()
    by_hand = {(o.kind, o.key): o for o in Overrule.objects.select_related("by")}
    promises, ratios = _leads(rows, since)
    jobs = _jobs_on_record(since)
    hours = _hours(rows, _spent(jobs), by_hand)
    figures = [*_turn_up(rows, since), *hours, *_discovery(rows, since), *promises]
    kept = {(f.kind, f.key): replace(f, set_by_hand=by_hand.get((f.kind, f.key))) for f in figures}
    for pk, seen in ratios.items():
        said = kept[LearntKind.PROMISES, str(pk)]
        # Set by hand is the mean; the doubt about it keeps the shape that is on record.
        by = said.used / said.learnt if said.set_by_hand is not None else 1.0
        ratios[pk] = tuple((ratio * by, chance) for ratio, chance in seen)
    found = Learnt(figures=kept, ratios=ratios)
    return replace(found, season=_season(jobs, found, rows.now.date() - dt.timedelta(days=SEASON_DAYS)))


def _turn_up(rows: Rows, since: dt.date) -> list[Figure]:
    came: dict[int, Counter[bool]] = defaultdict(Counter)
    for person, there in SignIn.objects.filter(day__gte=since).values_list("person_id", "came"):
        came[person][there] += 1
    here = [p for p in rows.people if p.is_active]
    kinds = {
        True: float(rows.museum.turn_up_staff),
        False: float(rows.museum.turn_up_volunteer),
    }
    mean_of: dict[int, float] = {}
    for staff, default in kinds.items():
        alike = [p for p in here if (p.engagement == Engagement.STAFF) is staff]
        mean_of |= turn_ups({p.pk: (came[p.pk][True], came[p.pk][False]) for p in alike}, default)
    found = []
    for p in here:
        default, mean = kinds[p.engagement == Engagement.STAFF], mean_of[p.pk]
        yes, no = came[p.pk][True], came[p.pk][False]
        rests = (
            f"came on {yes} of {yes + no} work days"
            if yes + no
            else f"no sign-in on record yet{'; that of the others stands in' if mean != default else ''}"
        )
        found.append(
            Figure(
                kind=LearntKind.TURN_UP,
                key=p.code,
                label=p.name,
                default=default,
                learnt=mean,
                cases=yes + no,
                rests_on=rests,
            )
        )
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Job:
    """A job on record: whose, in what, what was thought and what it took (so far, if open)."""

    group: Group
    thought: Estimate
    hours: float
    open: bool
    ended: dt.date | None


def _thought(card: JobCard) -> Estimate | None:
    if not card.hours_usual:
        return None
    if card.hours_best is None or card.hours_bad is None:
        return Estimate.expert(float(card.hours_usual))
    return Estimate.three(*scaled((card.hours_best, card.hours_usual, card.hours_bad), 1.0))


def _jobs_on_record(since: dt.date) -> list[_Job]:
    ended = JobCard.objects.filter(state=CardState.PASSED, ended_at__date__gte=since)
    running = JobCard.objects.filter(state__in=[CardState.IN_HAND, CardState.HELD])
    cards = (ended | running).filter(taken_by__isnull=False, subsystem__isnull=False)
    found = []
    for card in (
        cards.select_related("taken_by", "subsystem").annotate(spent=Sum("hours__hours")).order_by("pk")
    ):
        thought = _thought(card)
        if thought is None or not card.spent or card.taken_by is None or card.subsystem is None:
            continue
        found.append(
            _Job(
                group=(card.taken_by.code, card.subsystem.group, card.kind),
                thought=thought,
                hours=float(card.spent) / card.persons,
                open=card.state != CardState.PASSED,
                ended=card.ended_at.date() if card.ended_at and card.state == CardState.PASSED else None,
            )
        )
    return found


def _spent(jobs: Sequence[_Job]) -> dict[Group, list[Spent]]:
    """By group, against the middle of what was thought: as often above as below, so that right estimates give one."""
    groups: dict[Group, list[Spent]] = defaultdict(list)
    for job in jobs:
        middle = job.thought.spread(Params()).ppf(0.5)
        groups[job.group].append(Spent(estimate=middle, actual=job.hours, open=job.open))
    return groups


def _season(jobs: Sequence[_Job], known: Learnt, since: dt.date) -> tuple[Evidence, ...]:
    """Jobs that run or ended lately, against the estimate as the forecast would scale it."""
    return tuple(
        Evidence(estimate=job.thought.times(known.hours(*job.group)), hours=job.hours, open=job.open)
        for job in jobs
        if job.open or (job.ended is not None and job.ended >= since)
    )


def _hours(
    rows: Rows, spent: Mapping[Group, Sequence[Spent]], by_hand: Mapping[tuple[str, str], Overrule]
) -> list[Figure]:
    groups = dict(sorted(spent.items()))
    within, between = spread_of(groups)
    whole, own = habits(groups, scatter=within, between=between)
    spread = f"; one job scatters by {within:.2f}, habits by {between:.2f}" if groups else ""
    found = [
        Figure(
            kind=LearntKind.HOURS, key=WHOLE, label="The whole workshop", default=1.0, learnt=whole.factor,
            cases=whole.finished + whole.unfinished, rests_on=_jobs(whole.finished, whole.unfinished) + spread,
        )
    ]  # fmt: skip
    names = {p.code: p.name for p in rows.people}
    set_only = [
        tuple(key.split(":")) for kind, key in by_hand if kind == LearntKind.HOURS and key.count(":") == 2
    ]
    for group in sorted({*groups, *set_only}):
        person, system, kind = group
        how = own.get((person, system, kind))
        learnt, done, still = (
            (how.factor, how.finished, how.unfinished) if how is not None else (whole.factor, 0, 0)
        )
        found.append(
            Figure(
                kind=LearntKind.HOURS, key=":".join(group), label=f"{names.get(person, person)}, {system}, {kind}",
                default=1.0, learnt=learnt, cases=done + still, rests_on=_jobs(done, still),
            )
        )  # fmt: skip
    return found


def _jobs(done: int, still: int) -> str:
    if not done + still:
        return "no job on record yet"
    noun = "job" if done == 1 else "jobs"
    return f"{done} closed {noun}" + (f", {still} still open" if still else "")


def spread_of(groups: Mapping[Group, Sequence[Spent]]) -> tuple[float, float]:
    """Scatter of one job about the habit, and of habits about the workshop: from the record once it is long enough."""
    ended = [[job for job in jobs if not job.open] for jobs in groups.values()]
    found = scatter(ended)
    if (
        found is None
        or sum(map(len, ended)) < ENOUGH_JOBS
        or sum(bool(jobs) for jobs in ended) < ENOUGH_GROUPS
    ):
        return JOB_SCATTER, HABIT_SCATTER
    return max(found.within, LEAST_SPREAD), max(found.between, LEAST_SPREAD)


def hours_key_is_known(rows: Rows, key: str) -> bool:
    """Whether a key names the workshop, or somebody here, a system and a kind of work."""
    person, _, rest = key.partition(":")
    system, _, kind = rest.partition(":")
    return key == WHOLE or (
        any(p.code == person and p.is_active for p in rows.people)
        and system in systems()
        and kind in CardKind.values
    )


def systems() -> dict[str, str]:
    """The systems that hours are learnt by, by code."""
    first_level = Subsystem.objects.exclude(code__contains=".").order_by("code", "pk")
    return dict(first_level.values_list("code", "name"))


def _discovery(rows: Rows, since: dt.date) -> list[Figure]:
    # One that is still open has not shown all it will: it counts when it has ended.
    ended = JobCard.objects.filter(opened_at__date__gte=since, ended_at__isnull=False, access__isnull=False)
    opened = ended.annotate(
        found_more=Exists(Defect.objects.filter(found_on=OuterRef("pk"))),
        spawned_more=Exists(JobCard.objects.filter(found_on=OuterRef("pk"))),
    ).values_list("access__name", "found_more", "spawned_more")
    counts: dict[str, Counter[bool]] = defaultdict(Counter)
    for name, found_more, spawned_more in opened:
        counts[name][bool(found_more or spawned_more)] += 1
    found = []
    for access in rows.accesses:
        yes, no = counts[access.name][True], counts[access.name][False]
        default = float(access.discovery)
        mean = Chance.before(default).update(yes, no).mean if yes + no and default else default
        rests = f"showed more in {yes} of {yes + no} openings" if yes + no else "no opening on record yet"
        found.append(
            Figure(
                kind=LearntKind.DISCOVERY,
                key=access.name,
                label=access.name,
                default=default,
                learnt=mean,
                cases=yes + no,
                rests_on=rests,
            )
        )
    return found


def _leads(rows: Rows, since: dt.date) -> tuple[list[Figure], dict[int, Ratios]]:
    """What each supplier's promises are worth. What is still awaited counts as later than it is now."""
    seen: dict[int, list[float]] = defaultdict(list)
    waiting: dict[int, list[float]] = defaultdict(list)
    parts = PartNeed.objects.filter(
        ordered_on__isnull=False, ordered_on__gte=since, promised_on__isnull=False, supplier__isnull=False
    )
    today = rows.now.date()
    for supplier, ordered, promised, received, state in parts.values_list(
        "supplier_id", "ordered_on", "promised_on", "received_on", "state"
    ):
        if not (ordered and promised and supplier and (promised - ordered).days > 0):
            continue
        span = (promised - ordered).days
        if received:
            seen[supplier].append(max((received - ordered).days, 0.5) / span)
        elif state in AWAITED and ordered < today:
            waiting[supplier].append((today - ordered).days / span)
    found, ratios = [], {}
    for pk, name in Supplier.objects.values_list("pk", "name"):
        came, late = seen[pk], [passed for passed in waiting[pk] if passed > 1]
        ratios[pk] = lead_ratios(came, waiting=late)
        rests = "no delivery on record yet"
        if came or late:
            rests = f"{len(came)} {'delivery' if len(came) == 1 else 'deliveries'}"
            rests += f", {len(late)} overdue" if late else ""
        found.append(
            Figure(
                kind=LearntKind.PROMISES,
                key=str(pk),
                label=name,
                default=LATE,
                learnt=sum(ratio * chance for ratio, chance in ratios[pk]),
                cases=len(came) + len(late),
                rests_on=rests,
            )
        )
    return found, ratios


def scaled(hours: Sequence[Decimal | None], factor: float) -> tuple[float, ...]:
    """Hours of an estimate times the learnt factor."""
    return tuple(float(h or 0) * factor for h in hours)
