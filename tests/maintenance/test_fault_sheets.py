"""Every shipped sheet holds together, leads somewhere, and shows its cautions first."""

import math

import pytest

from maintenance.fault_finding import finding, next_tests, posterior
from maintenance.fault_sheet import Cause, by_cause
from maintenance.sheets import SHEETS

ALL = pytest.mark.parametrize("sheet", SHEETS.values(), ids=list(SHEETS))


def test_the_list():
    assert list(SHEETS) == [
        "brakes-pull",
        "hard-hot-start",
        "no-start",
        "overheating",
        "low-oil-pressure",
        "twin-ignition",
        "charging",
        "smoke",
        "steering-wander",
        "brake-air-loss",
        "track-pulls",
        "ram-creeps",
    ]


def typical(sheet, cause):
    """The likeliest result of every test, were this the cause."""
    place = [one.key for one in sheet.causes].index(cause)
    return {test.key: max(test.table, key=lambda result: test.table[result][place]) for test in sheet.tests}


@ALL
def test_typical_results_of_a_cause_lead_to_it(sheet):
    for cause in sheet.causes:
        chances = posterior(sheet, typical(sheet, cause.key))
        assert max(chances, key=chances.get) == cause.key
        assert chances[cause.key] > 0.5
        assert finding(sheet, typical(sheet, cause.key)).code in {"found", "cannot-tell"}


@ALL
def test_every_test_tells_something_and_can_be_reached(sheet):
    offered = set()
    known = {}
    while ahead := next_tests(sheet, known):
        offered |= {one.key for one in ahead}
        assert ahead[0].bits >= 0
        test = sheet.test(ahead[0].key)
        known[test.key] = next(iter(test.table))
    assert offered == {test.key for test in sheet.tests}
    for test in sheet.tests:
        assert len(set(zip(*test.table.values(), strict=True))) > 1, (
            f"{test.key} says the same for every cause"
        )


@ALL
def test_cautions_and_acts_are_there(sheet):
    assert sheet.cautions
    for text in (*sheet.cautions, *(text for test in sheet.tests for text in test.cautions)):
        assert text.startswith(("WARNING. ", "CAUTION. "))
    assert all(cause.act.endswith(".") for cause in sheet.causes)
    assert math.fsum(cause.chance for cause in sheet.causes) == pytest.approx(1)


def test_a_result_that_must_stop_the_vehicle_stops_it():
    assert finding(SHEETS["smoke"], {"colour": "white, sweet or wet"}).stop
    assert finding(SHEETS["low-oil-pressure"], {"filter": "bright metal"}).stop
    assert not finding(SHEETS["smoke"], {"colour": "black"}).stop


def test_tables_by_cause():
    causes = (Cause(key="a", name="a", chance=0.5), Cause(key="b", name="b", chance=0.5))
    assert by_cause(causes, ("yes", "no"), (0.1, 0.9), b=(0.8, 0.2)) == {"yes": (0.1, 0.8), "no": (0.9, 0.2)}
    with pytest.raises(ValueError, match="No cause c"):
        by_cause(causes, ("yes", "no"), (0.1, 0.9), c=(0.8, 0.2))
