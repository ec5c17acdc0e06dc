"""Quarter hours, work days and the two look-ups that turn bench time into calendar time.

A slot k covers the quarter hour that starts k quarter hours after the origin (now, rounded up). Moments are
slot edges: work that ends at slot edge e has used slots up to e - 1. ``grid.never`` = last edge + 1 stands for
everything that lies past the horizon; it saturates and is never dropped.

A session of n slots of which w are worked spreads them evenly: slot i (from 0) is worked when
floor((i + 1) w / n) > floor(i w / n). Two closed forms follow:

    worked before the first i slots      floor(i w / n)
    slots until the x-th worked one ends  ceil(x n / w)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from readiness.engine.params import DAY_SLOTS, DAY_WORKED_SLOTS, SLOT_MINUTES
from readiness.engine.workshop import Hand, Workshop, WorkshopError

Ints = NDArray[np.integer]
Bools = NDArray[np.bool_]
_SLOT = timedelta(minutes=SLOT_MINUTES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """The quarter hours from now to the horizon."""

    origin: datetime
    slots: int

    @property
    def never(self) -> int:
        """Stands for any edge past the horizon."""
        return self.slots + 1

    def edge_at_or_after(self, moment: datetime) -> int:
        """First edge not before the moment; 0 for the past, ``never`` past the horizon."""
        edge = -((self.origin - moment) // _SLOT)
        return min(max(edge, 0), self.never)

    def edge_at_or_before(self, moment: datetime) -> int:
        """Last edge not after the moment, at most the last edge; below 0 for the past."""
        return min((moment - self.origin) // _SLOT, self.slots)

    def moment(self, edge: int) -> datetime | None:
        """Wall time of an edge, None for ``never``."""
        return None if edge > self.slots else self.origin + edge * _SLOT


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """One stay of one person, in slots; ``start`` may lie before 0 when the day has begun."""

    start: int
    length: int
    worked: int
    key: str

    @property
    def end(self) -> int:
        """Edge at which the person leaves."""
        return self.start + self.length


def grid_of(workshop: Workshop) -> Grid:
    """The grid from now, rounded up to a quarter hour, to the horizon or the last deadline."""
    midnight = workshop.now.replace(hour=0, minute=0, second=0, microsecond=0)
    origin = midnight - _SLOT * ((midnight - workshop.now) // _SLOT)
    last = max([workshop.horizon, *(goal.deadline for goal in workshop.goals)])
    return Grid(origin=origin, slots=max((last - origin) // _SLOT, 1))


def sessions_of(hand: Hand, grid: Grid) -> tuple[Session, ...]:
    """The person's stays that touch the grid, in order of time.

    Raises:
        WorkshopError: two stays overlap, or one works more slots than it has.
    """
    out: list[Session] = []
    seen: dict[str, int] = {}
    for day in sorted(hand.days, key=lambda d: d.start):
        start = -((grid.origin - day.start) // _SLOT)
        length = (day.end - grid.origin) // _SLOT - start
        worked = day.worked_slots
        if worked is None:
            worked = (2 * length * DAY_WORKED_SLOTS + DAY_SLOTS) // (2 * DAY_SLOTS)
        date_key = day.start.date().isoformat()
        seen[date_key] = seen.get(date_key, 0) + 1
        if worked > length:
            raise WorkshopError([f"{hand.name}: more worked quarter hours than hours on {date_key}"])
        if out and out[-1].end > start:
            raise WorkshopError([f"{hand.name}: two work days overlap on {date_key}"])
        if worked > 0 and start + length > 0 and start < grid.slots:
            out.append(Session(start=start, length=length, worked=worked, key=f"{date_key}#{seen[date_key]}"))
    return tuple(out)


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """Hours when a whole crew is there: window, worked slots, and each member's session number."""

    start: int
    length: int
    worked: int
    members: tuple[int, ...]


def joint_sessions(rosters: list[tuple[Session, ...]]) -> tuple[Joint, ...]:
    """Windows in which all of the people are there.

    They work at the pace of the slowest of them: worked = round(length x least share), halves up.

    Args:
        rosters: one tuple of sessions for each member of the crew.
    """
    found: list[tuple[int, int, int, int, tuple[int, ...]]] = [
        (s.start, s.end, s.worked, s.length, (i,)) for i, s in enumerate(rosters[0])
    ]
    for roster in rosters[1:]:
        wider: list[tuple[int, int, int, int, tuple[int, ...]]] = []
        for lo, hi, num, den, members in found:
            for i, session in enumerate(roster):
                start, end = max(lo, session.start), min(hi, session.end)
                if start < end:
                    slower = num * session.length <= session.worked * den
                    pace = (num, den) if slower else (session.worked, session.length)
                    wider.append((start, end, *pace, (*members, i)))
        found = wider
    joints = [
        Joint(start=lo, length=hi - lo, worked=(2 * (hi - lo) * num + den) // (2 * den), members=members)
        for lo, hi, num, den, members in found
    ]
    return tuple(joint for joint in joints if joint.worked > 0)


def worked_edges(session: Session) -> list[int]:
    """Edges at which the worked slots of a session end, those before 0 left out."""
    edges = [
        session.start + math.ceil(x * session.length / session.worked) for x in range(1, session.worked + 1)
    ]
    return [edge for edge in edges if edge > 0]
