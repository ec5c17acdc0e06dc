import datetime as dt

import pytest

from fleet.models import DayException, SignIn
from fleet.queries.days import coming_days, one_day
from tests.factories import PersonFactory

pytestmark = pytest.mark.django_db
NOW = dt.datetime(2026, 6, 3, 10, tzinfo=dt.UTC)  # a Wednesday
SATURDAY = dt.date(2026, 6, 6)


@pytest.fixture(autouse=True)
def at_noon(time_machine):
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def saturdays(mechanic):
    mechanic.patterns.create(weekday=5)
    return mechanic


def test_away_on_one_day(login, saturdays):
    answer = login(saturdays).post(
        "/workshop/days/", {"person": saturdays.pk, "first": "2026-06-06", "reason": "family", "is": "away"}
    )
    assert (answer.status_code, answer.url) == (302, "/workshop/days/")
    row = DayException.objects.get()
    assert (row.person, row.day, row.is_in, row.reason) == (saturdays, SATURDAY, False, "family")
    found = one_day(SATURDAY)
    assert ([p.person for p in found.coming], [p.person for p in found.away]) == ([], [saturdays])


def test_away_for_a_stretch_takes_only_the_work_days(login, saturdays):
    login(saturdays).post(
        "/workshop/days/", {"person": saturdays.pk, "first": "2026-06-04", "last": "2026-06-22", "is": "away"}
    )
    assert list(DayException.objects.values_list("day", flat=True)) == [
        SATURDAY,
        dt.date(2026, 6, 13),
        dt.date(2026, 6, 20),
    ]


def test_in_after_all(login, saturdays):
    browser = login(saturdays)
    browser.post("/workshop/days/", {"person": saturdays.pk, "first": "2026-06-06", "is": "away"})
    browser.post(
        "/workshop/days/", {"person": saturdays.pk, "first": "2026-06-06", "last": "2026-06-07", "is": "in"}
    )
    assert [(d.day, [p.how for p in d.coming]) for d in coming_days(SATURDAY, weeks=1)] == [
        (SATURDAY, ["meant"]), (dt.date(2026, 6, 7), ["added"]),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"first": "2026-06-04"}, "not down to be in then"),
        ({"first": "2026-06-02"}, "That day is over"),
        ({"first": "2026-06-06", "last": "2026-06-05"}, "before the first day"),
        ({"first": "2026-06-06", "last": "2027-06-05"}, "At most 92 days"),
        ({"first": "sometime"}, "Enter a valid date"),
    ],
)
def test_a_day_that_is_refused(login, saturdays, typed, said):
    page = login(saturdays).post(
        "/workshop/days/", {"person": saturdays.pk, "is": "away", "reason": "family", **typed}
    )
    assert page.status_code == 422
    assert said in page.content.decode()
    assert 'value="family"' in page.content.decode()
    assert not DayException.objects.exists()


def test_only_the_coordinator_speaks_for_others(login, saturdays, driver, coordinator):
    typed = {"person": saturdays.pk, "first": "2026-06-06", "is": "away"}
    assert login(driver).post("/workshop/days/", typed).status_code == 422
    assert not DayException.objects.exists()
    assert login(coordinator).post("/workshop/days/", typed).status_code == 302
    assert DayException.objects.get().person == saturdays


def test_the_week_of_a_person(login, mechanic):
    browser, address = login(mechanic), f"/people/{mechanic.pk}/days/"
    assert (
        browser.post(
            address, {"in_5": "on", "weeks_5": "1", "in_2": "on", "weeks_2": "2", "from_2": "2026-06-03"}
        ).url
        == "/me/"
    )
    rows = list(mechanic.patterns.order_by("weekday").values_list("weekday", "every_weeks", "counted_from"))
    assert rows == [(2, 2, dt.date(2026, 6, 3)), (5, 1, None)]
    browser.post(address, {"in_2": "on", "weeks_2": "2", "from_2": "2026-06-03"})
    assert list(mechanic.patterns.values_list("weekday", flat=True)) == [2]


def test_a_second_week_needs_its_day_and_nothing_half_is_kept(login, mechanic):
    page = login(mechanic).post(
        f"/people/{mechanic.pk}/days/", {"in_1": "on", "weeks_1": "1", "in_5": "on", "weeks_5": "2"}
    )
    assert page.status_code == 422
    assert "from which day" in page.content.decode()
    assert "<details open>" in page.content.decode()
    assert not mechanic.patterns.exists()


