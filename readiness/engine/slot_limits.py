"""A limit in force against a slot: compared by machine where it can be, by a person's tick where it is in words.

Equal passes (*common practice*). A slot that ends exactly at sunset is in daylight; one that starts before sunrise is
not. A limit per day fails the slot that passes the day's total and every later slot of that day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from readiness.engine.state import ZERO, Entry, Limit, Slot, use_of

STANDING_ROLES = frozenset({"static", "running"})
IN_WORDS = frozenset({"free text", "equipment locked"})
IDLE_KINDS = frozenset({"static only", "equipment locked"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """`state`: "obeyed", "forbids", "untold" (light or driver not known) or "untick"; `words` say why."""

    state: str
    words: str = ""


def _minutes(entry: Entry, slot: Slot) -> Decimal:
    return use_of(entry, slot).hours * 60


def _km(entry: Entry, slot: Slot) -> Decimal:
    return use_of(entry, slot).km


def _light(slot: Slot) -> Compared:
    if slot.role == "static":
        return Compared(state="obeyed")
    if slot.sunrise is None or slot.sunset is None:
        return Compared(state="untold", words="the hours of daylight are not written for that day")
    if (
        slot.ends.date() != slot.starts.date()
        or slot.ends.time() > slot.sunset
        or slot.starts.time() < slot.sunrise
    ):
        return Compared(
            state="forbids",
            words=f"the slot runs {slot.starts:%H:%M} to {slot.ends:%H:%M}, daylight is {slot.sunrise:%H:%M} to {slot.sunset:%H:%M}",
        )
    return Compared(state="obeyed")


def _role(limit: Limit, slot: Slot) -> Compared:
    role = slot.role
    forbidden = {
        "static only": role != "static",
        "arena only": role not in {"static", "running", "arena"},
        "no arena": role == "arena",
        "no road": role in {"road", "rides"},
        "no passengers": role == "rides",
    }[limit.kind]
    if forbidden:
        return Compared(state="forbids", words=f"{limit.words}, and the slot is {role}")
    return Compared(state="obeyed")


def _amount(limit: Limit, entry: Entry, slot: Slot, same_day: Sequence[tuple[Entry, Slot]]) -> Compared:
    if limit.value is None:
        return Compared(state="untold", words="the limit has no figure")
    if limit.kind == "max speed":
        asked = slot.speed_kmh if slot.role not in STANDING_ROLES else None
        if asked is not None and asked > limit.value:
            return Compared(state="forbids", words=f"the slot asks for {asked.normalize():f} km/h")
        return Compared(state="obeyed")
    measure, unit = (_minutes, "min") if limit.kind.startswith("minutes") else (_km, "km")
    if limit.kind.endswith("outing"):
        wanted, period = measure(entry, slot), "in the slot"
    else:
        so_far = [measure(e, s) for e, s in same_day if s.starts < slot.starts]
        wanted, period = sum(so_far, ZERO) + measure(entry, slot), "that day by its end"
    if wanted > limit.value:
        return Compared(
            state="forbids",
            words=f"{wanted.normalize():f} {unit} {period}, {limit.value.normalize():f} allowed",
        )
    return Compared(state="obeyed")


def compare(
    limit: Limit, entry: Entry, slot: Slot, *, same_day: Sequence[tuple[Entry, Slot]] = ()
) -> Compared:
    """Compare one limit with one slot.

    Args:
        limit: the limit in force.
        entry: the vehicle's entry; a standby brings its own ticks and crew.
        slot: the slot judged, which for a standby is the one that it covers.
        same_day: the vehicle's running slots of that day, as (entry, slot), for limits per day.

    Returns:
        Whether it is obeyed, forbids the slot, cannot be told, or waits for a person's tick.
    """
    if limit.kind in IN_WORDS:
        return (
            Compared(state="obeyed")
            if limit.uid in entry.ticks
            else Compared(state="untick", words=limit.words)
        )
    if limit.kind == "daylight only":
        return _light(slot)
    if limit.kind == "named driver":
        drivers = [d for d in entry.crew if d.duty == "driver"]
        if not drivers or slot.role == "static":
            return Compared(state="obeyed")  # nobody drives yet: that is said of the crew
        if any(d.person != limit.driver for d in drivers):
            return Compared(state="forbids", words="another driver is entered")
        return Compared(state="obeyed")
    if limit.kind in {"static only", "arena only", "no arena", "no road", "no passengers"}:
        return _role(limit, slot)
    return _amount(limit, entry, slot, same_day)
