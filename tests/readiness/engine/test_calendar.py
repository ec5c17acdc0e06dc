"""Quarter hours, stays, and the two look-ups."""

from __future__ import annotations

import random
from datetime import datetime, timedelta

import numpy as np
import pytest

from readiness.engine.calendar import Grid, Session, grid_of, joint_sessions, sessions_of, worked_edges
from readiness.engine.sampling import Draws
from readiness.engine.workshop import WorkDay, Workshop, WorkshopError
from readiness.engine.worktime import Calendars
from tests.readiness.engine.workshops import NOW, at, day, goal, hand

GRID = Grid(origin=NOW, slots=960)


def test_now_is_rounded_up_to_a_quarter_hour():
    for minutes, expected in ((0, 0), (1, 15), (15, 15), (16, 30)):
        now = NOW + timedelta(minutes=minutes)
        grid = grid_of(Workshop(now=now, horizon=at(1)))
        assert grid.origin == NOW + timedelta(minutes=expected)


def test_edges_round_away_from_hope():
    """Arrivals to the next edge, deadlines to the last one."""
    moment = NOW + timedelta(minutes=20)
    assert (GRID.edge_at_or_after(moment), GRID.edge_at_or_before(moment)) == (2, 1)
    assert GRID.edge_at_or_after(NOW - timedelta(days=1)) == 0
    assert GRID.edge_at_or_after(at(11)) == GRID.never
    assert GRID.edge_at_or_before(at(11)) == GRID.slots
    assert (GRID.moment(4), GRID.moment(GRID.never)) == (NOW + timedelta(hours=1), None)


def test_the_grid_reaches_the_last_deadline():
    workshop = Workshop(now=NOW, horizon=at(1), goals=(goal((), at(3)),))
    assert grid_of(workshop).slots == 3 * 96


def test_the_default_day_has_16_worked_of_24_slots_evenly_spread():
    (session,) = sessions_of(hand(days=(WorkDay.on(NOW.date()),)), GRID)
    assert (session.start, session.length, session.worked) == (8, 24, 16)
    assert [edge - 9 for edge in worked_edges(session)] == [k for k in range(24) if k % 3]


def test_a_day_without_a_count_works_the_usual_share():
    (session,) = sessions_of(hand(days=(day(0, start=13, end=17),)), GRID)
    assert session.worked == 11  # 16 slots x 2 / 3 = 10.67


def test_a_day_that_has_begun_keeps_its_pattern():
    (session,) = sessions_of(hand(days=(day(0, start=6, end=10, worked=16),)), GRID)
    assert (session.start, worked_edges(session)) == (-8, list(range(1, 9)))


@pytest.mark.parametrize(
    ("days", "words"),
    [((day(0), day(0, start=12)), "overlap"), ((day(0, worked=25),), "more worked quarter hours")],
)
def test_impossible_days_are_refused(days, words):
    with pytest.raises(WorkshopError, match=words):
        sessions_of(hand(days=days), GRID)


def test_days_outside_the_grid_are_left_out():
    assert sessions_of(hand(days=(day(-1), day(30))), GRID) == ()


def test_joint_hours_are_the_overlap_at_the_slower_pace():
    a = (Session(start=0, length=12, worked=12, key=""),)
    b = (Session(start=4, length=12, worked=6, key=""), Session(start=40, length=4, worked=4, key=""))
    (joint,) = joint_sessions([a, b])
    assert (joint.start, joint.length, joint.worked, joint.members) == (4, 8, 4, (0, 0))


def _plain(sessions: list[tuple[Session, bool]]) -> list[int]:
    """Edges at which worked slots end, slot by slot."""
    out = []
    for session, there in sessions:
        for i in range(session.length):
            n, w = session.length, session.worked
            if there and (i + 1) * w // n > i * w // n and session.start + i >= 0:
                out.append(session.start + i + 1)
    return out


def test_look_ups_agree_with_counting_slot_by_slot():
    r = random.Random(1)
    for trial in range(60):
        grid = Grid(origin=NOW, slots=r.choice([300, 400]))
        rows = [
            Session(
                start=k * 96 + r.randrange(-20, 40),
                length=(n := r.randrange(1, 40)),
                worked=r.randrange(1, n + 1),
                key="",
            )
            for k in range(4)
        ]
        shown = np.array([[r.random() < 0.7 for _ in range(5)] for _ in rows])
        draws = Draws(samples=5, sessions={"A": tuple(rows)}, present={"A": shown})
        calendars = Calendars(("A",), draws, grid, 0, 5)
        for _ in range(20):
            sample, start, slots = r.randrange(5), r.randrange(grid.slots), r.randrange(1, 60)
            ahead = [e for e in _plain(list(zip(rows, shown[:, sample], strict=True))) if e > start]
            expected = (
                ahead[slots - 1] if len(ahead) >= slots and ahead[slots - 1] <= grid.slots else grid.never
            )
            one = np.array([sample])
            alone = calendars.end_alone(np.array([0]), one, start, np.array([slots]))
            crew = calendars.crew_numbers(np.array([[0]]))
            first, last = calendars.work_together(crew, one, start, np.array([slots]))
            assert (int(alone[0]), int(last[0])) == (expected, expected), trial
            begin = ahead[0] - 1 if ahead and ahead[0] <= grid.slots else grid.never
            assert int(first[0]) == begin


def test_wall_times_may_carry_a_time_zone():
    from zoneinfo import ZoneInfo

    zone = ZoneInfo("Europe/London")
    now = datetime(2031, 5, 3, 8, tzinfo=zone)
    grid = grid_of(Workshop(now=now, horizon=now + timedelta(days=1)))
    assert (grid.slots, grid.edge_at_or_after(datetime(2031, 5, 3, 10, tzinfo=zone))) == (96, 8)
