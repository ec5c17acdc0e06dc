"""From outings and faults to a failure history: counted by hand, the fleet's belief, the vehicle's own law, and slots."""

import datetime as dt
import math
from dataclasses import replace
from decimal import Decimal

import pytest

from fleet.models import Outing, Vehicle
from maintenance.enums import DefectState
from readiness.models import RoleRule
from readiness.queries.reliability import failure_history
from readiness.services import entries
from readiness.services.assessing import work_out_now
from readiness.services.results import result_of
from readiness.snapshot.failures import History, Run, fault_days, history, lasting
from tests.factories import DefectFactory, VehicleFactory
from tests.readiness.programme.stage import slot_of

MAY = dt.date(2027, 5, 1)


def run(day: int, hours: float, stopped: bool = False) -> Run:
    return Run(day=MAY + dt.timedelta(days=day), hours=Decimal(str(hours)), stopped=stopped)


def test_hours_and_failures_add_up_in_order_of_day() -> None:
    found = history([run(9, 2), run(0, 1.5), run(4, 0.5, stopped=True)])
    assert found == History(hours=4.0, times=(2.0,), outings=3)


def test_a_reported_fault_counts_once_and_only_on_a_day_out() -> None:
    days = frozenset({MAY, MAY + dt.timedelta(days=4), MAY + dt.timedelta(days=7)})
    found = history([run(0, 1), run(0, 2), run(4, 1, stopped=True)], days)
    assert found.times == (
        3.0,
        4.0,
    )  # the fourth day's fault is what stopped it; nobody was out on the seventh


def test_a_failure_before_the_first_hour_still_has_a_time() -> None:
    assert history([run(0, 0, stopped=True), run(1, 2)]).times == (0.01,)
    assert history([run(0, 0, stopped=True)]) == History(hours=0.0, times=(), outings=1)


def test_nothing_on_file_says_nothing() -> None:
    for hours, words in ((0.0, "no running hours on file"), (4.0, "too few running hours on file: 4 h")):
        found = lasting({"A": History(hours=hours), "B": History()})["B"]
        assert (found.words, found.survive(2.0)) == (words, None)


def test_a_vehicle_with_five_failures_speaks_for_itself() -> None:
    times = (20.0, 60.0, 90.0, 130.0, 200.0)
    found = lasting({"A": History(hours=212.0, times=times), "B": History(hours=50.0)})["A"]
    beta = (len(times) - 1) / sum(math.log(212.0 / t) for t in times)
    assert found.survive(3.0) == pytest.approx(math.exp(-5 * ((1 + 3 / 212) ** beta - 1)))
    assert found.words == "from 5 faults in 212 h"


def test_a_vehicle_with_few_failures_is_the_fleet_moved_by_its_own() -> None:
    histories = {
        "A": History(hours=10.0, times=(5.0,)),
        "B": History(hours=60.0, times=(3.0, 9.0)),
        "C": History(hours=40.0, times=(1.0,)),
    }
    found = lasting(histories)["A"]
    # B and C differ no more than chance allows: the belief is worth their 3 1/2 failures in 100 hours.
    assert found.survive(2.0) == pytest.approx((110 / 112) ** 4.5)
    assert found.words == "from the fleet (3 faults in 100 h of the others), this vehicle has 1 fault in 10 h"
    new = lasting({**histories, "N": History()})["N"]
    assert new.words.endswith("this vehicle has no running hours on file")
    assert 0 < new.survive(1.0) < 1


def test_the_only_vehicle_that_runs_has_its_own_hours_counted_once() -> None:
    found = lasting({"A": History(hours=40.0, times=(10.0,)), "B": History()})["A"]
    assert found.survive(4.0) == pytest.approx((40 / 44) ** 1.5)
    assert "no other vehicle" in found.words


def test_failures_that_follow_no_law_fall_back_on_the_fleet() -> None:
    heap = History(hours=200.0, times=tuple(100.0 + n / 100 for n in range(12)))
    found = lasting({"A": heap, "B": History(hours=100.0, times=(50.0,))})["A"]
    assert not found.outlook.own
    assert "follow no law" in found.words


