"""A slow, plain second opinion on the forecast: one sample, one quarter hour, one job at a time.

It shares nothing with the engine but the drawn values and the description of the workshop. No tables, no
counters: who is there and what is ready is asked anew in every quarter hour.
"""

from __future__ import annotations

import math
from fractions import Fraction

from readiness.engine.calendar import Grid
from readiness.engine.sampling import Draws
from readiness.engine.workshop import Hand, Work, Workshop

STAGES = ("gate", "open", "visit", "main", "extra", "close", "functional", "road", "sign", "done")


class Oracle:
    def __init__(self, workshop: Workshop, draws: Draws, grid: Grid, sample: int) -> None:
        self.w, self.draws, self.grid, self.s = workshop, draws, grid, sample
        self.hands = {h.uid: h for h in workshop.hands}
        self.works = {w.uid: w for w in workshop.works if w.booked}
        self.all_works = {w.uid: w for w in workshop.works}
        self.ends: dict[tuple[str, str], int] = {}  # steps done by hands
        self.begun: set[tuple[str, str]] = set()
        self.busy: dict[str, int] = dict.fromkeys(self.hands, 0)
        self.doers: dict[str, set[str]] = {uid: set() for uid in self.works}
        self.groups: dict[str, list[Work]] = {}
        for w in sorted(self.works.values(), key=lambda w: (w.rank, w.uid)):
            if w.group is not None:
                self.groups.setdefault(w.group, []).append(w)
        self.groups = {g: m for g, m in self.groups.items() if any(x.open_hours for x in m)}
        # units of places and tools: free from edge, or None while held
        self.units: dict[str, list[int | None]] = {p.uid: [0] * p.capacity for p in workshop.places}
        for tool in workshop.tools:
            self.units[tool.uid] = [int(draws.back[tool.uid][sample])]
        self.held: dict[tuple[str, str], int] = {}
        self.done: list[tuple[Work, str, tuple[str, ...]]] = []  # work, stage and crew of what got finished
        self.ignores_holders = False  # a plan may give begun work to others

    # --- who is there -------------------------------------------------------------------------------------
    def sessions(self, uid: str) -> list[tuple[int, int, int, bool]]:
        rows = self.draws.sessions[uid]
        shown = self.draws.present[uid][:, self.s] if len(rows) else []
        return [(s.start, s.start + s.length, s.worked, bool(a)) for s, a in zip(rows, shown, strict=True)]

    def there(self, uid: str, t: int) -> bool:
        return any(a <= t < b and on for a, b, _, on in self.sessions(uid))

    def walk(self, crew: list[str], begin: int, slots: int) -> tuple[int, int]:
        """First slot worked and edge after the last of ``slots`` slots that all of the crew work."""
        left, first = slots, None
        rosters = [self.sessions(uid) for uid in crew]
        lowest = min([a for r in rosters for a, *_ in r], default=0)
        window: tuple[int, ...] | None = None
        members: list[int] = []
        runs: list[tuple[tuple[int, ...], list[int]]] = []
        for t in range(lowest, self.grid.slots + 400):
            here = [next((i for i, (a, b, *_) in enumerate(r) if a <= t < b), None) for r in rosters]
            now = None if None in here else tuple(here)
            if now != window or now is None:
                if window is not None and members:
                    runs.append((window, members))
                window, members = now, []
            if now is not None:
                members.append(t)
        if window is not None and members:
            runs.append((window, members))
        for key, span in runs:
            picked = [r[i] for r, i in zip(rosters, key, strict=True)]
            pace = min(Fraction(w, b - a) for a, b, w, _ in picked)
            worked = math.floor(len(span) * pace + Fraction(1, 2))
            for i, t in enumerate(span):
                works = (i + 1) * worked // len(span) > i * worked // len(span)
                if works and t >= begin and all(p[3] for p in picked):
                    first = t if first is None else first
                    left -= 1
                    if left == 0:
                        if t + 1 <= self.grid.slots:
                            return first, t + 1
                        return (first if first < self.grid.slots else self.grid.never), self.grid.never
        late = self.grid.never
        return (late if first is None or first >= self.grid.slots else first), late

    # --- the shape of a card ------------------------------------------------------------------------------
    def shared(self, w: Work) -> str | None:
        return w.group if w.group in self.groups else None

    def giver(self, group: str, part: str) -> Work | None:
        best = None
        for w in sorted(self.groups[group], key=lambda w: w.uid):
            e = w.open_hours if part == "open" else w.close_hours
            if e is not None and (best is None or e.usual > best[0]):
                best = (e.usual, w)
        return None if best is None else best[1]

    def chain(self, w: Work) -> list[str]:
        """Stages of a card in order, gate first; the group's close stands as 'GROUP'."""
        out = ["gate"]
        group = self.shared(w)
        if w.fixed is not None:
            out.append("visit")
        else:
            opened = group is None and (w.open_hours is not None or w.close_hours is not None)
            if w.estimate is not None or opened or w.discovery is not None:
                out.append("main")
                if w.discovery is not None and w.discovery.part is not None:
                    out.append("extra")
                    if group is None and w.close_hours is not None:
                        out.append("close")
        if group is not None:
            out.append("GROUP")
        if w.functional_hours > 0:
            out.append("functional")
        if w.road_hours > 0:
            out.append("road")
        if w.second_signature:
            out.append("sign")
        if w.cure_hours > 0 and out[-1] not in ("functional", "road", "sign"):
            out.append("done")
        return out

    def first_after_cure(self, w: Work) -> str | None:
        return next((s for s in self.chain(w) if s in ("functional", "road", "sign", "done")), None)

    def slots(self, owner: str, stage: str) -> int:
        def hours(part: str) -> float:
            got = self.draws.hours.get((owner, part))
            return 0.0 if got is None else float(got[self.s])

        if owner.startswith("group "):
            total = hours(stage)
        elif stage in ("main", "extra", "close"):
            w, chain = self.works[owner], self.chain(self.works[owner])
            found = w.discovery is not None and bool(self.draws.found[owner][self.s])
            total = 0.0
            if stage == "main":
                total = (hours("open") if self.shared(w) is None else 0.0) + hours("main")
                if "extra" not in chain and found:
                    total += hours("extra")
                if "close" not in chain and self.shared(w) is None:
                    total += hours("close")
            elif stage == "extra":
                if not found:
                    return 0
                total = hours("extra")
            else:
                total = hours("close")
        else:
            total = hours(stage)
        return int(min(max(round(total * 4), 1), self.grid.never))

    # --- what is done, what is ready ----------------------------------------------------------------------
    def final(self, w: Work) -> int | None:
        return self.done_at(w, self.chain(w)[-1])

    def inner_stage(self, w: Work) -> str:
        chain = self.chain(w)
        return [s for s in chain if s in ("gate", "visit", "main", "extra", "close")][-1]

    def done_at(self, w: Work, stage: str) -> int | None:
        """Edge at which a stage is known to be done, None while it is not."""
        if stage == "GROUP":
            group = self.shared(w)
            assert group is not None
            if self.giver(group, "close") is not None:
                return self.ends.get((f"group {group}", "close"))
            return self.group_ready(group)
        if stage in ("gate", "done"):
            return self.ready(w, stage)
        if stage == "visit":
            assert w.fixed is not None
            ready = self.ready(w, "visit")
            edge = self.grid.edge_at_or_after(w.fixed)
            past = w.fixed < self.w.now
            return None if ready is None or past or ready > edge or edge >= self.grid.never else edge
        if stage == "extra" and self.slots(w.uid, "extra") == 0:
            return self.ready(w, "extra")
        return self.ends.get((w.uid, stage))

    def group_ready(self, group: str) -> int | None:
        ends = [self.done_at(m, self.inner_stage(m)) for m in self.groups[group]]
        ends.append(self.ends.get((f"group {group}", "open")))
        return None if None in ends else max(ends)  # type: ignore[type-var]

    def ready(self, w: Work, stage: str) -> int | None:
        never = self.grid.never
        if stage == "gate":
            out = self.release(w)
            for other, soft in self.links(w):
                if self.same_group(w, other):
                    continue
                end = self.final(other)
                if end is None and soft and self.dead(other, self.chain(other)[-1]):
                    continue
                if end is None:
                    return None
                out = max(out, end)
            return None if out >= never else out
        chain = self.chain(w)
        before = chain[chain.index(stage) - 1]
        out_ = self.done_at(w, before)
        if out_ is None:
            return None
        out = out_
        if stage == "main" and self.shared(w) is not None:
            opened = self.ends.get((f"group {w.group}", "open"))
            if opened is None:
                return None
            out = max(out, opened)
        if stage == "main":
            for other, soft in self.links(w):
                if self.same_group(w, other):
                    end = self.done_at(other, self.inner_stage(other))
                    if end is None and soft and self.dead(other, self.inner_stage(other)):
                        continue
                    if end is None:
                        return None
                    out = max(out, end)
        if stage == "extra" and self.draws.found[w.uid][self.s]:
            out += int(self.draws.part_wait[w.uid][self.s])
        if stage == self.first_after_cure(w) and w.cure_hours > 0:
            out += math.ceil(w.cure_hours * 4)
        return None if out >= never else out

    def same_group(self, w: Work, other: Work) -> bool:
        return self.shared(w) is not None and self.shared(w) == self.shared(other) and "main" in self.chain(w)

    def links(self, w: Work) -> list[tuple[Work, bool]]:
        hard = [(self.works[u], False) for u in w.after if u in self.works]
        return hard + [(self.works[u], True) for u in w.after_if_done if u in self.works and u not in w.after]

    def release(self, w: Work) -> int:
        times = [0] + [int(self.draws.arrival[p][self.s]) for p in w.parts]
        times += [self.grid.edge_at_or_after(m) for m in (w.not_before, w.hold_until) if m is not None]
        times += [self.grid.never for u in w.after if not self.all_works[u].booked]
        return max(times)

    def dead(self, w: Work, stage: str) -> bool:
        """Whether it can be seen from the start that a stage will never be done."""
        never = self.grid.never
        if stage == "gate":
            return self.release(w) >= never or any(
                self.dead(o, self.chain(o)[-1])
                for o, soft in self.links(w)
                if not soft and not self.same_group(w, o)
            )
        if stage == "GROUP":
            group = self.shared(w)
            assert group is not None
            giver = self.giver(group, "close")
            if giver is not None and not self.leaders(giver, "close"):
                return True
            if self.dead_open(group):
                return True
            return any(self.dead(m, self.inner_stage(m)) for m in self.groups[group])
        chain = self.chain(w)
        if self.dead(w, chain[chain.index(stage) - 1]):
            return True
        if stage == "visit":
            return w.fixed is not None and w.fixed < self.w.now
        if stage == "done":
            return math.ceil(w.cure_hours * 4) >= never
        if not self.leaders(w, stage):
            return True
        if stage == self.first_after_cure(w) and math.ceil(w.cure_hours * 4) >= never:
            return True
        if stage == "extra":
            found = bool(self.draws.found[w.uid][self.s])
            return found and int(self.draws.part_wait[w.uid][self.s]) >= never
        if stage == "main":
            if any(
                self.dead(o, self.inner_stage(o))
                for o, soft in self.links(w)
                if not soft and self.same_group(w, o)
            ):
                return True
            group = self.shared(w)
            if group is not None and self.dead_open(group):
                return True
        return False

    def dead_open(self, group: str) -> bool:
        giver = self.giver(group, "open")
        assert giver is not None
        return not self.leaders(giver, "open") or all(self.dead(m, "gate") for m in self.groups[group])

    # --- crews --------------------------------------------------------------------------------------------
    def skilled(self, w: Work) -> list[Hand]:
        return [h for h in self.w.hands if not w.skills or h.skills & w.skills]

    def signers(self, w: Work) -> set[str]:
        return {
            h.uid
            for h in self.w.hands
            if w.second_signature in h.signs and not h.trainee and h.uid not in w.doers
        }

    def holders(self, w: Work, stage: str) -> list[str]:
        """Who goes on with the bench work of a card that was begun."""
        shared_close = stage == "close" and self.shared(w) is not None
        if self.ignores_holders or shared_close or stage not in ("main", "extra", "close"):
            return []
        coming = {
            h.uid for h in self.w.hands if max((d.end for d in h.days), default=self.w.now) > self.w.now
        }
        return [u for u in w.kept_by if u in coming]

    def leaders(self, w: Work, stage: str) -> set[str]:
        if stage == "sign":
            return self.signers(w)
        if self.holders(w, stage):
            return {self.holders(w, stage)[0]}
        return {h.uid for h in self.skilled(w) if not h.trainee}

    def persons(self, w: Work, stage: str) -> int:
        if stage == "sign":
            return 1
        if stage == "road":
            return w.road_persons
        if stage == "functional":
            return 2 if w.two_person else 1
        return max(w.persons, 2 if w.two_person else 1)

    def order(self, w: Work, stage: str, watched: list[Work]) -> tuple[list[str], list[str]]:
        base = sorted(self.w.hands, key=lambda h: (len(h.skills), h.uid))
        if stage == "sign":
            lead = [h.uid for h in base if h.uid in self.signers(w)]
            return lead, lead
        signers = (
            set().union(*[{h.uid for h in self.w.hands if x.second_signature in h.signs} for x in watched])
            if watched
            else set()
        )
        may = self.leaders(w, stage)
        lead = [h.uid for h in base if h.uid in may]
        lead = sorted(lead, key=lambda u: (u != w.prefers, u in signers))
        pool = base if w.helper_any else [h for h in base if h in self.skilled(w)]
        helpers = [h.uid for h in sorted(pool, key=lambda h: (h.uid in signers, not h.trainee))]
        holders = self.holders(w, stage)
        if len(holders) >= self.persons(w, stage):
            helpers = holders
        elif holders:
            helpers = holders + [u for u in helpers if u not in holders]
        return lead, helpers

    def choose(self, w: Work, stage: str, watched: list[Work], free: list[str]) -> list[str] | None:
        lead, helpers = self.order(w, stage, watched)
        crew: list[str] = []
        for k in range(self.persons(w, stage)):
            banned = set(crew)
            if stage == "sign":
                banned |= self.doers[w.uid]
            for x in watched:
                left = self.signers(x) - self.doers[x.uid] - set(crew)
                if len(left) == 1:
                    banned |= left
            choice = [u for u in (lead if k == 0 else helpers) if u in free and u not in banned]
            if not choice:
                return None
            crew.append(choice[0])
        return crew

    def stretched(self, slots: int, need: int, crew: list[str]) -> int:
        halves = min(2 * need, 2 * len(crew) - sum(self.hands[u].trainee for u in crew))
        return math.ceil(Fraction(slots * 2 * need, halves))

    # --- things held --------------------------------------------------------------------------------------
    def takes(self, w: Work, owner: str, stage: str) -> list[tuple[str, str]]:
        if owner.startswith("group "):
            if stage != "open":
                return []
            return [(owner, p) for p in sorted({m.place for m in self.groups[owner[6:]] if m.place})]
        if stage != "main":
            return []
        held = [(owner, t) for t in set(w.tools)]
        if self.shared(w) is None and w.place is not None:
            held.append((owner, w.place))
        return held

    def frees(self, w: Work, owner: str, stage: str) -> bool:
        if owner.startswith("group "):
            return stage == "close"
        return stage == self.inner_stage(w)

    def unit(self, thing: str, t: int) -> int | None:
        free = [(at, i) for i, at in enumerate(self.units[thing]) if at is not None and at <= t]
        return min(free)[1] if free else None

    def release_held(self) -> None:
        """Gives back what cards without further bench work hold (their last step may pass by itself)."""
        for (owner, thing), i in list(self.held.items()):
            if owner.startswith("group "):
                member = self.groups[owner[6:]][0]
                end = self.done_at(member, "GROUP")
            else:
                w = self.works[owner]
                end = self.done_at(w, self.inner_stage(w))
            if end is not None and end < self.grid.never:
                self.units[thing][i] = end
                del self.held[owner, thing]

    # --- dispatch -----------------------------------------------------------------------------------------
    def steps(self) -> list[tuple[Work, str, str]]:
        """(card that says who may do it, owner, stage) in order of priority."""
        rows = []
        for w in self.works.values():
            for stage in self.chain(w):
                if stage not in ("gate", "visit", "done", "GROUP"):
                    rows.append(((w.rank, w.uid, STAGES.index(stage)), (w, w.uid, stage)))
        for g, members in self.groups.items():
            for stage in ("open", "close"):
                giver = self.giver(g, stage)
                if giver is not None:
                    first = members[0]
                    rows.append(((first.rank, first.uid, STAGES.index(stage)), (giver, f"group {g}", stage)))
        return [row for _, row in sorted(rows, key=lambda r: r[0])]

    def watched(self, w: Work, owner: str, stage: str) -> list[Work]:
        if owner.startswith("group "):
            return [m for m in self.groups[owner[6:]] if m.second_signature]
        return [w] if stage in ("main", "extra", "close") and w.second_signature else []

    def step_ready(self, w: Work, owner: str, stage: str) -> int | None:
        if not owner.startswith("group "):
            return self.ready(w, stage)
        group = owner[6:]
        if stage == "close":
            return self.group_ready(group)
        gates = [e for m in self.groups[group] if (e := self.done_at(m, "gate")) is not None]
        return min(gates) if gates else None

    def dispatch(self) -> dict[str, int]:
        steps = self.steps()
        self.go_on(steps)
        for t in range(self.grid.slots):
            here = [u for u in self.hands if self.there(u, t)]
            if not here:
                continue
            for w, owner, stage in steps:
                if (owner, stage) in self.begun or (stage == "extra" and self.slots(owner, stage) == 0):
                    continue
                ready = self.step_ready(w, owner, stage)
                if ready is None or ready > t:
                    continue
                self.release_held()
                takes = self.takes(w, owner, stage)
                if any(self.unit(thing, t) is None for _, thing in takes):
                    continue
                free = [u for u in here if self.busy[u] <= t]
                crew = self.choose(w, stage, self.watched(w, owner, stage), free)
                if crew is not None:
                    slots = self.stretched(self.slots(owner, stage), self.persons(w, stage), crew)
                    self.do(w, owner, stage, crew, self.walk(crew, t, slots)[1], t)
        return self.result()

    def go_on(self, steps: list[tuple[Work, str, str]]) -> None:
        """Begun work keeps its people from the start, if it can be done by them at all."""
        for w, owner, stage in steps:
            crew = self.holders(w, stage)[: self.persons(w, stage)]
            if stage != "main" or owner.startswith("group ") or len(crew) < self.persons(w, stage):
                continue
            if self.step_ready(w, owner, stage) != 0 or any(self.busy[u] > 0 for u in crew):
                continue
            if any(self.unit(thing, 0) is None for _, thing in self.takes(w, owner, stage)):
                continue
            end = self.walk(crew, 0, self.stretched(self.slots(owner, stage), len(crew), crew))[1]
            if end < self.grid.never:
                self.do(w, owner, stage, crew, end, 0)

    def do(self, w: Work, owner: str, stage: str, crew: list[str], end: int, t: int) -> None:
        self.begun.add((owner, stage))
        for _, thing in self.takes(w, owner, stage):
            i = self.unit(thing, t)
            assert i is not None
            self.units[thing][i] = None
            self.held[owner, thing] = i
        for u in crew:
            self.busy[u] = end
            for x in self.watched(w, owner, stage):
                self.doers[x.uid].add(u)
        if end < self.grid.never:
            self.ends[owner, stage] = end
            self.done.append((w, stage, tuple(crew)))

    def result(self) -> dict[str, int]:
        out = {}
        for uid in self.all_works:
            end = self.final(self.works[uid]) if uid in self.works else None
            out[uid] = self.grid.never if end is None else min(end, self.grid.never)
        return out

    # --- plan ---------------------------------------------------------------------------------------------
    def plan(self, rows: list[tuple[str, tuple[str, ...], str, str | None]]) -> dict[str, int]:
        self.ignores_holders = True
        left: dict[str, int] = {}
        for uid, _, part, _ in rows:
            g = self.shared(self.works[uid])
            if g is not None and part != "tests":
                left[g] = left.get(g, 0) + 1
        opened: set[str] = set()
        for uid, hands, part, signer in rows:
            w = self.works[uid]
            g = self.shared(w)
            if part != "tests":
                if g is not None and g not in opened:
                    opened.add(g)
                    self.play(self.giver(g, "open"), f"group {g}", "open", list(hands))
                for stage in ("main", "extra", "close"):
                    if stage in self.chain(w) and not (stage == "extra" and self.slots(uid, "extra") == 0):
                        self.play(w, uid, stage, list(hands))
                if g is not None:
                    left[g] -= 1
                    if left[g] == 0 and self.giver(g, "close") is not None:
                        self.play(self.giver(g, "close"), f"group {g}", "close", list(hands))
            if part != "work":
                for stage in ("functional", "road", "sign"):
                    if stage in self.chain(w):
                        who = (
                            ([signer] if signer else [])
                            if stage == "sign"
                            else list(hands[: self.persons(w, stage)])
                        )
                        self.play(w, uid, stage, who)
        return self.result()

    def play(self, w: Work | None, owner: str, stage: str, crew: list[str]) -> None:
        assert w is not None
        ready = self.step_ready(w, owner, stage)
        if ready is None:
            return
        self.release_held()
        begin = ready
        for _, thing in self.takes(w, owner, stage):
            free = [at for at in self.units[thing] if at is not None]
            if not free:
                return
            begin = max(begin, min(free))
        if begin >= self.grid.never:
            return
        need = self.persons(w, stage)
        lead, helpers = self.order(w, stage, self.watched(w, owner, stage))
        while len(crew) < need:
            best = None
            for u in lead if not crew else helpers:
                if u in crew or (stage == "sign" and u in self.doers[w.uid]):
                    continue
                first = self.walk([u], max(begin, self.busy[u]), 1)[1]
                if first < self.grid.never and (best is None or first < best[0]):
                    best = (first, u)
            if best is None:
                return
            crew.append(best[1])
        begin = max([begin, *[self.busy[u] for u in crew]])
        slots = self.stretched(self.slots(owner, stage), need, crew)
        end = self.walk(crew, begin, slots)[1]
        self.do(w, owner, stage, crew, end, self.grid.never)