def test_every_second_week_is_shown_every_second_week(mechanic):
    mechanic.patterns.create(weekday=5, every_weeks=2, counted_from=SATURDAY)
    assert [d.day for d in coming_days(NOW.date(), weeks=4)] == [SATURDAY, SATURDAY + dt.timedelta(days=14)]


def test_those_who_left_are_not_expected(mechanic):
    mechanic.patterns.create(weekday=5)
    mechanic.left_on = dt.date(2026, 6, 10)
    mechanic.save()
    assert [d.day for d in coming_days(NOW.date())] == [SATURDAY]


# ---- the sheet ----


def test_ticking_who_came(login, saturdays, lead, time_machine):
    time_machine.move_to(dt.datetime(2026, 6, 6, 12, tzinfo=dt.UTC), tick=False)
    browser = login(lead)
    assert (
        browser.post(
            "/workshop/days/2026-06-06/came/", {"person": saturdays.pk, "came": "yes", "arrived": "10:05"}
        ).status_code
        == 302
    )
    row = SignIn.objects.get()
    assert (row.person, row.day, row.came, row.arrived) == (saturdays, SATURDAY, True, dt.time(10, 5))
    assert "<b>Came</b> 10:05" in browser.get("/workshop/days/2026-06-06/").content.decode()
    browser.post("/workshop/days/2026-06-06/came/", {"person": saturdays.pk, "came": "no"})
    assert SignIn.objects.get().came is False


def test_one_who_was_not_expected(login, lead, time_machine):
    time_machine.move_to(dt.datetime(2026, 6, 6, 12, tzinfo=dt.UTC), tick=False)
    extra = PersonFactory(name="Una Marsh")
    login(lead).post("/workshop/days/2026-06-06/came/", {"person": extra.pk, "came": "yes"})
    assert [p.person for p in one_day(SATURDAY).unasked] == [extra]


def test_everybody_ticks_themselves_and_the_rest_is_for_the_lead(login, saturdays, driver, time_machine):
    time_machine.move_to(dt.datetime(2026, 6, 6, 12, tzinfo=dt.UTC), tick=False)
    where = "/workshop/days/2026-06-06/came/"
    assert login(saturdays).post(where, {"person": saturdays.pk, "came": "yes"}).status_code == 302
    assert login(driver).post(where, {"person": saturdays.pk, "came": "no"}).status_code == 403
    assert SignIn.objects.get().came is True
    assert [p.pk for p in login(driver).get("/workshop/days/2026-06-06/").context["others"]] == [driver.pk]


@pytest.mark.parametrize(
    ("day", "typed", "said"),
    [
        ("2026-06-06", {"came": "yes"}, "has not come yet"),
        ("2026-06-03", {"came": "maybe"}, "Select a valid choice"),
        ("2026-06-03", {"came": "yes", "arrived": "14:00", "left": "10:00"}, "Left before arriving"),
    ],
)
def test_a_tick_that_is_refused(login, lead, saturdays, day, typed, said):
    page = login(lead).post(f"/workshop/days/{day}/came/", {"person": saturdays.pk, **typed})
    assert (page.status_code, said in page.content.decode()) == (422, True)
    assert not SignIn.objects.exists()


@pytest.mark.parametrize("day", ["2026-13-01", "tomorrow", "20260606x"])
def test_what_is_no_day_is_not_found(login, lead, day):
    assert login(lead).get(f"/workshop/days/{day}/").status_code == 404


def test_the_printed_sheet_lists_those_who_mean_to_come(login, saturdays, coordinator):
    away = PersonFactory(name="Una Marsh")
    away.patterns.create(weekday=5)
    away.day_exceptions.create(day=SATURDAY)
    page = login(coordinator).get("/workshop/days/2026-06-06/print/").content.decode()
    assert "<td>Asta Finch</td>" in page
    assert "Said they are away: Una Marsh." in page
    assert "Printed Wed 3 June, 11:00" in page


def test_an_empty_day_and_an_empty_calendar_say_so(login, lead):
    browser = login(lead)
    assert "Nobody is down to be in" in browser.get("/workshop/days/").content.decode()
    assert "Nobody is down for this day" in browser.get("/workshop/days/2026-06-03/").content.decode()
