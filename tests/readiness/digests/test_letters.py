"""What is said to whom, and when: judged on the demo museum and on small cases."""

import datetime as dt

import pytest

from fleet.models import Person
from maintenance.models import JobCard
from readiness import digests
from readiness.digests import AT_ONCE, TIMES, due_day, letters
from readiness.models import Event
from readiness.services.digests import MOST_LINES, Line, seven
from tests.readiness.programme.stage import SATURDAY, SUNDAY

pytestmark = pytest.mark.django_db
FIRST, LAST = SATURDAY, SUNDAY


def evening(day: dt.date, hour: int = 18, minute: int = 5) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(hour, minute))


def days_of(kind: str) -> list[int]:
    """Days before the first day (negative: after it) on whose evening this kind is due, from T-60 to T+10."""
    found = []
    for before in range(60, -11, -1):
        day = FIRST - dt.timedelta(days=before)
        if due_day(kind, evening(day), FIRST, LAST) == day:
            found.append(before)
    return found


def test_the_table_of_times() -> None:
    thursdays = [n for n in range(60, -11, -1) if (FIRST - dt.timedelta(days=n)).weekday() == 3]
    mondays = [n for n in range(60, -11, -1) if (FIRST - dt.timedelta(days=n)).weekday() == 0]
    assert days_of("driver") == [14, 3]
    assert days_of("everybody") == [1, -2]
    assert days_of("mechanic") == list(range(60, -11, -1))
    assert days_of("lead") == thursdays
    assert days_of("curator") == thursdays
    assert days_of("manager") == [n for n in thursdays if 0 <= n <= 42]
    assert days_of("coordinator") == sorted({*thursdays, *mondays, *range(-1, 8)}, reverse=True)
    assert set(TIMES) | set(AT_ONCE) == {*digests.WRITERS, *AT_ONCE}


@pytest.mark.parametrize(
    ("hour", "minute", "day_after", "due"),
    [(17, 59, 0, False), (18, 0, 0, True), (23, 59, 0, True), (9, 59, 1, True), (10, 0, 1, False)],
)
def test_a_machine_that_was_off_in_the_evening_still_sends_until_ten(hour, minute, day_after, due) -> None:
    thursday = dt.date(2027, 5, 6)
    now = evening(thursday + dt.timedelta(days=day_after), hour, minute)
    assert (due_day("lead", now, FIRST, LAST) == thursday) is due


def test_without_an_event_nothing_hangs_on_one() -> None:
    assert due_day("driver", evening(dt.date(2027, 5, 22)), None, None) is None
    assert due_day("lead", evening(dt.date(2027, 5, 6)), None, None) == dt.date(2027, 5, 6)


def test_seven_lines_and_the_rest_is_counted() -> None:
    lines = [Line(words=f"line {n}", path="/") for n in range(12)]
    more = Line(words="And {} more.", path="/programme/")
    kept = seven(lines, more)
    assert len(kept) == MOST_LINES
    assert kept[-1].words == "And 6 more."
    assert seven(lines[:7], more) == tuple(lines[:7])


def before(demo: Event, days: int) -> dt.date:
    return demo.first_day - dt.timedelta(days=days)


def written(now: dt.datetime) -> dict[tuple[str, str], list[str]]:
    return {(x.kind, x.person.code): [line.words for line in x.lines] for x in letters(now) if x.lines}


def thursday_before(demo: Event, weeks: int) -> dt.date:
    return demo.first_day - dt.timedelta(days=2 + 7 * (weeks - 1))


def test_the_coordinator_is_told_what_to_order_decide_and_whom_to_find(demo: Event) -> None:
    said = written(evening(thursday_before(demo, 5)))["coordinator", "P01"]
    assert said[0].startswith("Order by ")
    assert "winch rope 20 m for 42 Hemlock" in said[0]
    assert any(x.startswith("Decide: brake chamber diaphragms x6 for 22 Number 22") for x in said)
    assert any(x.startswith("Decide: 3 Lady Oram is barred from S12") for x in said)
    assert any(x.startswith("Find people: ") for x in said)
    assert len(said) <= MOST_LINES


def test_the_manager_hears_which_slots_are_at_risk(demo: Event) -> None:
    said = written(evening(thursday_before(demo, 5)))["manager", "P12"]
    assert said[0].startswith("Programme at risk: ")
    assert any("Dusk parade" in x and "3 Lady Oram barred" in x for x in said)


