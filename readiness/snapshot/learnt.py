"""What the museum's own record has taught: turn-up, hours against estimates, finds on opening, suppliers' promises.

Each figure starts at the museum's default and moves by what is on record, shrunk (readiness/engine/learning.py); a person
may overrule it. Without history every figure is its default, and is said to be. Five queries, whatever the record holds.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Exists, OuterRef, Sum

from fleet.enums import Engagement
from fleet.models import SignIn
from maintenance.enums import CardState
from maintenance.models import Defect, JobCard, PartNeed
from readiness.engine.estimates import Pert
from readiness.engine.learning import LEAD_RATIOS, Chance, Spent, habit, lead_ratios
from readiness.models import LearntKind, Overrule
from readiness.snapshot.rows import Rows

LOOK_BACK_DAYS = 3 * 365
Ratios = tuple[tuple[float, float], ...]


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
    deliveries: dict[int, int] = field(default_factory=dict)

    @property
    def has_history(self) -> bool:
        return any(f.cases for f in self.figures.values()) or bool(self.deliveries)

    def turn_up(self, person: str, default: float) -> float:
        return self._used(LearntKind.TURN_UP, person, default)

    def hours(self, person: str, system: str, kind: str) -> float:
        """Factor on a job's estimate."""
        return self._used(LearntKind.HOURS, hours_key(person, system, kind), 1.0)

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
    figures = [*_turn_up(rows, since), *_hours(rows, since), *_discovery(rows, since)]
    ratios, deliveries = _leads(since)
    kept = {
        (f.kind, f.key): Figure(
            kind=f.kind, key=f.key, label=f.label, default=f.default, learnt=f.learnt, cases=f.cases, rests_on=f.rests_on,
            set_by_hand=by_hand.get((f.kind, f.key)),
        )
        for f in figures
    }  # fmt: skip
    return Learnt(figures=kept, ratios=ratios, deliveries=deliveries)


def _turn_up(rows: Rows, since: dt.date) -> list[Figure]:
    came: dict[int, Counter[bool]] = defaultdict(Counter)
    for person, there in SignIn.objects.filter(day__gte=since).values_list("person_id", "came"):
        came[person][there] += 1
    found = []
    for p in rows.people:
        if not p.is_active:
            continue
        default = float(
            rows.museum.turn_up_staff if p.engagement == Engagement.STAFF else rows.museum.turn_up_volunteer
        )
        yes, no = came[p.pk][True], came[p.pk][False]
        mean = Chance.before(default).update(yes, no).mean if yes + no else default
        rests = f"came on {yes} of {yes + no} work days" if yes + no else "no sign-in on record yet"
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


def _mean_hours(card: JobCard) -> float | None:
    if card.hours_usual is None:
        return None
    if card.hours_best is None or card.hours_bad is None:
        return float(card.hours_usual) or None
    return Pert(float(card.hours_best), float(card.hours_usual), float(card.hours_bad)).mean or None


def _hours(rows: Rows, since: dt.date) -> list[Figure]:
    ended = JobCard.objects.filter(state=CardState.PASSED, ended_at__date__gte=since)
    running = JobCard.objects.filter(state__in=[CardState.IN_HAND, CardState.HELD])
    cards = (ended | running).filter(taken_by__isnull=False, subsystem__isnull=False)
    groups: dict[tuple[str, str, str], list[Spent]] = defaultdict(list)
    names: dict[str, str] = {}
    for card in (
        cards.select_related("taken_by", "subsystem").annotate(spent=Sum("hours__hours")).order_by("pk")
    ):
        mean = _mean_hours(card)
        if mean is None or not card.spent or card.taken_by is None or card.subsystem is None:
            continue
        names[card.taken_by.code] = card.taken_by.name
        key = (card.taken_by.code, card.subsystem.group, card.kind)
        actual = float(card.spent) / card.persons
        groups[key].append(Spent(estimate=mean, actual=actual, open=card.state != CardState.PASSED))
    found = []
    for (person, system, kind), jobs in sorted(groups.items()):
        how = habit(jobs)
        open_words = f", {how.unfinished} still open" if how.unfinished else ""
        found.append(
            Figure(
                kind=LearntKind.HOURS, key=hours_key(person, system, kind), label=f"{names[person]}, {system}, {kind}", default=1.0,
                learnt=math.exp(how.log_factor), cases=len(jobs), rests_on=f"{how.finished} closed jobs{open_words}",
            )
        )  # fmt: skip
    return found


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


def _leads(since: dt.date) -> tuple[dict[int, Ratios], dict[int, int]]:
    seen: dict[int, list[float]] = defaultdict(list)
    rows = PartNeed.objects.filter(
        received_on__gte=since, ordered_on__isnull=False, promised_on__isnull=False, supplier__isnull=False
    )
    for supplier, ordered, promised, received in rows.values_list(
        "supplier_id", "ordered_on", "promised_on", "received_on"
    ):
        if ordered and promised and received and supplier and (promised - ordered).days > 0:
            seen[supplier].append(max((received - ordered).days, 0.5) / (promised - ordered).days)
    return {s: lead_ratios(r) for s, r in seen.items()}, {s: len(r) for s, r in seen.items()}


def scaled(hours: Sequence[Decimal | None], factor: float) -> tuple[float, ...]:
    """Hours of an estimate times the learnt factor."""
    return tuple(float(h or 0) * factor for h in hours)
