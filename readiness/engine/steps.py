"""From job cards to a network of steps.

A card becomes: gate (needs, parts, holds) -> main -> [extra] -> [close] -> cure -> functional -> road -> sign.
Opening, work, found extra and closing are one step of one crew unless a found part may come between, or the
card shares its opening with a group: then group opening -> each card's main -> group closing -> tests.
A step is done by hands (it has a crew) or passes by itself (gate, outside visit, done).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from graphlib import CycleError, TopologicalSorter
from typing import NamedTuple

from readiness.engine.params import MAX_CREW
from readiness.engine.sampling import group_access
from readiness.engine.workshop import Hand, Work, Workshop, WorkshopError

TESTS = ("functional", "road", "sign")
STAGES = ("gate", "open", "visit", "main", "extra", "close", *TESTS, "done")


class Key(NamedTuple):
    """Name of a step: its owner (card, or ``"group "`` + name) and its stage."""

    owner: str
    stage: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Crew:
    """Who may do a step: one leader of ``lead``, the others of ``help``; hands by uid in order of choice."""

    persons: int
    lead: tuple[str, ...]
    help: tuple[str, ...]


@dataclass(slots=True, kw_only=True)
class Step:
    """One step; ``needs`` must all be done before it (any one of them if ``any_of``).

    ``soft`` needs bind only where that step gets done at all. ``takes`` and ``frees`` name held places and
    tools as (holder, resource); ``guards`` are signed cards that the crew may then not sign; ``cures`` hours
    pass after the needs before the step is ready. ``goes_on`` names who is in the middle of it.
    """

    key: Key
    work: Work
    needs: list[Key] = field(default_factory=list)
    soft: list[Key] = field(default_factory=list)
    any_of: bool = False
    hours: tuple[Key, ...] = ()
    crew: Crew | None = None
    takes: list[tuple[str, str]] = field(default_factory=list)
    frees: list[tuple[str, str]] = field(default_factory=list)
    guards: tuple[str, ...] = ()
    signs: str | None = None
    cures: float = 0.0
    goes_on: tuple[str, ...] = ()

    @property
    def order(self) -> tuple[float, str, int]:
        """Priority: rank of the card, its name, stage."""
        return self.work.rank, self.work.uid, STAGES.index(self.key.stage)


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """All steps in an order in which needs come first, the last step of each card, and what cannot be."""

    steps: tuple[Step, ...]
    final: dict[str, Key]
    impossible: dict[str, str]


def check(workshop: Workshop) -> None:
    """Refuses a workshop that names what does not exist.

    Raises:
        WorkshopError: with every problem found.
    """
    problems: list[str] = []
    for kind, rows in (
        ("hand", workshop.hands),
        ("place", workshop.places),
        ("tool", workshop.tools),
        ("part", workshop.deliveries),
        ("work", workshop.works),
        ("goal", workshop.goals),
    ):
        uids = [row.uid for row in rows]
        problems += [f"{kind} {uid} is given twice" for uid in sorted({u for u in uids if uids.count(u) > 1})]
    works = {work.uid for work in workshop.works}
    places = {place.uid for place in workshop.places}
    tools = {tool.uid for tool in workshop.tools}
    parts = {part.uid for part in workshop.deliveries}
    for work in workshop.works:
        named = [("work", u, works) for u in (*work.after, *work.after_if_done)]
        named += [("place", work.place, places)] if work.place else []
        named += [("tool", u, tools) for u in work.tools] + [("part", u, parts) for u in work.parts]
        problems += [
            f"{work.label} names {kind} {u}, which does not exist" for kind, u, all_ in named if u not in all_
        ]
        if max(work.crew, work.road_persons) > MAX_CREW:
            problems.append(f"{work.label} asks for more than {MAX_CREW} people at once")
    for goal in workshop.goals:
        problems += [
            f"{goal.label} needs work {u}, which does not exist" for u in goal.needs if u not in works
        ]
    vehicles: dict[str, set[str]] = {}
    for work in workshop.works:
        if work.group is not None:
            vehicles.setdefault(work.group, set()).add(work.vehicle)
    problems += [
        f"group {g} joins jobs of different vehicles" for g, v in sorted(vehicles.items()) if len(v) > 1
    ]
    if problems:
        raise WorkshopError(problems)


class _Builder:
    """Collects the steps of all booked cards."""

    def __init__(self, workshop: Workshop) -> None:
        self.hands = sorted(workshop.hands, key=lambda h: (len(h.skills), h.uid))
        self.now = workshop.now
        self.works = sorted((w for w in workshop.works if w.booked), key=lambda w: (w.rank, w.uid))
        self.booked = {work.uid: work for work in self.works}
        self.steps: dict[Key, Step] = {}
        self.final: dict[str, Key] = {}
        self.inner: dict[str, Key] = {}
        self.impossible: dict[str, str] = {}
        members: dict[str, list[Work]] = {}
        for work in self.works:
            if work.group is not None:
                members.setdefault(work.group, []).append(work)
        # A group without an opening shares nothing.
        self.groups = {name: rows for name, rows in members.items() if group_access(rows)[0] is not None}

    def build(self) -> Network:
        for work in self.works:
            self.add(Step(key=Key(work.uid, "gate"), work=work))
        for name, members in self.groups.items():
            self.open_group(name, members)
        for work in self.works:
            self.card(work)
        for name, members in self.groups.items():
            owner = f"group {name}"
            inner = [self.inner[w.uid] for w in members]
            self.steps[Key(owner, "close")].needs = [Key(owner, "open"), *inner]
        for work in self.works:
            self.link(work)
        return self.sort()

    def add(self, step: Step) -> Key:
        self.steps[step.key] = step
        if step.crew is not None:
            self.feasible(step)
        return step.key

    def shared(self, work: Work) -> str | None:
        return work.group if work.group in self.groups else None

    def open_group(self, name: str, members: list[Work]) -> None:
        owner = f"group {name}"
        opening, closing = group_access(members)
        first = members[0]
        guards = tuple(w.uid for w in members if w.second_signature is not None)
        places = sorted({w.place for w in members if w.place is not None})
        held = [(owner, place) for place in places]
        lead = opening or first
        step = Step(key=Key(owner, "open"), work=first, any_of=True, hours=(Key(owner, "open"),), takes=held)
        step.needs = [Key(w.uid, "gate") for w in members]
        step.crew, step.guards = self.crew(lead, lead.crew, guards), guards
        self.add(step)
        step = Step(key=Key(owner, "close"), work=first, frees=held)
        if closing is not None:
            step.hours, step.guards = (Key(owner, "close"),), guards
            step.crew = self.crew(closing, closing.crew, guards)
        self.add(step)

    def card(self, work: Work) -> None:
        """The chain of one card."""
        group = self.shared(work)
        last = Key(work.uid, "gate")
        if work.fixed is not None:
            last = self.add(Step(key=Key(work.uid, "visit"), work=work, needs=[last]))
            if work.fixed < self.now:
                self.impossible[work.uid] = f"{work.label}: the day of the visit is past"
        else:
            last = self.bench(work, last, group)
        self.inner[work.uid] = last
        if group is not None:
            last = Key(f"group {group}", "close")
        cure = work.cure_hours
        for stage, asked in zip(
            TESTS, (work.functional_hours > 0, work.road_hours > 0, bool(work.second_signature)), strict=True
        ):
            if asked:
                last = self.test(work, stage, last, cure)
                cure = 0.0
        if cure > 0:
            last = self.add(Step(key=Key(work.uid, "done"), work=work, needs=[last], cures=cure))
        self.final[work.uid] = last

    def bench(self, work: Work, last: Key, group: str | None) -> Key:
        """The steps at the bench; places and tools are held from the first to the last of them."""
        guards = (work.uid,) if work.second_signature is not None else ()
        uid, found = work.uid, work.discovery
        stages: list[tuple[str, list[str]]] = [("main", [] if group else ["open"])]
        stages[0][1].append("main")
        if found is not None:
            if found.part is None:
                stages[0][1].append("extra")
            else:
                stages.append(("extra", ["extra"]))
        if group is None and work.close_hours is not None:
            if len(stages) == 1:
                stages[0][1].append("close")
            else:
                stages.append(("close", ["close"]))
        if (
            work.estimate is None
            and not (group is None and (work.open_hours or work.close_hours))
            and found is None
        ):
            return last
        made: list[Step] = []
        for stage, parts in stages:
            step = Step(key=Key(uid, stage), work=work, needs=[last], hours=tuple(Key(uid, p) for p in parts))
            step.crew, step.guards = self.kept(work, self.crew(work, work.crew, guards)), guards
            last = self.add(step)
            made.append(step)
        if group is not None:
            made[0].needs.append(Key(f"group {group}", "open"))
        here, first = self.holders(work), made[0].crew
        if first is not None and len(here) >= first.persons:
            made[0].goes_on = here[: first.persons]
        held = [(uid, tool) for tool in sorted(set(work.tools))]
        if group is None and work.place is not None:
            held.insert(0, (uid, work.place))
        made[0].takes, made[-1].frees = held, list(held)
        return last

    def test(self, work: Work, stage: str, last: Key, cure: float) -> Key:
        step = Step(
            key=Key(work.uid, stage), work=work, needs=[last], hours=(Key(work.uid, stage),), cures=cure
        )
        if stage == "sign":
            signers = tuple(h.uid for h in self.hands if h.uid in self.signers(work))
            step.crew, step.signs = Crew(persons=1, lead=signers, help=signers), work.uid
        else:
            persons = work.road_persons if stage == "road" else (2 if work.two_person else 1)
            step.crew = self.crew(work, persons, ())
        return self.add(step)

    def signers(self, work: Work) -> set[str]:
        """Who may give the second signature, as far as is known before the play."""
        area = work.second_signature
        return {h.uid for h in self.hands if area in h.signs and not h.trainee and h.uid not in work.doers}

    def holders(self, work: Work) -> tuple[str, ...]:
        """Who has begun it and means to be in again."""
        coming = {h.uid for h in self.hands if any(day.end > self.now for day in h.days)}
        return tuple(uid for uid in work.kept_by if uid in coming)

    def kept(self, work: Work, crew: Crew) -> Crew:
        """The crew of work that has been begun: those who have it, and others only as far as they are too few."""
        here = self.holders(work)
        if not here:
            return crew
        more = () if len(here) >= crew.persons else tuple(uid for uid in crew.help if uid not in here)
        return Crew(persons=crew.persons, lead=(here[0],), help=(*here, *more))

    def crew(self, work: Work, persons: int, guards: tuple[str, ...]) -> Crew:
        """Who may do it, in order of choice: those with fewest skills first, trainees first as helpers."""
        skilled = [h for h in self.hands if not work.skills or h.skills & work.skills]
        areas = {self.booked[uid].second_signature for uid in guards}

        def late(hand: Hand) -> bool:
            return bool(areas & hand.signs)

        lead = sorted((h for h in skilled if not h.trainee), key=lambda h: (h.uid != work.prefers, late(h)))
        pool = self.hands if work.helper_any else skilled
        helpers = sorted(pool, key=lambda h: (late(h), not h.trainee))
        return Crew(persons=persons, lead=tuple(h.uid for h in lead), help=tuple(h.uid for h in helpers))

    def feasible(self, step: Step) -> None:
        """Notes why a step can never be done by the people there are."""
        crew, label = step.crew, step.work.label
        assert crew is not None
        reason = ""
        anyone = set(crew.lead) | set(crew.help)
        if step.signs is not None and not crew.lead:
            reason = f"{label}: nobody may give the second signature for {step.work.second_signature}"
        elif not crew.lead:
            reason = f"{label}: nobody here has the skill ({', '.join(sorted(step.work.skills)) or 'any'})"
        elif len(anyone) < crew.persons:
            reason = f"{label}: needs {crew.persons} people, only {len(anyone)} can help"
        for uid in step.guards:
            signers = self.signers(self.booked[uid])
            spare = len(anyone - signers) + min(max(len(signers) - 1, 0), len(anyone & signers))
            if (
                not reason
                and signers
                and (spare < crew.persons or (len(signers) == 1 and set(crew.lead) <= signers))
            ):
                reason = f"{label}: the only person who may sign is needed to do the work"
        if reason:
            owners = (
                [w.uid for w in self.groups[step.key.owner.removeprefix("group ")]]
                if (step.key.owner.startswith("group "))
                else [step.work.uid]
            )
            for uid in owners:
                self.impossible.setdefault(uid, reason)

    def link(self, work: Work) -> None:
        """Needs between cards; within one group they bind the work itself, not the opening."""
        group = self.shared(work)
        for uids, soft in ((work.after, False), (work.after_if_done, True)):
            for uid in sorted(set(uids)):
                other = self.booked.get(uid)
                if other is None:
                    continue
                same = (
                    group is not None and self.shared(other) == group and Key(work.uid, "main") in self.steps
                )
                step = self.steps[Key(work.uid, "main" if same else "gate")]
                (step.soft if soft else step.needs).append(self.inner[uid] if same else self.final[uid])

    def sort(self) -> Network:
        graph = {key: [*step.needs, *step.soft] for key, step in self.steps.items()}
        try:
            order = list(TopologicalSorter(graph).static_order())
        except CycleError as error:
            ring = list(dict.fromkeys(self.steps[key].work.label for key in error.args[1]))
            raise WorkshopError([f"These jobs wait for each other: {', '.join(sorted(ring))}"]) from None
        return Network(
            steps=tuple(self.steps[key] for key in order), final=self.final, impossible=self.impossible
        )


def network_of(workshop: Workshop) -> Network:
    """The steps of all booked cards.

    Raises:
        WorkshopError: an unknown name, or jobs that wait for each other, by name.
    """
    check(workshop)
    return _Builder(workshop).build()
