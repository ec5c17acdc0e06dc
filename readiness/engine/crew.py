"""People in slots: present, current, qualified, not in two places. Said of the slot; never alters a standing.

Two duties of one person clash when less than the change-over lies between them (exactly the change-over is enough);
a person on two duties in the same slot leaves the slot short as well. Slots are judged by their starting day.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta

from readiness.engine.reasons import Code, day_words
from readiness.engine.state import CrewDuty, Entry, Event, Museum, Person, Slot

SHORT, CLASH = "crew short", "time clash"


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """Something said of a slot. `entry` is empty when it concerns the whole slot."""

    flag: str
    code: Code
    slot: str
    entry: str = ""
    person: str = ""
    words: str = ""
    act: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    slot: Slot
    entry: Entry | None
    held: CrewDuty


def duties_of(events: Iterable[Event]) -> list[Duty]:
    """Every duty in every slot of these events, in a fixed order."""
    found = []
    for event in events:
        for slot in event.slots:
            found += [Duty(slot=slot, entry=None, held=d) for d in slot.crew]
        for entry in event.entries:
            found += [Duty(slot=entry.slot, entry=entry, held=d) for d in entry.crew]
    return sorted(
        found,
        key=lambda d: (d.slot.starts, d.slot.uid, d.entry.uid if d.entry else "", d.held.duty, d.held.person),
    )


def judge_crew(museum: Museum, event: Event) -> tuple[Flag, ...]:
    """All flags of one event's slots; duties at the museum's other events count for clashes."""
    flags: list[Flag] = []
    for entry in event.entries:
        flags += _entry_flags(museum, entry)
    for slot in event.slots:
        flags += _slot_flags(museum, event, slot)
    flags += _clashes(museum, event)
    flags += _vehicle_clashes(museum, event)
    unique = dict.fromkeys(flags)
    return tuple(sorted(unique, key=lambda f: (f.slot, f.entry, f.flag, f.code, f.person, f.words)))


def _entry_flags(museum: Museum, entry: Entry) -> list[Flag]:
    role = entry.slot.role
    rules = museum.rules
    vehicle = museum.vehicles[entry.vehicle]
    drivers = [d for d in entry.crew if d.duty == "driver"]
    flags: list[Flag] = []
    if rules.demand(role, "crew", "driver") == "!" and not drivers:
        flags.append(_short(entry, Code.CREW_MISSING, words="no driver entered", act=_suggest(museum, entry)))
    for duty in drivers:
        flags += _driver(museum, entry, duty)
    if role == "arena" and vehicle.tracked and not any(d.duty == "commander" for d in entry.crew):
        flags.append(
            _short(
                entry, Code.CREW_MISSING, words="tracked, and no commander entered", act="enter a commander"
            )
        )
    for duty in entry.crew:
        if duty.duty == "driver" or not duty.person:
            continue
        flags += _other(museum, entry, duty)
    return flags


def _short(entry: Entry, code: Code, *, words: str, person: str = "", act: str = "") -> Flag:
    return Flag(
        flag=SHORT, code=code, slot=entry.slot.uid, entry=entry.uid, person=person, words=words, act=act
    )


def _driver(museum: Museum, entry: Entry, duty: CrewDuty) -> list[Flag]:
    if not duty.person:
        return []  # a borrowed driver's papers are checked by who borrows
    person, day = museum.people[duty.person], entry.slot.day
    if day in person.away:
        return [
            _short(
                entry,
                Code.CREW_AWAY,
                words=f"{person.name} is away {day_words(day)}",
                person=person.uid,
                act=_suggest(museum, entry),
            )
        ]
    flags = []
    if not person.can("drive", day, vehicle=entry.vehicle):
        ended = person.end_of("drive", vehicle=entry.vehicle)
        words = f"{person.name} is not current on it" + (f" (ended {day_words(ended)})" if ended else "")
        flags.append(
            _short(entry, Code.CREW_NOT_CURRENT, words=words, person=person.uid, act=_suggest(museum, entry))
        )
    if entry.slot.role == "rides" and not person.can("passenger", day):
        flags.append(
            _short(
                entry,
                Code.CREW_NOT_QUALIFIED,
                words=f"{person.name} is no passenger-service driver",
                person=person.uid,
            )
        )
    return flags


def _other(museum: Museum, entry: Entry, duty: CrewDuty) -> list[Flag]:
    person, day = museum.people[duty.person], entry.slot.day
    if day in person.away:
        return [
            _short(entry, Code.CREW_AWAY, words=f"{person.name} is away {day_words(day)}", person=person.uid)
        ]
    kind = {"commander": "command", "fireman": "fireman"}.get(duty.duty)
    if kind and not person.can(kind, day, vehicle=entry.vehicle if kind == "fireman" else ""):
        return [
            _short(
                entry,
                Code.CREW_NOT_QUALIFIED,
                words=f"{person.name} is not checked as {duty.duty}",
                person=person.uid,
            )
        ]
    return []


def _slot_flags(museum: Museum, event: Event, slot: Slot) -> list[Flag]:
    flags = []
    entries = [e for e in event.entries if e.slot.uid == slot.uid]
    if not entries:
        return []
    everyone = [*slot.crew, *(d for e in entries for d in e.crew)]
    for code, demand, count in museum.rules.asked(slot.role, "crew"):
        if code == "driver" or demand == "n":
            continue
        have = [d for d in everyone if d.duty == code]
        if len(have) < count:
            missing = count - len(have)
            flags.append(
                Flag(
                    flag=SHORT,
                    code=Code.CREW_MISSING,
                    slot=slot.uid,
                    words=f"{missing} {code} missing",
                    act=f"enter a {code}",
                )
            )
    for duty in slot.crew:
        if duty.person and slot.day in museum.people[duty.person].away:
            name = museum.people[duty.person].name
            flags.append(
                Flag(
                    flag=SHORT,
                    code=Code.CREW_AWAY,
                    slot=slot.uid,
                    person=duty.person,
                    words=f"{name} is away {day_words(slot.day)}",
                )
            )
    return flags


def _suggest(museum: Museum, entry: Entry) -> str:
    able = [p for p in _able(museum, entry) if _free(museum, p, entry)]
    return f"ask {', '.join(p.name for p in able)}" if able else "no other current driver is free"


def _able(museum: Museum, entry: Entry) -> list[Person]:
    day, taken = entry.slot.day, {d.person for d in entry.crew if d.duty == "driver"}
    return [
        p
        for p in sorted(museum.people.values(), key=lambda p: p.name)
        if p.uid not in taken
        and p.can("drive", day, vehicle=entry.vehicle)
        and day not in p.away
        and (entry.slot.role != "rides" or p.can("passenger", day))
    ]


def _free(museum: Museum, person: Person, entry: Entry) -> bool:
    return not any(
        d.held.person == person.uid and too_close(d.slot, entry.slot, museum.rules.change_over)
        for d in duties_of(museum.events)
    )


def _clash(one: Duty, other: Duty, change_over: timedelta) -> bool:
    """Staying with the same vehicle needs no change-over; everything else does."""
    same = one.entry is not None and other.entry is not None and one.entry.vehicle == other.entry.vehicle
    return too_close(one.slot, other.slot, timedelta() if same else change_over)


def too_close(one: Slot, other: Slot, change_over: timedelta) -> bool:
    """Whether a person cannot serve in both: less than the change-over lies between them."""
    return one.starts < other.ends + change_over and other.starts < one.ends + change_over


def _clashes(museum: Museum, event: Event) -> list[Flag]:
    mine = {slot.uid for slot in event.slots}
    by_person: dict[str, list[Duty]] = {}
    for duty in duties_of(museum.events):
        if duty.held.person:
            by_person.setdefault(duty.held.person, []).append(duty)
    flags: list[Flag] = []
    for person, duties in sorted(by_person.items()):
        for n, one in enumerate(duties):
            for other in duties[n + 1 :]:
                if _clash(one, other, museum.rules.change_over) and not _one_task(one, other):
                    flags += _told(museum, museum.people[person], one, other, mine) + _told(
                        museum, museum.people[person], other, one, mine
                    )
    return flags


def _one_task(one: Duty, other: Duty) -> bool:
    """The same vehicle in the same slot: a driver who is also crew of it is one person at one task."""
    return (
        one.slot.uid == other.slot.uid
        and one.entry is not None
        and other.entry is not None
        and one.entry.uid == other.entry.uid
        and one.held == other.held
    )


def _told(museum: Museum, person: Person, here: Duty, there: Duty, mine: set[str]) -> list[Flag]:
    if here.slot.uid not in mine:
        return []
    entry = here.entry
    same = here.slot.uid == there.slot.uid
    where = museum.vehicles[there.entry.vehicle].name if there.entry else there.slot.name
    words = f"{person.name} is also {there.held.duty} of {where}" + (
        "" if same else f" in {there.slot.code} {there.slot.starts:%H:%M}"
    )
    act = _suggest(museum, entry) if entry and here.held.duty == "driver" else ""
    common = {
        "slot": here.slot.uid,
        "entry": entry.uid if entry else "",
        "person": person.uid,
        "words": words,
        "act": act,
    }
    flags = [Flag(flag=CLASH, code=Code.CREW_CLASH, **common)]
    if same:
        flags.append(Flag(flag=SHORT, code=Code.CREW_TWICE, **common))
    return flags


def _vehicle_clashes(museum: Museum, event: Event) -> list[Flag]:
    """One vehicle in two overlapping slots; static line and engine running on the same stand go together."""
    flags = []
    by_vehicle: dict[str, list[Entry]] = {}
    for other_event in museum.events:
        for entry in other_event.entries:
            by_vehicle.setdefault(entry.vehicle, []).append(entry)
    mine = {slot.uid for slot in event.slots}
    for uid, entries in sorted(by_vehicle.items()):
        ordered = sorted(entries, key=lambda e: (e.slot.starts, e.slot.uid))
        for n, one in enumerate(ordered):
            for other in ordered[n + 1 :]:
                if not (one.slot.starts < other.slot.ends and other.slot.starts < one.slot.ends):
                    continue
                if {one.slot.role, other.slot.role} == {"static", "running"}:
                    continue
                for here, there in ((one, other), (other, one)):
                    if here.slot.uid in mine:
                        words = f"{museum.vehicles[uid].name} is also in {there.slot.code} {there.slot.starts:%H:%M}"
                        flags.append(
                            Flag(
                                flag=CLASH,
                                code=Code.VEHICLE_CLASH,
                                slot=here.slot.uid,
                                entry=here.uid,
                                words=words,
                            )
                        )
    return flags


__all__ = ["CLASH", "SHORT", "Flag", "judge_crew", "too_close"]
