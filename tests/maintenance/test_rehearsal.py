"""Playing a sheet with a known fault: every shipped sheet reaches its causes, or names what it cannot part."""

import math

import pytest

from maintenance.fault_finding import expected_minutes, finding, next_tests, posterior
from maintenance.fault_sheet import Cause, Sheet, Test, two
from maintenance.rehearsal import FOUND_OFTEN, rehearse
from maintenance.sheets import SHEETS

PLAYS = 2000
ALL = pytest.mark.parametrize("sheet", SHEETS.values(), ids=list(SHEETS))


@ALL
def test_every_cause_is_reached_or_its_pair_is_named(sheet):
    played = rehearse(sheet, plays=PLAYS, seed=1)
    assert [one.cause for one in played.causes] == [cause.key for cause in sheet.causes]
    for one in played.causes:
        assert one.found + one.wrong + one.untold == pytest.approx(1)
        if one.found < FOUND_OFTEN:
            assert one.mixed_with in {cause.key for cause in sheet.causes} - {one.cause}, one


@ALL
def test_a_sheet_can_end_on_each_of_its_causes_or_on_its_pair(sheet):
    """Under the likeliest results of a cause the search ends naming it, alone or beside what it cannot be parted from."""
    for place, cause in enumerate(sheet.causes):
        best = {test.key: max(test.table, key=lambda r, t=test: t.table[r][place]) for test in sheet.tests}
        end = finding(sheet, best)
        assert cause.key in end.causes, (cause.key, end)


@ALL
def test_the_plays_agree_with_walking_every_outcome(sheet):
    minutes, found = expected_minutes(sheet)
    played = rehearse(sheet, plays=PLAYS, seed=7)
    # Each cause is played alike often and weighed by its chance; minutes spread by less than their own mean.
    error = math.sqrt(sum(cause.chance**2 for cause in sheet.causes) / PLAYS)
    ended = sum(
        (one.found + one.wrong) * cause.chance for one, cause in zip(played.causes, sheet.causes, strict=True)
    )
    assert ended == pytest.approx(found, abs=4 * 0.5 * error)
    assert played.minutes == pytest.approx(minutes, abs=4 * minutes * error)


def test_the_same_seed_plays_the_same():
    sheet = SHEETS["charging"]
    assert rehearse(sheet, plays=300, seed=5) == rehearse(sheet, plays=300, seed=5)
    assert rehearse(sheet, plays=300, seed=5) != rehearse(sheet, plays=300, seed=6)


def test_twins_are_named_as_a_pair():
    table = two("yes", "no", (0.95, 0.95, 0.02))
    sheet = Sheet(
        key="s",
        name="s",
        causes=tuple(Cause(key=k, name=k, chance=c) for k, c in (("a", 0.4), ("b", 0.4), ("c", 0.2))),
        tests=(Test(key="t", name="t", minutes=5, table=table),),
    )
    played = {one.cause: one for one in rehearse(sheet, plays=400, seed=1).causes}
    assert (played["a"].reached, played["a"].mixed_with) == (False, "b")
    assert (played["b"].reached, played["b"].mixed_with) == (False, "a")


def test_a_sure_test_finds_every_cause_every_time():
    sure = two("yes", "no", (1 - 1e-9, 1e-9))
    sheet = Sheet(
        key="s",
        name="s",
        causes=(Cause(key="a", name="a", chance=0.5), Cause(key="b", name="b", chance=0.5)),
        tests=(Test(key="t", name="t", minutes=5, table=sure),),
    )
    for one in rehearse(sheet, plays=200, seed=1).causes:
        assert (one.found, one.minutes, one.minutes_found, one.mixed_with) == (1, 5, 5, "")


def test_a_fixed_order_is_followed():
    sheet = SHEETS["brakes-pull"]
    order = ["T6", "T7", "T1", "T2", "T3", "T4", "T5"]
    dear = rehearse(sheet, plays=300, seed=1, order=order)
    assert all(one.minutes >= 60 for one in dear.causes)  # the drum comes off first
    assert next_tests(sheet, {})[0].key != "T6"
    assert posterior(sheet, {})["C2"] == pytest.approx(0.2)


def test_a_higher_stopping_chance_takes_longer():
    sheet = SHEETS["low-oil-pressure"]
    usual, sure = (rehearse(sheet, plays=500, seed=3, stop_at=stop) for stop in (0.8, 0.97))
    assert usual.minutes < sure.minutes


def test_no_plays_are_refused():
    with pytest.raises(ValueError, match="once or more"):
        rehearse(SHEETS["smoke"], plays=0, seed=1)
