"""Ten thousand rows cost a few statements a table, never one a row."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from maintenance.models import WorkLog
from readiness.exchange import import_folder
from tests.exchange.small import told

ROWS = 10_000


def big(rows: int) -> dict[str, bytes]:
    vehicles = "".join(f"V{n},{n},Name {n},bus\n" for n in range(20))
    jobs = "".join(f"J{n},V{n % 20},BRK,Job {n},2C,STOP:reduced,1,2,4,fitting\n" for n in range(rows // 4))
    hours = "".join(
        f"J{n % (rows // 4)},P{n % 5},2027-03-{n % 28 + 1:02d},1.5,{n} of {rows}\n" for n in range(rows)
    )
    return {
        "people.csv": (
            "code,name,roles,skills\n" + "".join(f"P{n},Person {n},mechanic,fitting\n" for n in range(5))
        ).encode(),
        "vehicles.csv": ("code,number,name,kind\n" + vehicles).encode(),
        "jobs.csv": (
            "code,vehicle,subsystem,title,rating,effects,hours_best,hours_usual,hours_bad,skills\n" + jobs
        ).encode(),
        "hours.csv": ("job,person,day,hours,note\n" + hours).encode(),
    }


def selects(files: dict[str, bytes]) -> tuple[int, int]:
    with CaptureQueriesContext(connection) as caught:
        report = import_folder(files)
    assert told(report) == []
    written = sum(query["sql"].startswith(("INSERT", "UPDATE", "DELETE")) for query in caught)
    return len(caught) - written, written


@pytest.mark.django_db
def test_the_number_of_statements_does_not_grow_with_the_rows():
    small_reads, _ = selects(big(40))
    reads, writes = selects(big(ROWS))
    assert WorkLog.objects.count() == ROWS + 40
    assert reads <= small_reads + 5
    made = ROWS + 4 * (ROWS // 4)  # hours; jobs, their defects, effects and links
    assert writes < made / 50
    again_reads, again_writes = selects(big(ROWS))
    assert (again_reads <= reads, again_writes) == (True, 0)
