"""A figure as it was typed, with or without a unit of its own, in the unit of what is measured.

A gauge shows what it shows: 30 psi may be typed into a reading that is kept in bar. It is converted exactly
(maintenance/units.py) and rounded once, to six places, far finer than any gauge.
"""

from __future__ import annotations

import re
from decimal import Decimal

from maintenance.units import UNITS, UnitError, convert, rounded, unit

PLACES = 6
_TYPED = re.compile(r"^\s*([+-]?\d+(?:[.,]\d+)?|[+-]?[.,]\d+)\s*(\S.*?)?\s*$")
_SHORT = {
    "deg": "°",
    "degrees": "°",
    "c": "°C",
    "f": "°F",
    '"': "in",
    "l": "L",
    "ml": "mL",
    "nm": "Nm",
    "lb ft": "lbf ft",
}
_BY_FOLD = {symbol.casefold(): symbol for symbol in UNITS if symbol}


def figure_in(text: str, symbol: str) -> tuple[str, str]:
    """The figure of `text` in the unit `symbol`, and what was typed where that was another unit (else empty).

    Raises:
        ValueError: no figure, an unknown unit, or one that measures something else; the sentence says which.
    """
    match = _TYPED.match(text)
    if match is None:
        raise ValueError(
            f"{text.strip() or 'nothing'} is not a number. Write one such as 2.4, or 35 psi with its unit."
        )
    number, given = match.group(1).replace(",", "."), match.group(2) or ""
    if not given:
        return format(Decimal(number), "f"), ""
    named = _BY_FOLD.get(given.casefold()) or _SHORT.get(given.casefold(), given)
    if named == symbol:
        return format(Decimal(number), "f"), ""
    try:
        unit(named)
        there = rounded(convert(number, named, symbol), PLACES)
    except UnitError as trouble:
        raise ValueError(f"{given} cannot be read in {symbol or 'a count'}. {trouble}") from trouble
    return format(there, "f"), f"{number} {named}"


def also(value: Decimal | None, symbol: str, preferred: str) -> str:
    """The same figure in the museum's own unit, to three figures at most; empty where there is nothing to add."""
    if value is None or symbol == preferred or symbol not in UNITS or preferred not in UNITS:
        return ""
    if UNITS[symbol].quantity != UNITS[preferred].quantity:
        return ""
    there = convert(value, symbol, preferred)
    whole = len(str(abs(int(there)))) if int(there) else 0
    return f"{rounded(there, max(0, 3 - whole)):f} {preferred}"
