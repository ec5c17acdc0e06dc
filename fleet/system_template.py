"""The systems that a vehicle starts with, by its kind, on two levels.

Each system serves functions (a fault in it touches these) and has hazards (fleet/hazards.py). The division is
*common practice* of workshop manuals; a museum adds or renames systems on the vehicle's page.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from fleet.models.vehicles import VehicleKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Second level. Without functions or hazards of its own it takes those of its system."""

    code: str
    name: str
    serves: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class System:
    code: str
    name: str
    serves: tuple[str, ...]
    hazards: tuple[str, ...]
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One subsystem to be made: `parent` is the code of the first level, empty for the first level itself."""

    code: str
    name: str
    parent: str
    serves: tuple[str, ...]
    hazards: tuple[str, ...]
    order: int


def _p(code: str, name: str, serves: str = "", hazards: str = "") -> Part:
    return Part(code=code, name=name, serves=tuple(serves.split()), hazards=tuple(hazards.split()))


def _s(code: str, name: str, serves: str, hazards: str, *parts: Part) -> System:
    return System(
        code=code, name=name, serves=tuple(serves.split()), hazards=tuple(hazards.split()), parts=parts
    )


SYSTEMS: tuple[System, ...] = (
    _s(
        "ENG", "Engine", "START LUBE", "H1 H2 H5 H6",
        _p("block", "Block and crank"), _p("head", "Head and valves"), _p("oil", "Lubrication"),
        _p("mounts", "Mounts and pack", "START STAND", "H1 H8"),
    ),
    _s(
        "FUL", "Fuel", "START FUEL", "H3 H4 H24",
        _p("tank", "Tank and lines"), _p("pump", "Pump and filter"), _p("carburettor", "Carburettor"),
        _p("injection", "Injection", "", "H3 H15 H24"), _p("vaporiser", "Vaporiser"),
    ),
    _s(
        "IGN", "Ignition", "START", "H4 H1",
        _p("coil", "Coil or magneto"), _p("distributor", "Distributor"), _p("plugs", "Leads and plugs"),
    ),
    _s(
        "COL", "Cooling", "COOL", "H5 H24",
        _p("radiator", "Radiator"), _p("pump", "Pump"), _p("thermostat", "Thermostat"), _p("fan", "Fan and belt", "", "H5 H1"),
    ),
    _s(
        "EXH", "Air and exhaust", "BREATHE START", "H6 H5",
        _p("cleaner", "Air cleaner", "START"), _p("supercharger", "Supercharger", "START"), _p("manifold", "Manifold"),
        _p("silencer", "Silencer and pipe"),
    ),
    _s(
        "ELE", "Electrics", "POWER SHOW START", "H7",
        _p("battery", "Battery and isolator", "POWER START"), _p("charging", "Dynamo or alternator", "POWER"),
        _p("starter", "Starter", "START", "H7 H1"), _p("wiring", "Wiring"), _p("lamps", "Lamps and horn", "SHOW"),
    ),
    _s(
        "TRN", "Transmission", "DRIVE", "H2 H8",
        _p("clutch", "Clutch or fluid coupling", "", "H2 H8 H9"), _p("gearbox", "Gearbox"), _p("transfer", "Transfer box"),
        _p("shafts", "Shafts"), _p("final", "Final drive"), _p("pto", "Power take-off", "DRIVE WORK PULL", "H1 H8"),
    ),
    _s(
        "STE", "Steering", "STEER", "H8",
        _p("box", "Box and column"), _p("linkage", "Linkage"), _p("kingpins", "Kingpins"),
        _p("tracked", "Steering brakes and clutches", "STEER STOP", "H8 H9"),
    ),
    _s(
        "BRK", "Brakes", "STOP HOLD", "H8 H9 H10",
        _p("shoes", "Drums and shoes"), _p("hydraulic", "Hydraulic part", "STOP", "H8 H9 H24"),
        _p("vacuum", "Vacuum part", "STOP"), _p("air", "Air part"), _p("rods", "Rods and cables"),
        _p("parking", "Parking brake", "HOLD"),
    ),
    _s(
        "SUS", "Suspension", "ROLL STEER", "H2 H8",
        _p("leaf", "Leaf springs"), _p("coil", "Coil springs"), _p("torsion", "Torsion bars"), _p("bogie", "Bogies"),
        _p("damper", "Dampers"),
    ),
    _s(
        "WHL", "Wheels", "ROLL", "H11 H8",
        _p("rim", "Rims"), _p("tyre", "Tyres"), _p("nuts", "Wheel nuts"), _p("hub", "Hubs", "", "H8 H9"),
    ),
    _s(
        "TRK", "Tracks", "ROLL DRIVE STEER", "H12 H8",
        _p("links", "Links and pins"), _p("sprocket", "Sprockets"), _p("idler", "Idlers"), _p("roadwheel", "Road wheels"),
        _p("tensioner", "Tensioners", "", "H12 H15"),
    ),
    _s(
        "CHA", "Chassis and hull", "STAND", "H8 H13 H23",
        _p("frame", "Frame"), _p("hull", "Hull and plugs"), _p("tow", "Towing points", "STAND PULL", "H8 H22"),
    ),
    _s(
        "BOD", "Cab and body", "CARRY SEE LOOK", "H14 H21",
        _p("seats", "Seats and belts", "CARRY"), _p("doors", "Doors", "CARRY"), _p("steps", "Steps and rails", "CARRY"),
        _p("glass", "Glass and mirrors", "SEE"), _p("canvas", "Canvas", "LOOK CARRY"),
    ),
    _s(
        "HYD", "Hydraulics and lifting", "PULL WORK", "H15 H16",
        _p("pump", "Pump"), _p("ram", "Rams"), _p("hose", "Hoses"), _p("crane", "Crane"), _p("winch", "Winch", "PULL"),
    ),
    _s(
        "EQP", "Demonstration gear", "WORK SAFE", "H16 H17",
        _p("pump", "Pump", "WORK"), _p("ladder", "Ladder"), _p("turret", "Turret"), _p("gun", "Made-safe gun", "SAFE"),
        _p("winch", "Winch", "WORK PULL", "H16 H22"), _p("bell", "Bell", "WORK"),
    ),
    _s(
        "FIR", "Fire", "QUENCH", "H18",
        _p("portables", "Portable extinguishers"), _p("fixed", "Fixed bottles"), _p("detectors", "Detectors"),
    ),
    _s(
        "INS", "Instruments", "TELL", "H19",
        _p("gauges", "Gauges"), _p("intercom", "Intercom", "TELL SEE"), _p("signals", "Signals"),
    ),
    _s(
        "STM", "Steam", "STEAM COOL", "H20 H5 H13",
        _p("boiler", "Boiler"), _p("firebox", "Firebox"), _p("fittings", "Fittings"), _p("feed", "Feed"),
        _p("engine", "Engine unit", "STEAM DRIVE", "H20 H1"),
    ),
    _s(
        "MRK", "Finish and markings", "LOOK", "H21",
        _p("paint", "Paint layers"), _p("lettering", "Lettering"), _p("plates", "Plates"),
    ),
)  # fmt: skip
BY_CODE = {system.code: system for system in SYSTEMS}

_ON_TRACKS = frozenset({VehicleKind.TRACKED, VehicleKind.CRAWLER})
_HALF = frozenset({VehicleKind.HALF_TRACK})
_PLAIN = frozenset({VehicleKind.BUS, VehicleKind.AMBULANCE, VehicleKind.LIGHT})
_COMBUSTION = frozenset({"ENG", "FUL", "IGN", "COL", "EXH"})


def system_codes(
    kind: str, *, is_steam: bool = False, is_tracked: bool = False, lifts: bool = False
) -> frozenset[str]:
    """First-level codes of a vehicle of this kind; the three marks add what the kind alone would leave out."""
    codes = set(BY_CODE) - {"TRK", "STM"}
    if kind in _ON_TRACKS or kind in _HALF or is_tracked:
        codes.add("TRK")
    if kind in _ON_TRACKS:
        codes.discard("WHL")
    if kind in _PLAIN:
        codes -= {"HYD", "EQP"}
    if lifts:
        codes.add("HYD")
    if kind == VehicleKind.STEAM:
        codes -= _COMBUSTION
        codes.add("STM")
    elif is_steam:
        codes.add("STM")
    return frozenset(codes)


def rows_for(
    kind: str, *, is_steam: bool = False, is_tracked: bool = False, lifts: bool = False
) -> list[Row]:
    """Both levels in walk-round order, first level before its parts."""
    wanted = system_codes(kind, is_steam=is_steam, is_tracked=is_tracked, lifts=lifts)
    tracked = "TRK" in wanted
    return list(_rows((s for s in SYSTEMS if s.code in wanted), tracked=tracked))


def _rows(systems: Iterable[System], *, tracked: bool) -> Iterator[Row]:
    order = 0
    for system in systems:
        order += 10
        yield Row(
            code=system.code,
            name=system.name,
            parent="",
            serves=system.serves,
            hazards=system.hazards,
            order=order,
        )
        for step, part in enumerate(system.parts, start=1):
            if system.code == "STE" and part.code == "tracked" and not tracked:
                continue
            yield Row(
                code=f"{system.code}.{part.code}",
                name=part.name,
                parent=system.code,
                serves=part.serves or system.serves,
                hazards=part.hazards or system.hazards,
                order=order + step,
            )
