"""What the board would say before an entry is written: the same as it says once it is, and nothing is written for it."""

import pytest
from django.test.utils import CaptureQueriesContext

from fleet.models import Act, Person, Vehicle
from readiness.engine.state import CrewDuty
from readiness.models import Entry, Slot
from readiness.queries.would_be import Wish, would_be
from readiness.services import entries
from readiness.services.assessing import assess_event
from readiness.services.entries import CrewLine

pytestmark = pytest.mark.django_db


def slot(demo, code: str) -> Slot:
    return Slot.objects.filter(event=demo, code=code).order_by("starts_at").first()


def stored(demo, row: Slot, vehicle: str) -> dict:
    return next(
        e
        for e in assess_event(demo)["entries"]
        if e["slot"] == row.code and e["vehicle"] == vehicle and e["day"] == row.day.isoformat()
    )


@pytest.mark.parametrize(("code", "vehicle"), [("S6", "V02"), ("S4", "V01"), ("S1", "V10"), ("S10", "V13")])
def test_it_says_what_the_board_says_afterwards(demo, code: str, vehicle: str) -> None:
    row, by = slot(demo, code), Person.objects.get(code="P01")
    driver = Person.objects.get(code="P10")
    crew = (CrewDuty(duty="driver", person="P10"),)
    before = would_be(event=demo, slot=row, wish=Wish(vehicle=vehicle, crew=crew))
    assert before is not None
    entries.entry_add(
        by=by,
        slot=row,
        vehicle=Vehicle.objects.get(code=vehicle),
        crew=[CrewLine(duty="driver", person=driver)],
    )
    after = stored(demo, row, vehicle)
    assert (before.standing, before.percent) == (after["standing"], after["percent"])
    said = {words[:1].lower() + words[1:] for _, words, _ in before.reasons}
    assert said == {r["words"][:1].lower() + r["words"][1:] for r in after["reasons"]}


def test_a_barred_entry_is_told_and_may_be_saved(demo) -> None:
    row = slot(demo, "S6")
    said = would_be(event=demo, slot=row, wish=Wish(vehicle="V02"))
    assert said is not None
    assert (said.standing, said.word, said.is_barred) == ("barred", "Barred", True)
    assert any("the slot asks for 30 km/h" in words for _, words, _ in said.reasons)


def test_a_driver_in_two_places_is_told_here_and_there(demo) -> None:
    row = slot(demo, "S6")
    crew = (CrewDuty(duty="driver", person="P10"),)
    said = would_be(event=demo, slot=row, wish=Wish(vehicle="V02", crew=crew))
    assert said is not None
    assert "Isla Wendt is also driver of Wren" in [words for words, _ in said.flags]
    assert "S6, Wren: Isla Wendt is also driver of Gannet" in said.elsewhere


def test_changing_an_entry_does_not_count_its_use_twice(demo) -> None:
    """Plodder's oil is good for 3.2 h; up to Sunday's S3 it runs 2.75 h, and 3.25 h if that half hour counted twice."""
    for there in Entry.objects.filter(vehicle__code="V11").select_related("slot"):
        crew = tuple(
            CrewDuty(duty=c.duty, person=c.person.code if c.person else "", borrowed=c.borrowed)
            for c in there.crew.all()
        )
        ticks = frozenset(f"limit-{t.limit_id}" for t in there.ticks.all())
        wish = Wish(vehicle="V11", replaces="V11", crew=crew, ticks=ticks)
        said = would_be(event=demo, slot=there.slot, wish=wish)
        stands = stored(demo, there.slot, "V11")
        assert said is not None
        assert (said.standing, said.percent) == (stands["standing"], stands["percent"]), there
        assert said.elsewhere == ()


def test_a_swap_moves_the_use_to_the_other_vehicles_meters(demo) -> None:
    """Number 21 has 140 km left to its brake inspection; Number 22's rides on top of its own are too many."""
    from decimal import Decimal

    row = slot(demo, "S9")
    said = would_be(event=demo, slot=row, wish=Wish(vehicle="V08", replaces="V08", km=Decimal(140)))
    assert said is not None
    assert any("brake adjustment" in words.lower() for _, words, _ in said.reasons)
    usual = would_be(event=demo, slot=row, wish=Wish(vehicle="V08", replaces="V08"))
    assert usual is not None
    assert not any(
        "brake adjustment" in words.lower() and weight == "To be cleared"
        for weight, words, _ in usual.reasons
    )


def test_nothing_is_written(demo, django_assert_num_queries) -> None:
    from django.db import connection

    acts, there = Act.objects.count(), Entry.objects.count()
    with CaptureQueriesContext(
        connection,
    ) as seen:
        would_be(event=demo, slot=slot(demo, "S6"), wish=Wish(vehicle="V02"))
    assert [q["sql"] for q in seen if not q["sql"].startswith("SELECT")] == []
    assert (Act.objects.count(), Entry.objects.count()) == (acts, there)


def test_an_event_that_is_called_off_is_not_judged(demo) -> None:
    from readiness.services.events import event_call_off

    event_call_off(by=Person.objects.get(code="P01"), event=demo, reason="Flooded")
    assert would_be(event=demo, slot=slot(demo, "S6"), wish=Wish(vehicle="V02")) is None
