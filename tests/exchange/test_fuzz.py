"""Whatever stands in a table, the answer is a report: never an error of the program, and all or nothing."""

import csv
import io

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.models import Act
from readiness.exchange import TABLES, import_folder
from tests.exchange.small import bring, tables

SHOWN = [name for name, table in TABLES.items() if not table.hidden]
CELLS = [
    "", "-", "'-", "=1+1", "V1", "V2", "P1", "P3", "J1", "J2", "D1", "EV", "EV-3", "EV+1 12:00", "S1", "I1", "HVW-3", "2027-06-12", "2027-06-12 11:00",
    "9999-12-31", "0001-01-01 00:00", "11:30", "25:00", "yes", "no", "1", "-1", "0.5", "99999999999999999999", "1e400", "NaN", "1.23456", "2C", "1A", "4F",
    "STOP:lost", "STOP:reduced HOLD:watch", "brakes; petrol", "; ; ;", "\\", "max speed=123456789.12", "named driver=P3", "text: look at it", "daylight only",
    "P1 as lead; P2 as manager", "km", "drive", "inspect", "booked in", "held", "arena", "driver", "!", "a=b", "{}", "[1", "Europe/London", "Monday",
    "x" * 500, "\x07", "ü\u202e", "V1 / BRK", "J1 #2", "brake reading", "on order", "min", "functional",
]  # fmt: skip


@st.composite
def sheets(draw):
    files = tables()
    for name in draw(st.lists(st.sampled_from(SHOWN), min_size=1, max_size=3, unique=True)):
        columns = [column.name for column in TABLES[name].columns]
        chosen = draw(st.lists(st.sampled_from(columns), min_size=1, max_size=len(columns), unique=True))
        needed = [
            column.name for column in TABLES[name].columns if column.required and column.name not in chosen
        ]
        header = [*chosen, *needed]
        rows = draw(
            st.lists(
                st.lists(st.sampled_from(CELLS), min_size=len(header), max_size=len(header)),
                min_size=1,
                max_size=3,
            )
        )
        text = io.StringIO(newline="")
        writer = csv.writer(text)
        writer.writerow(header)
        writer.writerows(rows)
        files[f"{name}.csv"] = text.getvalue().encode()
    return files


@pytest.mark.django_db
@settings(
    max_examples=120,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(sheets())
def test_any_cells_in_any_tables(files):
    if not Act.objects.exists():
        bring()
    acts = Act.objects.count()
    report = import_folder(files)
    assert report.ok is report.written
    assert [problem for problem in report.errors if problem.table == "database"] == []
    if not report.ok:
        assert Act.objects.count() == acts
        assert all(str(problem) for problem in report.errors)


@pytest.mark.django_db
@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(SHOWN), st.binary(max_size=200), st.sampled_from([".csv", ".xlsx"]))
def test_any_bytes_in_any_file(name, content, suffix):
    report = import_folder({name + suffix: content}, dry_run=True)
    assert report.written is False
