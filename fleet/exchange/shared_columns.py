"""Columns that many tables have."""

from __future__ import annotations

from fleet.exchange.kinds import Ref, Text
from fleet.exchange.tables import Column

VEHICLE = Column(name="vehicle", kind=Ref("vehicles"), help="The vehicle.", example="V01", required=True)
PERSON = Column(name="person", kind=Ref("people"), help="Who.", example="P04", required=True)


def note(words: str = "Anything worth saying.") -> Column:
    return Column(name="note", kind=Text(), help=words)
