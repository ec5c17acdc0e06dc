"""Several events share one workshop: the nearer freeze first, and work put after the first event counts for the next."""

from __future__ import annotations

import datetime as dt
import io
import json

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone

from fleet.models import Person, Vehicle
from maintenance.models import JobCard
from readiness.models import Crew, Entry, Event, Slot
from readiness.services import assessing

pytestmark = pytest.mark.django_db


@pytest.fixture
def later(demo: Event) -> Event:
    """A second weekend, eight weeks after the first, in which Old Reliable runs again."""
    first = demo.first_day + dt.timedelta(days=56)
    event = Event.objects.create(
        code="LATE", name="Late Weekend", first_day=first, last_day=first,
        freeze_at=timezone.make_aware(dt.datetime.combine(first - dt.timedelta(days=2), dt.time(18))),
    )  # fmt: skip
    starts = timezone.make_aware(dt.datetime.combine(first, dt.time(11)))
    slot = Slot.objects.create(
        event=event,
        code="L1",
        name="Arena",
        role="arena",
        starts_at=starts,
        ends_at=starts + dt.timedelta(hours=1),
    )
    for code in ("V03", "V10"):
        Entry.objects.create(slot=slot, vehicle=Vehicle.objects.get(code=code))
    for name in ("A", "B"):
        Crew.objects.create(slot=slot, duty="marshal", borrowed=name)
    return event


def test_each_event_has_its_own_answer_and_the_first_is_not_disturbed(demo: Event, later: Event) -> None:
    before = {e["id"]: e["word"] for e in assessing.assess_event(demo)["entries"]}
    assert assessing.assess_wanted(force=True) == 2
    first, second = assessing.latest(demo), assessing.latest(later)
    assert first is not None
    assert second is not None
    assert {e["id"]: e["word"] for e in first.result["entries"]} == before
    assert [(e["vehicle"], e["slot"]) for e in second.result["entries"]] == [("V03", "L1"), ("V10", "L1")]


def test_what_is_put_after_the_first_event_is_work_before_the_second(demo: Event, later: Event) -> None:
    """Its deferral (until 21 days after the first Saturday) has ended by then; the pack-lift cards are work in time for the second."""
    JobCard.objects.filter(code="J07").update(state="assessed")
    entry = next(e for e in assessing.assess_event(later)["entries"] if e["vehicle"] == "V03")
    assert "J07" in entry["needs"]
    assert entry["word"] in {"Likely", "Doubtful", "Unlikely"}
    first = next(e for e in assessing.assess_event(demo)["entries"] if e["vehicle"] == "V03")
    assert "J07" not in first["needs"]


def test_the_board_offers_both(demo: Event, later: Event, client: Client) -> None:
    assessing.assess_wanted(force=True)
    client.force_login(Person.objects.get(username="odette"))
    html = client.get("/").content.decode()
    assert "Late Weekend" in html
    assert "<h1>Hythe Working Weekend</h1>" in html  # the nearer freeze first
    assert "<h1>Late Weekend</h1>" in client.get("/?event=LATE").content.decode()


def test_one_person_at_two_events_at_once_is_told_at_both(demo: Event, later: Event) -> None:
    slot = later.slots.get()
    other = demo.slots.filter(role="arena").first()
    assert other is not None
    Slot.objects.filter(pk=slot.pk).update(starts_at=other.starts_at, ends_at=other.ends_at)
    driver = other.crew.filter(person__isnull=False).first() or other.entries.first().crew.first()
    assert driver is not None
    assert driver.person is not None
    Crew.objects.create(slot=slot, entry=slot.entries.first(), duty="driver", person=driver.person)
    flags = [f for e in assessing.assess_event(later)["entries"] for f in e["flag_details"]]
    assert (driver.person.code, "crew-clash") in {(f["person"], f["code"]) for f in flags}


def test_the_command_answers_one_event_at_a_moment(demo: Event, later: Event) -> None:
    out = io.StringIO()
    call_command("assess", "late", json=True, stdout=out)
    answer = json.loads(out.getvalue())
    assert answer["event"]["code"] == "LATE"
    assert set(answer) >= {
        "seed",
        "engine_version",
        "input_hash",
        "entries",
        "slots",
        "vehicles",
        "judged_at",
    }
    with pytest.raises(CommandError, match="No event has the code NONE"):
        call_command("assess", "NONE")
    with pytest.raises(CommandError, match="is not a moment"):
        call_command("assess", "HWW", at="next week")
    with pytest.raises(CommandError, match="is over at that moment"):
        call_command("assess", "HWW", at=f"{demo.last_day + dt.timedelta(days=2)} 08:00")


def test_the_same_moment_gives_the_same_bytes(demo: Event) -> None:
    at = f"{demo.first_day - dt.timedelta(days=20)} 08:00"
    outs = []
    for _ in range(2):
        out = io.StringIO()
        call_command("assess", "HWW", at=at, json=True, stdout=out)
        outs.append(out.getvalue())
    assert outs[0] == outs[1]


def test_after_the_freeze_what_needs_opened_work_is_unlikely(demo: Event) -> None:
    at = timezone.make_aware(dt.datetime.combine(demo.first_day - dt.timedelta(days=1), dt.time(8)))
    found = assessing.assess_event(demo, at=at)["entries"]
    for e in found:
        if any(n.startswith("J") for n in e["needs"]) and e["word"] not in {"Barred", "Stood down"}:
            assert e["word"] == "Unlikely", (e["vehicle"], e["slot"], e["percent"])
    clover = next(e for e in found if (e["vehicle"], e["slot"]) == ("V10", "S2"))
    assert clover["word"] == "Likely"  # its event check is not done, which costs no chance
    assert {r["code"] for r in clover["reasons"]} >= {"check-not-done"}
