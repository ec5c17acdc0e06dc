"""Several people at one sheet at the same moment, on a real PostgreSQL."""

import pytest

from fleet.errors import Conflict
from maintenance.models import WhichResult, WhichSheet
from maintenance.services.submissions import once
from maintenance.services.which_part import which_open, which_result, which_undo
from tests.conftest import person_of
from tests.factories import VehicleFactory
from tests.maintenance.services.test_at_once import at_once, only_on_a_server  # noqa: F401 - a fixture
from tests.maintenance.which.conftest import RUN

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def hands():
    return person_of("mechanic"), person_of("lead")


@pytest.fixture
def sheet(hands):
    return which_open(by=hands[0], vehicle=VehicleFactory(systems=False), template="brakes-pull")


def test_all_results_of_two_people_go_in(sheet, hands):
    acts = [
        lambda t=t, r=r, by=hands[n % 2]: which_result(by=by, sheet=sheet, test=t, result=r)
        for n, (t, r) in enumerate(RUN.items())
    ]
    answers = at_once(*acts)
    assert [type(answer) for answer in answers] == [WhichResult] * 7
    assert dict(sheet.results.values_list("test", "result")) == RUN
    versions = sorted(sheet.results.values_list("in_version", flat=True))
    assert versions == list(range(2, 9))  # each saw the one before: none overwrote another
    assert WhichSheet.objects.get(pk=sheet.pk).version == 8


def test_of_two_results_for_one_test_one_stands_and_the_other_is_told(sheet, hands):
    answers = at_once(
        lambda: which_result(by=hands[0], sheet=sheet, test="T1", result="alike"),
        lambda: which_result(by=hands[1], sheet=sheet, test="T1", result="unequal"),
    )
    assert sorted(type(answer).__name__ for answer in answers) == ["Conflict", "WhichResult"]
    loser = next(answer for answer in answers if isinstance(answer, Conflict))
    assert "Take that back first" in loser.message
    assert sheet.results.count() == 1


def test_one_entry_sent_by_many_threads_counts_once(sheet, hands):
    def send():
        def do():
            return {"pk": which_result(by=hands[0], sheet=sheet, test="T1", result="alike").pk}

        return once(key="k", person=hands[0], act="which.result", payload={"result": "alike"}, do=do)

    answers = at_once(*[send] * 8)
    assert len({answer["pk"] for answer, _ in answers}) == 1
    assert sheet.results.count() == 1


def test_taken_back_by_two_at_once_is_taken_back_once(sheet, hands):
    row = which_result(by=hands[0], sheet=sheet, test="T1", result="alike")
    answers = at_once(*[lambda by=by: which_undo(by=by, result=row) for by in hands])
    assert len({answer.undone_by_id for answer in answers}) == 1
