"""Falling due by date and meter, with the rate's uncertainty. Hand-worked; edges as *common practice*."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from readiness.engine import intervals, state
from tests.readiness.engine.cases import T, at, day, vehicle


def use(n: int, hours: str = "0", km: str = "0") -> state.Use:
    return state.Use(at=at(n, "17:00"), hours=Decimal(hours), km=Decimal(km))


METER = state.MeterState(kind="hours", total=Decimal("46.8"), read_at=at(-35, "07:00"))
OIL = state.Inspection(uid="oil", kind="service", name="oil", meter="hours", valid_meter=Decimal("50.0"))


def test_planned_uses_count_in_order_up_to_the_moment() -> None:
    """Rehearsal 1.0, Saturday 0.5 + 0.75, Sunday 0.5 + 0.75: 3.2 h left are gone in the very last slot."""
    v = vehicle(
        meters=(METER,),
        planned=(
            use(-7, "1.0"),
            use(0, "0.5"),
            use(0, "0.75"),
            use(1, "0.5"),
            state.Use(at=at(1, "18:00"), hours=Decimal("0.75")),
        ),
    )
    assert intervals.validity(OIL, v, at(1, "17:00")).state == "valid"
    last = intervals.validity(OIL, v, at(1, "18:00"))
    assert (last.state, last.over) == ("lapsed", Decimal("0.30"))


def test_uses_before_the_reading_do_not_count_twice() -> None:
    v = vehicle(meters=(METER,), planned=(use(-40, "9"),))
    assert intervals.meter_at(METER, v, at(0, "12:00")).total == Decimal("46.8")


def test_rate_from_outings_is_total_over_span() -> None:
    outings = tuple(use(n, "2") for n in (-135, -110, -85, -60))
    rate = intervals.usage_rate(outings, "hours", at(-35, "17:00"))
    assert rate.per_day == Decimal(8) / 100
    assert rate.error == pytest.approx(math.sqrt(16) / 100)


@pytest.mark.parametrize("outings", [(), (use(-60, "2"),), (use(-50, "2"), use(-45, "2"))])
def test_too_few_outings_give_no_rate(outings: tuple[state.Use, ...]) -> None:
    assert intervals.usage_rate(outings, "hours", at(-35, "17:00")).per_day == 0


def test_spread_of_the_due_day_widens_with_the_rate() -> None:
    outings = tuple(use(n, "2") for n in range(-335, -35, 15))
    v = vehicle(meters=(METER,), outings=outings)
    due = intervals.falling_due(OIL, v, day(-35))
    assert due.by == "meter"
    assert due.early is not None and due.expected is not None and due.late is not None
    assert due.early < due.expected < due.late


def test_whichever_first() -> None:
    v = vehicle(meters=(METER,))
    both = state.Inspection(
        uid="i", kind="service", name="i", valid_through=T, meter="hours", valid_meter=Decimal(50)
    )
    assert intervals.validity(both, v, at(0, "23:59")).state == "valid"
    assert intervals.validity(both, v, at(1, "00:01")).by == "date"
    assert intervals.falling_due(both, v, day(-35)).expected == T


@pytest.mark.parametrize(
    ("before", "limit", "km", "runs", "answer"),
    [("12", "140", "96", 8, 8), ("108", "140", "96", 16, 6), ("140", "140", "48", 8, 1), ("141", "140", "48", 8, 1), ("0", "140", "48", None, None)],
)  # fmt: skip
def test_in_which_run_it_falls_due(
    before: str, limit: str, km: str, runs: int | None, answer: int | None
) -> None:
    """16 runs of 6 km on 108: 32 km are left, five runs use 30, the sixth passes it."""
    assert intervals.first_failing_run(Decimal(before), Decimal(limit), Decimal(km), runs) == answer


def test_when_renewing_still_helps() -> None:
    row = state.Inspection(uid="i", kind="service", name="i", interval_days=30)
    assert intervals.still_helps(row, [at(0, "12:00"), at(1, "12:00")], day(-2)) == (day(-29), day(-2))