@pytest.mark.django_db
def test_which_reports_count_as_failures(vehicle) -> None:
    lost = DefectFactory(vehicle=vehicle, effects={"STEER": "lost"})
    DefectFactory(vehicle=vehicle, effects={"STEER": "reduced"})
    DefectFactory(vehicle=vehicle, effects={"LOOK": "lost"})
    DefectFactory(vehicle=vehicle, effects={"STOP": "lost", "HOLD": "lost"}, reported_at=lost.reported_at)
    aside = DefectFactory(vehicle=VehicleFactory(), effects={"STOP": "lost"})
    aside.state = DefectState.SET_ASIDE
    aside.save()
    assert fault_days() == {vehicle.pk: frozenset({lost.reported_at.date()})}


def outings(vehicle, hours: float, count: int, stopped) -> None:
    for n in range(count):
        Outing.objects.create(
            vehicle=vehicle, day=MAY - dt.timedelta(days=100 - n), hours=Decimal(str(hours)), stopped_by_fault=n in stopped
        )  # fmt: skip


@pytest.mark.django_db
def test_the_programme_counts_the_chance_to_last(event, coordinator, vehicle, clock) -> None:
    slot = slot_of(coordinator, event, role="running", hours=Decimal(4))
    entries.entry_add(by=coordinator, slot=slot, vehicle=vehicle)
    RoleRule.objects.filter(role="running").update(demand="-")  # nothing but its failures can stop it

    def cover() -> tuple[dict, dict]:
        worked = work_out_now(samples=4000, seed=1)
        found = result_of(worked, worked.museum.events[0])
        return found["slots"][0]["cover"], found["entries"][0]

    before, entry = cover()
    assert entry["run_hours"] == 4.0
    assert before["as_entered"] == 1.0
    other = VehicleFactory()
    outings(other, 2.0, 50, range(0, 50, 5))  # 10.5 failures in 100 hours, none of the vehicle's own
    after, _ = cover()
    assert after["as_entered"] == pytest.approx((100 / 104) ** 10.5, abs=0.025)


@pytest.mark.django_db
def test_the_page_says_what_it_rests_on_in_as_many_queries_whatever_the_fleet(
    vehicle, django_assert_num_queries
) -> None:
    assert failure_history(vehicle).rests_on == "no running hours on file"
    outings(vehicle, 4.0, 50, (0, 1, 3, 6, 10, 16, 24))
    for _ in range(3):
        outings(VehicleFactory(), 1.0, 5, (2,))
    entry = {"slot": "S1", "slot_name": "Arena", "starts": "2027-06-05T11:00:00", "run_hours": 1.5}
    static = {**entry, "run_hours": 0.0}
    with django_assert_num_queries(3):
        found = failure_history(vehicle, [entry, static])
    assert found.rests_on == "from 7 faults in 200 h"
    assert found.trend == "It clearly fails less often than it used to."
    assert len(found.slots) == 1
    assert found.slots[0].hours == "1.5 h"
    assert 90 < found.slots[0].percent <= 100


def test_the_demo_has_too_few_hours_on_file_to_say_anything(demo) -> None:
    """Nothing is said of a fleet without a history, and the programme is what it would be without this page at all."""
    worked = work_out_now(samples=300, seed=3)
    assert {found.survive(2.0) for found in worked.lasting.values()} == {None}
    event = worked.museum.events[0]
    without = result_of(replace(worked, lasting={}), event)
    assert result_of(worked, event)["slots"] == without["slots"]
    total = sum(float(o.hours) for o in Outing.objects.all())
    assert total < 10
    outings(Vehicle.objects.get(code="V01"), 4.0, 20, (2, 5, 7, 11, 13, 17))
    after = work_out_now(samples=300, seed=3)
    assert result_of(after, after.museum.events[0])["slots"] != without["slots"]