def test_the_curator_is_asked_and_the_lead_is_told_of_high_at_once(demo: Event) -> None:
    found = written(evening(thursday_before(demo, 5)))
    assert any(x.startswith("Answer: consent for Canvas roof tear") for x in found["curator", "P11"])
    noon = written(dt.datetime.combine(before(demo, 33), dt.time(12)))
    assert set(noon) == {("lead at once", "P02")}
    assert "rated High (1C)" in noon["lead at once", "P02"][0]


def test_a_mechanic_hears_of_his_own_day_the_evening_before_and_of_no_other(demo: Event) -> None:
    days = {code: [] for code in ("P02", "P06", "P07")}
    for n in range(33, 26, -1):
        for kind, code in written(evening(before(demo, n))):
            if kind == "mechanic" and code in days:
                days[code].append((before(demo, n) + dt.timedelta(days=1)).strftime("%a"))
    assert set(days["P06"]) == {"Tue", "Sat"}
    assert set(days["P07"]) == {"Wed"}
    eve = before(demo, 29)
    said = written(evening(eve))["mechanic", "P06"]
    assert said[0].startswith("Tomorrow: ")


def test_a_driver_who_is_not_current_is_told_first(demo: Event) -> None:
    said = written(evening(before(demo, 14)))["driver", "P10"]
    assert said[0].startswith("Look at this: You drive ")
    assert any("not current on it" in x for x in said)
    assert ("driver", "P11") not in written(evening(before(demo, 14)))


def test_the_evening_before_everybody_with_a_duty_hears_where_and_what_not_to_run(demo: Event) -> None:
    found = {
        code: said for (kind, code), said in written(evening(before(demo, 1))).items() if kind == "everybody"
    }
    assert set(found) == set(
        Person.objects.filter(crew_duties__slot__event=demo).values_list("code", flat=True)
    )
    assert any(x.startswith("Not to be run unless the board says so") for x in found["P10"])
    assert all(len(said) <= MOST_LINES for said in found.values())


def test_the_evening_after_missing_slips_are_asked_for(demo: Event) -> None:
    from maintenance.models import UseCheck

    vehicle = JobCard.objects.filter(vehicle__code="V05").first().vehicle
    UseCheck.objects.create(vehicle=vehicle, kind="after use", for_day=demo.last_day)
    found = written(evening(demo.last_day + dt.timedelta(days=1)))
    slips = {code: said for (kind, code), said in found.items() if kind == "everybody"}
    assert list(slips) == ["P10"]
    assert slips["P10"][0].startswith("After-use slip missing: 15 Cormorant")


def test_an_original_part_that_came_off_is_told_to_the_curator_at_once(demo: Event) -> None:
    card = JobCard.objects.filter(vehicle__code="V01", ended_at=None).first()
    JobCard.objects.filter(pk=card.pk).update(
        removes_original=True, original_label="R-118", original_shelf="D3"
    )
    noon = written(dt.datetime.combine(before(demo, 33), dt.time(12)))
    assert "Label R-118, shelf D3" in noon["curator at once", "P11"][0]


def test_who_is_not_in_for_a_week_is_told_when_he_is(demo: Event) -> None:
    from fleet.models import DayException

    day = thursday_before(demo, 5)
    assert ("lead", "P02") in written(evening(day))
    lead = Person.objects.get(code="P02")
    for n in range(1, 8):
        DayException.objects.update_or_create(
            person=lead, day=day + dt.timedelta(days=n), defaults={"is_in": False}
        )
    assert ("lead", "P02") not in written(evening(day))


def test_the_number_of_queries_does_not_grow(demo: Event, django_assert_num_queries) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from readiness.queries.reminders import told
    from tests.factories import CardFactory, DefectFactory, PartNeedFactory

    now = evening(thursday_before(demo, 5))
    with CaptureQueriesContext(connection) as one:
        told(now)
    vehicle = JobCard.objects.get(code="J01").vehicle
    for _ in range(3):
        card = CardFactory(vehicle=vehicle)
        DefectFactory(vehicle=vehicle)
        PartNeedFactory(card=card)
    with CaptureQueriesContext(connection) as three:
        told(now)
    assert len(three) == len(one)
