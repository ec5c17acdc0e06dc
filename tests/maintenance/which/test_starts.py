"""Sheets to start from: copied per kind, changed under a live check, played with a known fault."""

import copy
import re
from html import unescape

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse

from fleet.errors import Conflict
from fleet.models import VehicleKind
from maintenance.models import WhichRehearsal, WhichTemplate
from maintenance.queries.which_part import start_of, starts_for, which_detail
from maintenance.queries.which_part_page import which_page
from maintenance.services.which_part import which_open
from maintenance.services.which_templates import (
    rehearsal_ask,
    rehearsal_run,
    rehearsals_left,
    template_copy,
    template_save,
)
from maintenance.sheets import SHEETS
from maintenance.tasks import play_sheet
from maintenance.which_sheet import check, sheet_of
from maintenance.which_shipped import EDGES, LEANS, REPAIR, shipped
from tests.factories import VehicleFactory
from tests.maintenance.desk.handing_in import text

pytestmark = pytest.mark.django_db


@pytest.fixture
def own(lead):
    return template_copy(by=lead, based_on="ram-creeps")


def fields(page) -> dict[str, str]:
    """Every control of the editor as the browser would send it."""
    html = re.search(r'<form class="frm wedit".*?</form>', page.content.decode(), re.DOTALL)[0]
    data = {}
    for tag in re.findall(r"<input[^>]*>", html):
        name = re.search(r'name="([^"]*)"', tag)
        if name and ('type="checkbox"' not in tag or " checked" in tag):
            value = re.search(r'value="([^"]*)"', tag)
            data[name[1]] = value[1] if value else "on"
    for name, rows in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', html, re.DOTALL):
        picked = re.search(r'value="([^"]*)" selected', rows)
        data[name] = picked[1] if picked else ""
    data |= dict(re.findall(r'<textarea[^>]*name="([^"]*)"[^>]*>(.*?)</textarea>', html, re.DOTALL))
    return {name: unescape(value) for name, value in data.items()}


@pytest.mark.parametrize("key", SHEETS)
def test_shipped_sheets_survive_being_kept(key):
    kept = shipped(key)
    sheet, again = SHEETS[key], sheet_of(kept)
    assert {c.key: c.chance for c in again.causes} == {c.key: c.chance for c in sheet.causes}
    assert [dict(test.table) for test in again.tests] == [dict(test.table) for test in sheet.tests]
    assert check(kept).wrong == ()


def test_edges_leans_and_minutes_name_what_their_sheets_have():
    for key, edges in EDGES.items():
        for test, edge in edges.items():
            assert {edge["within"], edge["past"]} == set(SHEETS[key].test(test).table)
    for key, minutes in REPAIR.items():
        assert set(minutes) == {cause.key for cause in SHEETS[key].causes}
    for key, leans in LEANS.items():
        for lean in leans:
            causes, tests = {c.key for c in SHEETS[key].causes}, {t.key for t in SHEETS[key].tests}
            assert lean.get("cause", "") in {"", *causes}
            assert lean.get("test", "") in {"", *tests}


def test_a_copy_of_a_kind_is_offered_to_that_kind_only(lead, vehicle):
    other = next(value for value in VehicleKind.values if value != vehicle.kind)
    row = template_copy(by=lead, based_on="charging", kind=vehicle.kind)
    far = VehicleFactory(code="V02", number="B 03", kind=other)
    here = {one.value for one in starts_for(vehicle)}
    assert f"own-{row.pk}" in here
    assert "shipped-charging" not in here
    there = {one.value for one in starts_for(far)}
    assert "shipped-charging" in there
    assert f"own-{row.pk}" not in there
    with pytest.raises(ValidationError, match="here already"):
        template_copy(by=lead, based_on="charging", kind=vehicle.kind)
    with pytest.raises(ValidationError, match="no such sheet"):
        template_copy(by=lead, based_on="nothing")
    with pytest.raises(ValidationError, match="no such kind"):
        template_copy(by=lead, based_on="charging", kind="balloon")
    assert (start_of("own-x"), start_of("shipped-x"), start_of("")) == (None, None, None)


def test_only_the_lead_changes_sheets(mechanic, own):
    with pytest.raises(PermissionDenied):
        template_copy(by=mechanic, based_on="smoke")
    with pytest.raises(PermissionDenied):
        template_save(by=mechanic, template=own, definition=own.definition)
    with pytest.raises(PermissionDenied):
        rehearsal_ask(by=mechanic, template=own)


def test_the_editor_hands_back_what_it_showed(own, lead, login):
    client, url = login(lead), reverse("maintenance:which_template", args=[own.pk])
    before = copy.deepcopy(own.definition)
    assert client.post(url, fields(client.get(url))).status_code == 302
    own.refresh_from_db()
    assert {**own.definition, "stop_at": None} == {**before, "stop_at": None}
    assert own.definition["stop_at"] == 0.9
    assert own.version == 2


def test_a_sheet_that_does_not_add_up_is_refused_and_said(own, lead, login):
    client, url = login(lead), reverse("maintenance:which_template", args=[own.pk])
    data = {**fields(client.get(url)), "c-0-chance": "99"}
    looked = client.post(f"{url}look/", data)
    assert "The chances of the causes add to" in text(looked)
    answer = client.post(url, data)
    assert answer.status_code == 422
    assert 'value="99"' in answer.content.decode()
    assert WhichTemplate.objects.get(pk=own.pk).version == 1
    assert client.post(url, {**data, "scale": "on"}).status_code == 302
    own.refresh_from_db()
    assert sum(one["chance"] for one in own.definition["causes"]) == pytest.approx(1)


