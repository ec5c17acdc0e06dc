"""One stored assessment, one number: board, vehicle page, programme, list of vehicles, papers, reminders and the command."""

from __future__ import annotations

import io
import json
import re
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from fleet.models import Person, Vehicle
from readiness import digest_words
from readiness.models import Assessment, Event
from readiness.prints.checklist import context
from readiness.prints.event_sheet import pages
from readiness.queries.programme import event_rows
from readiness.queries.reminders import told, wall_clock
from readiness.queries.standings import standings
from readiness.services import assessing

pytestmark = pytest.mark.django_db


def command() -> dict[str, Any]:
    out = io.StringIO()
    call_command("assess", "HWW", json=True, stdout=out)
    found: dict[str, Any] = json.loads(out.getvalue())
    return found


def everywhere(event: Event, client: Client, vehicle: str) -> dict[str, int | None]:
    """The chance of one vehicle as each place says it; None where none is said."""
    kept = assessing.latest(event)
    row = Vehicle.objects.get(code=vehicle)
    board = client.get("/").content.decode()
    block = re.search(rf'id="row-{vehicle}".*?</li>', board, flags=re.DOTALL)
    assert block is not None
    page = client.get(reverse("readiness:vehicle", args=[vehicle])).content.decode()
    programme = client.get(reverse("readiness:event", args=[event.code])).content.decode()
    slot = re.search(rf"{re.escape(row.name)}.*?</li>", programme, flags=re.DOTALL)
    sheet = next(
        x for p in pages(event_rows(event.code), kept) for x in p.lines if x.name == row.name and x.chance
    )
    checklist = context(event, row, kept)["page"]
    words = standings()[row.pk][1]
    told_to = told(wall_clock(event.freeze_at))
    texts = {
        "board": block.group(0).replace("<b>", "").replace("</b> <span>", " "),
        "vehicle page": page.replace("<b>", "").replace("</b>", ""),
        "programme": slot.group(0) if slot else "",
        "list of vehicles": words,
        "event sheet": f"{sheet.chance} in 100",
        "checklist": f"{checklist.percent} in 100",
        "reminders": f"{next(v['percent'] for v in told_to.result['vehicles'] if v['vehicle'] == vehicle)} in 100",
        "command": f"{next(v['percent'] for v in command()['vehicles'] if v['vehicle'] == vehicle)} in 100",
    }
    found: dict[str, int | None] = {}
    for place, text in texts.items():
        number = re.search(r"(\d+)\s+in\s+100", re.sub(r"<[^>]*>", " ", text))
        found[place] = int(number.group(1)) if number else None
    return found


@pytest.fixture
def seen(demo: Event, client: Client) -> tuple[Event, Client, str]:
    """A vehicle with one chance for all its entries, and the coordinator's browser."""
    assessing.assess_wanted(force=True)
    client.force_login(Person.objects.get(username="odette"))
    kept = assessing.latest(demo)
    assert kept is not None
    by_vehicle: dict[str, set[Any]] = {}
    for e in kept.result["entries"]:
        by_vehicle.setdefault(e["vehicle"], set()).add((e["percent"], e["standing"]))
    alike = sorted(
        v for v, said in by_vehicle.items() if len(said) == 1 and next(iter(said))[0] not in (None, 0, 100)
    )
    return demo, client, alike[0]


def test_every_place_says_the_same_number(seen: tuple[Event, Client, str]) -> None:
    event, client, vehicle = seen
    kept = assessing.latest(event)
    assert kept is not None
    number = next(v["percent"] for v in kept.result["vehicles"] if v["vehicle"] == vehicle)
    assert set(everywhere(event, client, vehicle).items()) == {
        (place, number) for place in everywhere(event, client, vehicle)
    }


def test_and_it_is_the_stored_one_not_one_of_their_own(seen: tuple[Event, Client, str]) -> None:
    """The stored result is altered behind their backs: all must follow, so none works it out for itself."""
    event, client, vehicle = seen
    kept = assessing.latest(event)
    assert kept is not None
    for row in (*kept.result["vehicles"], *kept.result["entries"]):
        if row["vehicle"] == vehicle:
            row |= {"percent": 37, "standing": "doubtful", "word": "Doubtful"}
    Assessment.objects.filter(pk=kept.pk).update(result=kept.result)
    assert set(everywhere(event, client, vehicle).values()) == {37}
    number = Vehicle.objects.get(code=vehicle).number
    told_to = told(wall_clock(event.freeze_at))
    slot = next(
        s
        for s in told_to.result["slots"]
        for e in told_to.entries()
        if e["vehicle"] == vehicle and e["slot"] == s["slot"] and e["starts"] == s["starts"]
    )
    assert re.search(rf"{re.escape(number)} .* doubtful", digest_words._risk_words(told_to, slot))


def test_seed_version_and_fingerprint_are_the_same_on_the_page_in_the_row_and_in_the_command(
    seen: tuple[Event, Client, str],
) -> None:
    event, client, _ = seen
    kept, said = assessing.latest(event), command()
    assert kept is not None
    row = (kept.seed, kept.engine_version, kept.input_hash)
    assert (said["seed"], said["engine_version"], said["input_hash"]) == row
    assert (kept.result["seed"], kept.result["engine_version"], kept.result["input_hash"]) == row
    how = client.get(reverse("readiness:how", args=[event.code])).content.decode()
    for figure in (f"seed {kept.seed}", kept.engine_version, kept.input_hash[:16]):
        assert figure in how


def test_the_command_works_it_out_anew_where_something_has_changed(seen: tuple[Event, Client, str]) -> None:
    event, _, vehicle = seen
    Assessment.objects.filter(event=event, is_latest=True).update(result={"stale": True})
    assert command() == {"stale": True}
    assessing.assessment_ask()
    assert any(v["vehicle"] == vehicle for v in command()["vehicles"])
