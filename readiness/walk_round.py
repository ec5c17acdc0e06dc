"""What a checker looks at before an event, in the order of the walk round. Filtered by what the vehicle has.

*Common practice* of before-use checks; the vehicle's own manual goes before any line here. A museum's own readings
with limits are printed beside the line that they belong to.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

STEAM_OUT = frozenset({"STM"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One line of the checklist. Shown when the vehicle has all of `needs` and none of `without`."""

    text: str
    needs: frozenset[str] = frozenset()
    without: frozenset[str] = frozenset()
    blank: str = ""
    system: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    title: str
    looks: tuple[Look, ...]


def _look(text: str, needs: str = "", *, without: str = "", blank: str = "", system: str = "") -> Look:
    return Look(
        text=text,
        needs=frozenset(needs.split()),
        without=frozenset(without.split()),
        blank=blank,
        system=system,
    )


LEFT: tuple[Section, ...] = (
    Section(
        title="Walk round, front to offside",
        looks=(
            _look("Nothing dripping under engine, axles or tank"),
            _look("Tyres: cuts, cords, cold", "WHL", blank="bar", system="WHL"),
            _look("Wheel nuts tight, witness marks in line", "WHL", system="WHL"),
            _look("Tracks: pins, links, sag both sides alike", "TRK", blank="mm", system="TRK"),
            _look("Lamps, reflectors, number plates", "ELE"),
            _look("Body, doors, steps and rails firm", "BOD"),
            _look("Gear stowed, locked and pinned", "EQP"),
            _look("Crane, winch or ladder stowed, rope sound", "HYD"),
        ),
    ),
    Section(
        title="Under the bonnet, stopped",
        looks=(
            _look("Coolant at its level, cold", "COL", without="STM"),
            _look("Engine oil on the stick", "ENG", without="STM", blank="mm"),
            _look("Belts, hoses, caps, fuel lines dry", "ENG", without="STM"),
            _look("Battery fast, isolator works", "ELE", blank="V", system="ELE"),
            _look("Water in the glass, both feeds proved", "STM"),
            _look("Firebox, plug and mud-hole joints dry", "STM"),
        ),
    ),
    Section(
        title="Running, standing still",
        looks=(
            _look("Oil pressure warm, idle", "ENG", without="STM", blank="bar", system="ENG"),
            _look("Charging at fast idle", "ELE", without="STM"),
            _look("No new knock, smoke, smell or leak"),
            _look("Air or vacuum for the brakes builds and holds", "BRK"),
            _look("Carbon monoxide, crew space", "EXH", blank="ppm", system="EXH"),
            _look("Safety valve lifts, gauge agrees", "STM", blank="bar"),
        ),
    ),
)
RIGHT: tuple[Section, ...] = (
    Section(
        title="In the cab",
        looks=(
            _look("Limit plates in sight of the driver"),
            _look("Horn, wipers, mirrors, sight clear", "BOD"),
            _look("Extinguishers sealed, in date"),
            _look("Chocks, tools, spares, first-aid box aboard"),
            _look("Papers and driver's card aboard"),
            _look("Condition check before use, for the curator"),
        ),
    ),
    Section(
        title="Rolling, in the yard",
        looks=(
            _look("Foot brake pulls up straight at walking pace", "BRK", system="BRK"),
            _look("Parking brake holds on the ramp", "BRK"),
            _look("Steering free lock to lock", "STE", system="STE"),
            _look("Clutch and gears take up cleanly", "TRN"),
        ),
    ),
)


def sections(side: tuple[Section, ...], systems: Iterable[str]) -> list[Section]:
    """The sections of one side of the sheet for a vehicle with these first-level systems."""
    have = set(systems)
    found = []
    for section in side:
        looks = tuple(x for x in section.looks if x.needs <= have and not x.without & have)
        if looks:
            found.append(Section(title=section.title, looks=looks))
    return found
