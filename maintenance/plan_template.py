"""The inspections that a vehicle of this kind usually has: offered, never made by themselves.

Every interval is *common practice* and a place to start: the vehicle's own manual, the written scheme, the insurer and
local law decide. Lifting gear every six months follows UK LOLER regulation 9(3) for gear that lifts people.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from fleet.enums import MeterKind
from fleet.models import Vehicle
from maintenance.enums import InspectionKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """One inspection as it is offered: `systems` are those of which the vehicle has one; `trait` a mark of the vehicle."""

    key: str
    kind: InspectionKind
    name: str
    days: int | None
    amount: Decimal | None = None
    meter: str = ""
    hours: Decimal = Decimal(1)
    outside: bool = False
    systems: frozenset[str] = frozenset()
    trait: str = ""

    @property
    def words(self) -> str:
        told = [f"{self.amount.normalize():f} {self.meter}"] if self.amount is not None else []
        told += [f"{self.days} days"] if self.days is not None else []
        return " or ".join(told)


def _systems(*codes: str) -> frozenset[str]:
    return frozenset(codes)


USUAL: tuple[Usual, ...] = (
    Usual(key="brake reading", kind=InspectionKind.BRAKE_READING, name="Brake performance reading", days=365, systems=_systems("BRK")),
    Usual(key="wheels", kind=InspectionKind.RUNNING_GEAR, name="Brake, steering and running-gear inspection", days=180,
          amount=Decimal(500), meter=MeterKind.KM, hours=Decimal(2), systems=_systems("WHL")),
    Usual(key="tracks", kind=InspectionKind.RUNNING_GEAR, name="Track and running-gear inspection", days=180,
          amount=Decimal(25), meter=MeterKind.HOURS, hours=Decimal(2), systems=_systems("TRK")),
    Usual(key="annual", kind=InspectionKind.ANNUAL, name="Yearly road or passenger inspection", days=365, outside=True, systems=_systems("BRK")),
    Usual(key="co", kind=InspectionKind.CO, name="Carbon monoxide check of the crew space", days=365, trait="is_closed"),
    Usual(key="lifting", kind=InspectionKind.LIFTING, name="Thorough examination of lifting gear", days=182, outside=True, trait="lifts"),
    Usual(key="boiler", kind=InspectionKind.BOILER, name="Boiler examination, as the written scheme says", days=425, outside=True, trait="is_steam"),
    Usual(key="oil", kind=InspectionKind.SERVICE, name="Engine oil and filter", days=365, amount=Decimal(50),
          meter=MeterKind.HOURS, hours=Decimal(2), systems=_systems("ENG")),
    Usual(key="battery", kind=InspectionKind.SERVICE, name="Battery: charge, level, terminals", days=30, hours=Decimal("0.5"), systems=_systems("ELE")),
    Usual(key="coolant", kind=InspectionKind.SERVICE, name="Coolant: strength and change", days=730, systems=_systems("COL")),
    Usual(key="brake fluid", kind=InspectionKind.SERVICE, name="Brake fluid changed", days=730, hours=Decimal(2), systems=_systems("BRK")),
    Usual(key="extinguishers", kind=InspectionKind.EXTINGUISHERS, name="Portable extinguishers aboard, yearly service", days=365, outside=True, systems=_systems("FIR")),
    Usual(key="work gear", kind=InspectionKind.WORK_GEAR, name="Demonstration gear test", days=365, systems=_systems("EQP")),
)  # fmt: skip


def usual_for(vehicle: Vehicle, systems: Iterable[str]) -> list[Usual]:
    """What a vehicle with these first-level systems and marks usually has; tracks take the place of wheels."""
    there = set(systems)
    if vehicle.is_tracked and "TRK" in there:
        there.discard("WHL")
    return [
        one
        for one in USUAL
        if (one.trait and getattr(vehicle, one.trait)) or (one.systems and one.systems & there)
    ]
