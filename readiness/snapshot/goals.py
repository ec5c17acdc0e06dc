"""What must be clear by when: opened work by the freeze, tests and signatures by the slot."""

from __future__ import annotations

from collections.abc import Mapping

from readiness.engine.gates import Verdict
from readiness.engine.state import Entry, Event, Museum
from readiness.engine.workshop import Goal
from readiness.snapshot.museum import Names
from readiness.snapshot.rows import Rows


def goals_of(
    museum: Museum,
    verdicts: Mapping[str, tuple[Event, Entry, Verdict]],
    rows: Rows,
    names: Names,
    kept: set[str],
) -> tuple[tuple[Goal, ...], dict[str, tuple[str, ...]]]:
    """The goals of all entries whose gates are open, and per entry the goals that together clear it."""
    refit = {names.job[c.pk] for c in rows.cards if c.refit_at is not None}
    goals: list[Goal] = []
    by_entry: dict[str, tuple[str, ...]] = {}
    for uid, (event, entry, verdict) in sorted(verdicts.items()):
        if verdict.standing != "open" or verdict.impossible:
            continue
        signing = {
            n
            for n in verdict.needs
            if n in refit or (n.startswith("inspection:") and museum.now > event.freeze)
        }
        opened = set(verdict.needs) - signing
        mine = []
        for tail, needs, deadline in (
            ("work", opened, min(event.freeze, entry.slot.starts)),
            ("sign", signing, entry.slot.starts),
        ):
            if needs:
                missing = not needs <= kept
                goals.append(
                    Goal(
                        uid=f"{uid}|{tail}",
                        vehicle=entry.vehicle,
                        label=uid,
                        needs=tuple(sorted(needs & kept)),
                        deadline=deadline,
                        impossible=missing,
                    )
                )
                mine.append(f"{uid}|{tail}")
        by_entry[uid] = tuple(mine)
    return tuple(goals), by_entry
