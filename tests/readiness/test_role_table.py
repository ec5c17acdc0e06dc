"""The role table is the museum's own: changed on a page, obeyed by the gates at once, put back with one press."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.test import Client

from fleet.models import Act, Person
from readiness.apps import fill_role_table
from readiness.engine.roles import default_table
from readiness.models import Event, RoleRule
from readiness.services import assessing
from readiness.services.role_table import current_table, role_table_restore, role_table_set

pytestmark = pytest.mark.django_db


def word(demo: Event, vehicle: str, slot: str) -> set[str]:
    return {
        e["word"]
        for e in assessing.assess_event(demo)["entries"]
        if (e["vehicle"], e["slot"]) == (vehicle, slot)
    }


def test_the_shipped_table_is_what_a_new_museum_starts_with(db: None) -> None:
    assert {
        (r.role, r.subject, r.code): (r.demand, r.count) for r in RoleRule.objects.all()
    } == default_table()
    RoleRule.objects.all().delete()
    assert current_table() == default_table()
    fill_role_table(None, "default")
    assert RoleRule.objects.count() == len(default_table())
    RoleRule.objects.filter(role="static", code="STOP").update(demand="R")
    fill_role_table(None, "default")
    assert current_table()["static", "function", "STOP"] == ("R", 1)  # what the museum has set stays


def test_the_gates_obey_a_changed_cell_and_one_press_puts_it_back(demo: Event) -> None:
    lead = Person.objects.get(username="wilmot")
    assert word(demo, "V07", "S1") == {"Fit with limits"}
    assert role_table_set(by=lead, demands={("static", "function", "STOP"): "!"}) == 1
    assert word(demo, "V07", "S1") <= {
        "Likely",
        "Doubtful",
        "Unlikely",
    }  # its servo is slow, and static display asks now
    assert Act.objects.filter(act="rules.change", by=lead).count() == 1
    assert role_table_restore(by=lead) == 1
    assert word(demo, "V07", "S1") == {"Fit with limits"}


def test_what_is_no_demand_or_no_cell_is_refused_and_nothing_is_written(demo: Event) -> None:
    lead = Person.objects.get(username="wilmot")
    for demands in ({("static", "function", "STOP"): "X"}, {("static", "function", "NOPE"): "!"}):
        with pytest.raises(ValidationError):
            role_table_set(by=lead, demands={("static", "function", "HOLD"): "!"} | demands)
    assert current_table()["static", "function", "HOLD"] == ("n", 1)


def test_on_the_page(demo: Event, client: Client) -> None:
    client.force_login(Person.objects.get(username="hamish"))
    page = client.get("/role-table/")
    assert page.status_code == 200
    answer = client.post("/role-table/", {"static|function|STOP": "R"}, follow=True)
    assert "1 cells changed" in answer.content.decode()
    assert current_table()["static", "function", "STOP"][0] == "R"
    wrong = client.post("/role-table/", {"static|function|STOP": "yes"})
    assert wrong.status_code == 422
    client.post("/role-table/", {"restore": "1"})
    assert current_table()["static", "function", "STOP"][0] == "-"


def test_only_lead_and_manager_change_it(demo: Event, client: Client) -> None:
    mechanic = Person.objects.get(username="jarek")
    with pytest.raises(PermissionDenied):
        role_table_set(by=mechanic, demands={("static", "function", "STOP"): "!"})
    client.force_login(mechanic)
    assert client.post("/role-table/", {"static|function|STOP": "!"}).status_code == 403
    assert (
        "<select"
        not in client.get("/role-table/").content.decode().split('<form method="post" class="frm"')[1]
    )
