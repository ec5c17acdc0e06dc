"""The board and the vehicle page: what they say, what they cost, and that they follow the work by themselves."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.models import Person, Vehicle
from maintenance.models import Defect
from readiness.models import Event
from readiness.queries.board import board
from readiness.services import assessing
from readiness.views.board import takers

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(demo: Event, client: Client) -> Client:
    client.force_login(Person.objects.get(username="odette"))
    return client


def queries(client: Client, path: str) -> int:
    client.get(path)
    with CaptureQueriesContext(
        connection,
    ) as caught:
        assert client.get(path).status_code == 200
    return len(caught)


def test_groups_and_order(demo: Event) -> None:
    found = board(demo, assessing.latest(demo), takers())
    by_group = {g.title: [r.standing for r in g.rows] for g in found.groups}
    assert set(by_group["Needs a decision"]) <= {"barred", "unlikely", "doubtful", "unjudged"}
    assert set(by_group["In hand"]) <= {"likely"}
    assert set(by_group["On the rail"]) <= {"fit", "limits", "down"}
    assert sum(map(len, by_group.values())) == 18
    worst_first = ["barred", "unlikely", "doubtful", "unjudged"]
    needs = [worst_first.index(s) for s in by_group["Needs a decision"]]
    assert needs == sorted(needs)


def test_board_shows_every_vehicle_with_its_word(page: Client, demo: Event) -> None:
    html = page.get("/").content.decode()
    latest = assessing.latest(demo)
    assert latest is not None
    for row in latest.result["vehicles"]:
        block = re.search(rf'id="row-{row["vehicle"]}".*?</li>', html, flags=re.DOTALL)
        assert block is not None
        assert row["word"] in block.group(0)
        if row["percent"] is not None:
            assert f"<b>{row['percent']}</b>" in block.group(0)


def test_board_costs_the_same_with_more_vehicles(page: Client, demo: Event) -> None:
    before = queries(page, "/")
    assert before <= 8
    for n in range(5):
        Vehicle.objects.create(code=f"X{n}", number=f"9{n}9", name=f"More {n}", status="stood down")
    assessing.assess_wanted(force=True)
    assert queries(page, "/") == before


def test_vehicle_page_costs_the_same_with_more_work(page: Client, demo: Event) -> None:
    assert queries(page, "/vehicles/V02/") == queries(page, "/vehicles/V03/")  # three cards against six


def test_rows_answer_nothing_new_until_something_changes(page: Client, demo: Event) -> None:
    html = page.get("/").content.decode()
    seen = re.search(r"seen=([\d-]+)", html)
    assert seen is not None
    assert page.get(f"/board/rows/?seen={seen.group(1)}").status_code == 204
    Defect.objects.filter(vehicle__code="V10").update(state="cleared")
    assessing.assess_wanted(force=True)
    answer = page.get(f"/board/rows/?seen={seen.group(1)}")
    assert answer.status_code == 200
    assert "<html" not in answer.content.decode()


def test_filter_shows_only_what_was_asked(page: Client) -> None:
    html = page.get("/?show=barred").content.decode()
    assert 'id="row-V06"' in html
    assert 'id="row-V10"' not in html


def test_how_it_is_worked_out_gives_every_reason(page: Client, demo: Event) -> None:
    html = page.get("/how/HWW/").content.decode()
    latest = assessing.latest(demo)
    assert latest is not None
    for code in {r["code"] for e in latest.result["entries"] for r in e["reasons"]}:
        assert code in html
    assert str(latest.seed) in html


def test_one_assessment_feeds_board_vehicle_page_and_command(page: Client, demo: Event) -> None:
    latest = assessing.latest(demo)
    assert latest is not None
    again = assessing.assess_event(demo, at=None)
    kept = {e["id"]: e["word"] for e in latest.result["entries"]}
    assert {e["id"]: e["word"] for e in again["entries"]} == kept
    row = next(v for v in latest.result["vehicles"] if v["vehicle"] == "V08")
    html = page.get("/vehicles/V08/").content.decode()
    assert f"{row['percent']} in 100" in html
