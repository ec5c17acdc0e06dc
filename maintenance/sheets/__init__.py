"""The fault-finding sheets that ship with the program, by key, in the order in which they are offered."""

from collections.abc import Mapping
from types import MappingProxyType

from maintenance.fault_sheet import Sheet
from maintenance.sheets import (
    brake_air_loss,
    brakes_pull,
    charging,
    hard_hot_start,
    low_oil_pressure,
    no_start,
    overheating,
    ram_creeps,
    smoke,
    steering_wander,
    track_pulls,
    twin_ignition,
)

_MODULES = (
    brakes_pull,
    hard_hot_start,
    no_start,
    overheating,
    low_oil_pressure,
    twin_ignition,
    charging,
    smoke,
    steering_wander,
    brake_air_loss,
    track_pulls,
    ram_creeps,
)

SHEETS: Mapping[str, Sheet] = MappingProxyType({module.SHEET.key: module.SHEET for module in _MODULES})
