"""The demo museum: its numbers, its stories, and what a second run leaves alone."""

import datetime as dt

import pytest
from django.core.management import CommandError, call_command

from fleet.models import Fact, Person, Vehicle
from fleet.services.proof import proof_check
from maintenance.enums import CardState
from maintenance.models import Deferral, Inspection, JobCard, PartNeed, Tag
from readiness.demo.build import build_demo, demo_saturday, demo_sign_in
from readiness.models import Crew, Entry, Event, LimitTick, Slot

SATURDAY = dt.date(2027, 6, 12)


@pytest.mark.parametrize("ahead", range(14))
def test_the_saturday_lies_29_to_35_days_ahead(ahead):
    today = dt.date(2027, 5, 3) + dt.timedelta(days=ahead)
    saturday = demo_saturday(today)
    assert saturday.weekday() == 5
    assert 29 <= (saturday - today).days <= 35


@pytest.fixture
def demo(db):
    return build_demo(saturday=SATURDAY)


def test_the_museum_is_complete(demo):
    assert demo.ok
    assert Vehicle.objects.count() == 18
    assert Person.objects.count() == 13
    assert JobCard.objects.exclude(state=CardState.PASSED).count() == 46
    assert Deferral.objects.count() == 8
    assert PartNeed.objects.count() == 11
    assert Tag.objects.filter(lifted_at=None).count() == 3
    event = Event.objects.get()
    assert (event.first_day, event.last_day) == (SATURDAY, SATURDAY + dt.timedelta(days=1))
    assert event.freeze_at.isoformat() == "2027-06-10T17:00:00+00:00"
    assert Slot.objects.count() == 21
    assert Entry.objects.count() == 55
    assert Entry.objects.filter(covers__isnull=False).count() == 4


def test_what_the_role_table_asks_is_on_file_for_every_vehicle(demo):
    for vehicle in Vehicle.objects.all():
        kinds = set(Inspection.objects.filter(vehicle=vehicle).values_list("kind", flat=True))
        wanted = {"brake reading", "running gear", "annual"}
        wanted |= {"co"} if vehicle.is_closed else set()
        wanted |= {"lifting"} if vehicle.lifts else set()
        wanted |= {"boiler"} if vehicle.is_steam else set()
        assert wanted - kinds == set(), vehicle
        papers = set(vehicle.papers.values_list("kind", flat=True))
        assert papers >= {"label", "driver card", "risk assessment", "insurance", "registration"}, vehicle
    assert Inspection.objects.get(vehicle=None).kind == "extinguishers"


def test_flags_follow_the_kinds(demo):
    def marked(name):
        return sorted(Vehicle.objects.filter(**{name: True}).values_list("code", flat=True))

    assert marked("is_tracked") == ["V02", "V03", "V11"]
    assert marked("is_closed") == ["V04", "V05"]
    assert marked("is_steam") == ["V15"]
    assert marked("lifts") == ["V07", "V13", "V16"]


@pytest.mark.parametrize(
    ("code", "meter", "left"),
    [("I07", "km", "140"), ("I11", "hours", "3.2"), ("I02", "hours", "3.2"), ("I03", "hours", "9")],
)
def test_what_is_left_on_the_meters(demo, code, meter, left):
    inspection = Inspection.objects.get(code=code)
    last = inspection.vehicle.meters.get(kind=meter).readings.order_by("read_at").last()
    assert inspection.due_at_meter - last.total == pytest.approx(type(last.total)(left), abs=0)


def test_links_between_jobs_and_inspections(demo):
    assert {c.code: c.inspection.code for c in JobCard.objects.exclude(inspection=None)} == {
        "J25": "I07",
        "J32": "I11",
        "J43": "I10",
    }
    assert sorted(c.code for c in Inspection.objects.get(code="I09a").after_cards.all()) == ["J40", "J41"]
    assert [i.code for i in Inspection.objects.get(code="I09b").after_inspections.all()] == ["I09a"]
    assert sorted(JobCard.objects.filter(access_group="B1").values_list("code", flat=True)) == [
        "J07",
        "J08",
        "J09",
        "J10",
        "J11",
    ]


def test_every_limit_in_words_is_ticked_for_the_programmed_entries(demo):
    missing = [
        (entry, limit)
        for entry in Entry.objects.select_related("vehicle")
        for deferral in Deferral.objects.filter(defect__vehicle=entry.vehicle)
        for limit in deferral.limits.filter(kind__in=["free text", "equipment locked"])
        if not LimitTick.objects.filter(entry=entry, limit=limit).exists()
    ]
    assert missing == []


def test_borrowed_hands(demo):
    for slot in Slot.objects.filter(role__in=["arena", "road", "rides"]):
        assert Crew.objects.filter(slot=slot, duty="marshal").count() == 2, slot
    assert Crew.objects.filter(duty="conductor", slot__role="rides").count() == 2
    assert Crew.objects.filter(duty="commander").count() == 0


def test_the_fact_that_was_wrong_lists_what_was_built_on_it(demo):
    wrong = Fact.objects.get(code="F01")
    assert wrong.corrected_by.value == "second oversize, bore +1.5 mm"
    assert wrong.uses.count() == 3


def test_the_command_builds_once_and_prints_the_sign_ins(db, time_machine_at, capsys):
    with time_machine_at("2027-05-09"):
        call_command("demo")
    said = capsys.readouterr().out
    assert "Saturday 12 June 2027" in said
    assert "hythe-jarek" in said
    jarek = Person.objects.get(username="jarek")
    password, pin = demo_sign_in(jarek)
    assert jarek.check_password(password)
    assert proof_check(person=jarek, proof=pin) == "PIN"
    Vehicle.objects.filter(code="V01").update(name="Bramble II")
    call_command("demo")
    assert "hythe-jarek" in capsys.readouterr().out
    assert Vehicle.objects.get(code="V01").name == "Bramble II"


def test_the_command_leaves_another_museum_alone(vehicle):
    with pytest.raises(CommandError, match="a museum of its own"):
        call_command("demo")
    assert Vehicle.objects.count() == 1


def test_every_role_has_somebody(demo):
    for role in ("driver", "mechanic", "lead", "coordinator", "manager", "curator", "administrator"):
        assert Person.objects.filter(**{f"is_{role}": True}).exists(), role
    assert {p.username for p in Person.objects.filter(code__in=["P10", "P04", "P02", "P01", "P12", "P11", "P13"])} == {
        "isla", "jarek", "wilmot", "odette", "hamish", "pru", "sefa",
    }  # fmt: skip