def test_the_live_check_names_a_test_that_separates_nothing(own, lead, login):
    client, url = login(lead), reverse("maintenance:which_template", args=[own.pk])
    data = fields(client.get(url))
    first = own.definition["tests"][0]
    for cause in range(len(own.definition["causes"])):
        data |= {f"t-0-r-0-c-{cause}": "40", f"t-0-r-1-c-{cause}": "60"}
    assert f"{first['name']}: separates nothing" in text(client.post(f"{url}look/", data))
    assert WhichTemplate.objects.get(pk=own.pk).version == 1  # looked at, not written


def test_causes_and_tests_are_added_and_taken_away(own, lead, login):
    client, url = login(lead), reverse("maintenance:which_template", args=[own.pk])
    causes, tests = len(own.definition["causes"]), len(own.definition["tests"])
    data = fields(client.get(url)) | {
        f"c-{causes}-name": "Rod bent", f"c-{causes}-chance": "5", "c-0-name": "", f"t-{tests}-name": "Look along the rod",
        f"t-{tests}-minutes": "5", f"t-{tests}-r-0-name": "bent", f"t-{tests}-r-1-name": "straight", "scale": "on",
    }  # fmt: skip
    answer = client.post(url, data)
    assert answer.status_code == 422  # every column of a new test is still nought
    data |= {f"t-{tests}-r-{r}-c-{c}": v for c in range(causes) for r, v in enumerate(("10", "90"))}
    assert client.post(url, data).status_code == 302
    own.refresh_from_db()
    assert [one["name"] for one in own.definition["causes"]][-1] == "Rod bent"
    assert len(own.definition["causes"]) == causes
    new = own.definition["tests"][-1]
    assert (new["key"], new["minutes"]) == ("look-along-the-rod", 5)
    assert [row["chances"][-1] for row in new["results"]] == [0.5, 0.5]
    assert sheet_of(own.definition)


def test_the_usual_order_is_set_by_its_places(own, lead, login):
    client, url = login(lead), reverse("maintenance:which_template", args=[own.pk])
    keys = [one["key"] for one in own.definition["tests"]]
    assert client.post(url, fields(client.get(url)) | {"t-0-order": str(len(keys) + 1)}).status_code == 302
    own.refresh_from_db()
    assert [one["key"] for one in own.definition["tests"]] == [*keys[1:], keys[0]]


def test_figures_that_are_none_are_said(own, lead, login):
    client, url = login(lead), reverse("maintenance:which_template", args=[own.pk])
    data = fields(client.get(url)) | {"c-0-chance": "a lot", "stop": "120"}
    said = text(client.post(url, data))
    assert "“a lot” is not a number" in said
    assert "The chance at which to stop lies between 0 and 100%" in said


def test_the_second_of_two_editors_is_told(own, lead, login):
    client, url = login(lead), reverse("maintenance:which_template", args=[own.pk])
    first, second = fields(client.get(url)), fields(client.get(url))
    assert client.post(url, first).status_code == 302
    answer = client.post(url, second)
    assert answer.status_code == 422
    assert "was changed by another" in text(answer)
    with pytest.raises(Conflict):
        template_save(by=lead, template=own, definition=own.definition, expected_version=1)


def test_an_open_sheet_keeps_its_copy(own, lead, vehicle, museum):
    row = which_open(by=lead, vehicle=vehicle, template=own)
    changed = copy.deepcopy(own.definition)
    changed["name"] = "Ladder sinks"
    template_save(by=lead, template=own, definition=changed)
    row.refresh_from_db()
    assert row.definition["name"] == "Ram creeps down"


def test_the_stopping_chance_of_a_sheet_counts(own, lead, vehicle, museum):
    changed = copy.deepcopy(own.definition)
    changed["stop_at"] = max(one["chance"] for one in changed["causes"]) - 0.01
    row = which_open(
        by=lead, vehicle=vehicle, template=template_save(by=lead, template=own, definition=changed)
    )
    assert which_page(which_detail(row.pk)).code == "found"


def test_played_in_the_background_once(own, lead, login, django_capture_on_commit_callbacks):
    client, url = login(lead), reverse("maintenance:which_template", args=[own.pk])
    with django_capture_on_commit_callbacks():
        assert [client.post(f"{url}play/").status_code for _ in range(2)] == [302, 302]
    row = WhichRehearsal.objects.get()  # asked twice, played once
    assert "being played in the background" in text(client.get(url))
    row.plays = 200
    row.save()
    assert [play_sheet(row.pk), play_sheet(row.pk)] == [True, False]
    row.refresh_from_db()
    assert [one["cause"] for one in row.result["causes"]] == [one["key"] for one in own.definition["causes"]]
    said = text(client.get(url))
    assert "Ends on the true cause" in said
    template_save(by=lead, template=own, definition=own.definition)
    assert "Played before the last change" in text(client.get(url))


def test_a_lost_knock_is_found_by_the_sweep(own, lead):
    row = rehearsal_ask(by=lead, template=own, plays=50)
    assert rehearsals_left() == 1
    assert rehearsals_left() == 0
    assert not rehearsal_run(pk=row.pk)
