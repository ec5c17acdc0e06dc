"""One vehicle in one slot, with all that a gate looks at."""

from __future__ import annotations

from dataclasses import dataclass

from readiness.engine.state import Entry, Event, Job, Museum, Slot, Use, Vehicle, use_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One vehicle in one slot, ready to be judged: what every gate needs to look at."""

    museum: Museum
    event: Event
    entry: Entry
    slot: Slot
    vehicle: Vehicle
    same_day: tuple[tuple[Entry, Slot], ...]
    taken_over: tuple[tuple[Entry, Slot], ...] = ()

    @property
    def role(self) -> str:
        return self.slot.role

    def asks(self, function: str) -> str:
        """What this slot asks of a function: `!`, `R`, `n` or `-`."""
        demand = self.museum.rules.demand(self.role, "function", function)
        if function == "STEAM" and not self.vehicle.steam:
            return "-"
        if function == "BREATHE" and self.role == "running" and not self.entry.crewed_inside:
            return "-"
        if function in self.slot.also_asks and demand in {"-", "n"}:
            return "R"
        return demand

    def gates_on(self, function: str) -> bool:
        """Whether a loss of this function can block the slot."""
        return self.asks(function) in {"!", "R"}

    def job(self, uid: str) -> Job | None:
        return next((j for j in self.vehicle.jobs if j.uid == uid), None)

    @property
    def extra_use(self) -> tuple[Use, ...]:
        """What a standby would add to its meters by taking over the slots that it covers."""
        return tuple(use_of(entry, slot) for entry, slot in self.taken_over)


def slots_judged(entry: Entry, event: Event) -> tuple[Slot, ...]:
    """The slots whose roles this entry is judged by: its own, or for a standby those it covers.

    A standby covers the slots of the vehicle it stands in for that overlap its own time.
    """
    if entry.slot.role != "standby":
        return (entry.slot,)
    return tuple(
        other.slot
        for other in sorted(event.entries, key=lambda e: (e.slot.starts, e.uid))
        if other.vehicle == entry.covers
        and other.slot.role != "standby"
        and other.slot.starts < entry.slot.ends
        and entry.slot.starts < other.slot.ends
    )
