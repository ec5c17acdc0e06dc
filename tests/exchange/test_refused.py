"""What is refused because of what is on file already, and what is taken with a warning."""

import pytest

from maintenance.models import JobCard, Tag
from readiness.models import Crew
from tests.exchange.small import bring, only, told
from tests.exchange.test_errors import DF, J, S, X

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("table", "column", "words"),
    [
        (
            "meters",
            "vehicle,kind,read_at,shown\nV1,km,EV-20 09:00,18240\n",
            "stands on file as 18230.5 and is never changed by a table",
        ),
        ("defects", "code,rating\nJ1,2D\n", "stands on file as 2C and is never changed by a table"),
        (
            "deferrals",
            "code,ends_on\nD1,EV+90\n",
            "stands on file as 2027-07-02 and is never changed by a table",
        ),
        (
            "deferrals",
            "code,limits\nD1,daylight only\n",
            "stands on file as daylight only; text: look at it and is never changed by a table",
        ),
    ],
)
def test_what_was_read_rated_or_signed_is_not_rewritten(table, column, words):
    bring()
    report = only(**{table: column})
    assert [problem.words for problem in report.errors] == [words]


def test_an_ended_job_is_not_opened_again_by_a_table():
    bring()
    JobCard.objects.filter(code="J1").update(state="passed")
    report = only(jobs="code,state\nJ1,in hand\n")
    assert [problem.words for problem in report.errors] == [
        "the job has ended; a table does not open it again (state passed -> in hand)"
    ]


def test_a_late_reading_must_fit_between_its_neighbours():
    bring()
    report = only(meters="vehicle,kind,read_at,shown\nV1,km,EV-25 09:00,19000\n")
    assert [(p.row, p.column) for p in report.errors] == [(2, "shown")]
    assert told(only(meters="vehicle,kind,read_at,shown\nV1,km,EV-25 09:00,18210\n")) == []


WARNINGS = {
    "too few signers": (
        {"deferrals": DF + "D1,J2,3B,3B,daylight only,waits for parts,EV-20,P1 as lead,EV+1\n", "ticks": None},
        "deferrals", "signers", "rated Serious: The manager must sign first. Until then it is no deferral",
    ),
    "signs in a role not held": (
        {"deferrals": DF + "D1,J2,4B,4C,daylight only,waits for parts,EV-20,P3 as lead,EV+1\n", "ticks": None},
        "deferrals", "signers", "Ivo Quist signs as lead and has not that role",
    ),
    "longer than the ladder": (
        {"deferrals": DF + "D1,J2,4A,4B,daylight only,waits for parts,EV-20,P1 as lead,EV+80\n", "ticks": None},
        "deferrals", "ends_on", "longer than the ladder allows: it ends on 2027-08-21 all the same",
    ),
    "carried forward without a word": (
        {"jobs": J + "J1,V1,,Pulls,2C,STOP:reduced,,,,,,carried forward,\n", **X},
        "jobs", "state", "carried forward, and nothing in deferrals says until when and with which limits",
    ),
    "limit without a source": (
        {"measures": "vehicle,system,name,judgement,high\nV1,BRK,bore,max,9\n"},
        "measures", "source", "the limit has no source: nobody can tell later where the figure came from",
    ),
    "two duties at once": (
        {
            "slots": S + "EV,S1,Ring,arena,EV 11:00,11:30\nEV,S2,Road,road,EV 11:15,13:00\n",
            "crew": "event,slot,vehicle,duty,person\nEV,S1,V1,driver,P3\nEV,S2,V1,driver,P3\n",
        },
        "crew", "person", "P3 has two duties at the same time: EV / S1 / 2027-06-12 and EV / S2 / 2027-06-12",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", WARNINGS)
def test_what_is_taken_with_a_warning(case):
    changed, table, column, words = WARNINGS[case]
    report = bring(**changed)
    assert told(report) == []
    assert report.written
    assert [(p.table, p.column, p.words) for p in report.warnings] == [(table, column, words)]


def test_touching_slots_are_no_clash():
    report = bring(
        slots=S + "EV,S1,Ring,arena,EV 11:00,11:30\nEV,S2,Road,road,EV 11:30,13:00\n",
        crew="event,slot,vehicle,duty,person\nEV,S1,V1,driver,P3\nEV,S2,V1,driver,P3\n",
    )
    assert report.warnings == []
    assert Crew.objects.count() == 2


def test_the_lead_may_have_lifted_a_tag():
    assert (
        told(
            bring(tags="vehicle,stub,job,placed_at,lifted_at,lifted_by\nV1,T1,J1,EV-9 09:00,EV-8 09:00,P1\n")
        )
        == []
    )
    assert Tag.objects.get().reason == "Pulls left"


def test_many_wrong_names_do_not_make_it_slow():
    rows = "".join(f"P{n},Q{n}\n" for n in range(200))
    report = only(
        people="code,name\n" + "".join(f"P{n},Name {n}\n" for n in range(200)),
        work_days="person,weekday\n" + rows,
    )
    assert len(report.errors) == 200
    assert sum(1 for problem in report.errors if problem.right) <= 200
