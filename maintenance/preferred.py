"""The museum's own units beside the unit in which something is measured."""

from __future__ import annotations

from decimal import Decimal

from fleet.http import museum
from maintenance.typed import also
from maintenance.units import UNITS


def preferred_unit(symbol: str) -> str:
    """The museum's unit for what `symbol` measures; empty where it has chosen none."""
    row = museum()
    if row is None or symbol not in UNITS:
        return ""
    if UNITS[symbol].quantity == "pressure":
        return row.pressure_unit
    return row.distance_unit if symbol in {"km", "mile"} else ""


def other_unit(symbol: str) -> str:
    """A unit that a gauge in this workshop may well show instead; empty where none is likely."""
    wanted = preferred_unit(symbol)
    if not wanted:
        return ""
    if wanted != symbol:
        return wanted
    return {"bar": "psi", "psi": "bar", "km": "mile", "mile": "km"}.get(symbol, "")


def in_ours(value: Decimal | None, symbol: str) -> str:
    """The figure in the museum's unit in brackets, to stand behind it; empty where it is that unit already."""
    wanted = preferred_unit(symbol)
    told = also(value, symbol, wanted) if wanted else ""
    return f" ({told})" if told else ""
