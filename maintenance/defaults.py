"""What a job asks by itself, from the system that it is on; and what a repair makes void.

*Common practice* of workshops: anything that stops, steers or carries the vehicle is tried on the road and
looked at by a second authorised person.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from fleet.enums import Function, InspectArea
from maintenance.enums import CardKind, InspectionKind

if TYPE_CHECKING:
    from maintenance.models import Access, JobCard

ROAD_TESTED = frozenset({"BRK", "STE", "WHL", "TRK", "SUS"})
SECOND_AREAS: Mapping[str, str] = MappingProxyType(
    {"BRK": InspectArea.BRAKES.value, "STE": InspectArea.STEERING.value}
)
VOIDS: Mapping[str, str] = MappingProxyType(
    {
        Function.STOP.value: InspectionKind.BRAKE_READING.value,
        Function.HOLD.value: InspectionKind.BRAKE_READING.value,
        Function.STEER.value: InspectionKind.RUNNING_GEAR.value,
        Function.ROLL.value: InspectionKind.RUNNING_GEAR.value,
        Function.PULL.value: InspectionKind.LIFTING.value,
    }
)
"""Function repaired: kind of inspection that is void until repeated."""
LIFTING_SYSTEM = "HYD"
VOID_AREAS: Mapping[str, str] = MappingProxyType(
    {
        InspectionKind.BRAKE_READING.value: "brakes",
        InspectionKind.RUNNING_GEAR.value: "wheels, tracks or steering",
        InspectionKind.LIFTING.value: "lifting gear",
    }
)

WHEELS_OFF = "H11"
"""The caution of wheels: a way in that carries it takes wheels off."""
NUTS_AGAIN = "Wheel nuts and witness marks, after 40 to 80 km or 30 minutes standing"
NUTS_WITHIN_KM = 80
"""Wheel-security guidance: nuts are checked again after 30 minutes standing or 40 to 80 km."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CardDefaults:
    needs_functional_test: bool
    needs_road_test: bool
    second_area: str


def card_defaults(*, system: str, kind: str, lifts: bool = False) -> CardDefaults:
    """Tests and second signature of a new job. `system` is a code of either level, or empty."""
    group = system.split(".", 1)[0]
    if kind == CardKind.FABRIC:
        return CardDefaults(needs_functional_test=False, needs_road_test=False, second_area="")
    area = SECOND_AREAS.get(group, "")
    if group == LIFTING_SYSTEM and lifts:
        area = InspectArea.LIFTING.value
    return CardDefaults(needs_functional_test=True, needs_road_test=group in ROAD_TESTED, second_area=area)


def recheck_defaults(*, system: str, kind: str, access: Access | None) -> dict[str, Any]:
    """What a new job asks to be checked again after it has run: wheel nuts, wherever a wheel comes off."""
    wheels = system.split(".", 1)[0] == "WHL" or (access is not None and WHEELS_OFF in access.hazards)
    if kind == CardKind.FABRIC or not wheels:
        return {"recheck": "", "recheck_km": None}
    return {"recheck": NUTS_AGAIN, "recheck_km": NUTS_WITHIN_KM}


def repaired_functions(card: JobCard) -> frozenset[str]:
    """The functions that this job works on: those its defects touch; without any, those its system serves.

    A periodic or fabric job without a defect is a look, not a repair. Reads `defects` with `effects`, and
    `subsystem`; prefetch them where many cards are asked.
    """
    if not card.voids_readings:
        return frozenset()
    found = [effect.function for defect in card.defects.all() for effect in defect.effects.all()]
    if found:
        return frozenset(found)
    if card.kind != CardKind.DEFECT or card.subsystem is None:
        return frozenset()
    return frozenset(card.subsystem.serves)


def voided_kinds(functions: Iterable[str], *, system: str = "", lifts: bool = False) -> frozenset[str]:
    """Kinds of inspection that a repair of these functions makes void."""
    touched = set(functions)
    kinds = {VOIDS[function] for function in touched if function in VOIDS}
    if touched and lifts and system.split(".", 1)[0] == LIFTING_SYSTEM:
        kinds.add(InspectionKind.LIFTING.value)
    return frozenset(kinds)


def card_voids(card: JobCard) -> frozenset[str]:
    """Kinds of inspection that this job voids when it passes; the inspection it carries out itself is exempt."""
    system = card.subsystem.code if card.subsystem is not None else ""
    return voided_kinds(repaired_functions(card), system=system, lifts=card.vehicle.lifts)
