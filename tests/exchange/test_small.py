"""A museum of a few rows goes in, is known again, and is changed only where a table says so."""

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied

from fleet.models import Act, Meter, MeterReading, Person, Serial, Skill, Subsystem, Vehicle
from maintenance.enums import CardState, DefectState
from maintenance.models import Defect, Deferral, DeferralLimit, Inspection, JobCard
from maintenance.signals import work_changed
from readiness.exchange import import_folder
from readiness.models import Crew, Entry, Event, LimitTick, Slot
from tests.exchange.small import bring, only, tables, told

pytestmark = pytest.mark.django_db


def test_everything_arrives():
    report = bring()
    assert told(report) == []
    assert report.warnings == []
    lead = Person.objects.get(code="P1")
    assert (lead.username, lead.roles, lead.has_usable_password()) == ("ansel", ("mechanic", "lead"), False)
    assert sorted(skill.name for skill in lead.skills.all()) == ["brakes", "petrol"]
    assert Skill.objects.count() == 2
    card = JobCard.objects.get(code="J1")
    assert (card.subsystem.code, card.access.name, card.state) == ("BRK", "pit", CardState.BOOKED_IN)
    assert (card.hours_best, card.hours_usual, card.hours_bad) == (6, 10, 18)
    assert (card.second_area, card.needs_road_test) == ("brakes", True)  # by the system, as none was given
    defect = card.defects.get()
    assert (defect.code, defect.rating, defect.state, defect.title) == (
        "J1",
        "2C",
        DefectState.ASSESSED,
        "Pulls left",
    )
    assert [(e.function, e.effect) for e in defect.effects.all()] == [("STOP", "reduced")]
    deferral = Deferral.objects.get()
    assert [limit.words for limit in deferral.limits.all()] == ["daylight only", "look at it"]
    assert [(s.person.code, s.role) for s in deferral.signatures.all()] == [("P1", "lead")]
    assert (deferral.signed_on, deferral.ends_on) == (dt.date(2027, 5, 23), dt.date(2027, 7, 2))
    assert Inspection.objects.get().due_on == dt.date(2027, 7, 7)
    event = Event.objects.get()
    assert (event.last_day, event.freeze_at.isoformat()) == (
        dt.date(2027, 6, 12),
        "2027-06-10T17:00:00+00:00",
    )
    slot = Slot.objects.get(code="S1")
    assert (slot.starts_at.isoformat(), slot.ends_at.isoformat()) == (
        "2027-06-12T10:00:00+00:00",
        "2027-06-12T10:30:00+00:00",
    )
    assert [
        (c.duty, c.person_id is not None, c.entry_id is not None) for c in Crew.objects.order_by("duty")
    ] == [
        ("driver", True, True),
        ("marshal", False, False),
    ]
    tick = LimitTick.objects.get()
    assert (tick.entry, tick.limit) == (
        Entry.objects.get(slot=slot),
        DeferralLimit.objects.get(text="look at it"),
    )


def test_meters_keep_a_running_total():
    bring()
    only(
        meters="""\
        vehicle,kind,read_at,shown,changed
        V1,km,EV-10 09:00,4,yes
        V1,km,EV-9 09:00,10,no
        """
    )
    assert Meter.objects.count() == 1
    assert [(r.shown, r.total) for r in MeterReading.objects.order_by("read_at")] == [
        (Decimal(18204), Decimal(18204)),
        (Decimal("18230.5"), Decimal("18230.5")),
        (Decimal(4), Decimal("18230.5")),
        (Decimal(10), Decimal("18236.5")),
    ]


def test_a_new_vehicle_starts_with_the_systems_of_its_kind():
    bring()
    lorry = Vehicle.objects.get(code="V1")
    assert Subsystem.objects.get(vehicle=lorry, code="BRK.parking").parent == Subsystem.objects.get(
        vehicle=lorry, code="BRK"
    )
    assert not Subsystem.objects.filter(vehicle=lorry, code="TRK").exists()


def test_given_systems_take_the_place_of_the_template():
    report = bring(
        subsystems="""\
        vehicle,code,name,parent,serves
        V1,BRK.rods,Rods,BRK,STOP
        V1,BRK,Brakes,,STOP HOLD
        V1,COL,Cooling,,COOL
        """
    )
    assert told(report) == []
    lorry = Vehicle.objects.get(code="V1")
    assert sorted(lorry.subsystems.values_list("code", flat=True)) == ["BRK", "BRK.rods", "COL"]
    assert lorry.subsystems.get(code="BRK.rods").parent.code == "BRK"


@pytest.mark.parametrize(
    ("kind", "flags"),
    [
        ("half-track", (True, False, False)),
        ("armoured car", (False, True, False)),
        ("steam", (False, False, True)),
        ("bus", (False, False, False)),
    ],
)
def test_tracks_hull_and_steam_follow_the_kind(kind, flags):
    only(vehicles=f"code,number,name,kind\nV9,1,Sorrel,{kind}\n")
    vehicle = Vehicle.objects.get()
    assert (vehicle.is_tracked, vehicle.is_closed, vehicle.is_steam) == flags


def test_a_table_may_say_otherwise_than_the_kind():
    only(vehicles="code,number,name,kind,closed\nV9,1,Sorrel,armoured car,no\n")
    assert Vehicle.objects.get().is_closed is False


def test_a_second_time_changes_nothing():
    bring()
    before = {
        model: list(model.objects.order_by("pk").values())
        for model in (Person, Vehicle, JobCard, Defect, Deferral, Slot, Event)
    }
    report = bring()
    assert told(report) == []
    assert (report.total.new, report.total.changed) == (0, 0)
    assert report.total.alike == 24
    assert {model: list(model.objects.order_by("pk").values()) for model in before} == before


def test_a_dry_run_tells_and_writes_nothing():
    bring()
    acts = Act.objects.count()
    report = import_folder(
        tables(accesses="name,open_hours\npit,0.5\nhoist,2\n"),
        dry_run=True,
    )
    assert [str(change) for change in report.changes] == [
        "accesses pit: open_hours 0.3 -> 0.5",
        "accesses hoist: new",
    ]
    assert "WOULD BE accesses hoist: new" in list(report.lines())
    assert (report.ok, report.written) == (True, False)
    assert Act.objects.count() == acts
    assert only(accesses="name,open_hours\npit,0.3\n").counts["accesses"].alike == 1


def test_a_change_touches_only_what_is_said():
    bring()
    JobCard.objects.filter(code="J1").update(held_note="ask Ivo", persons=2)
    report = only(jobs="code,state,skills\nJ1,in hand,petrol; brakes\n")
    assert told(report) == []
    card = JobCard.objects.get(code="J1")
    assert (card.state, card.held_note, card.persons, card.version) == (CardState.IN_HAND, "ask Ivo", 2, 2)
    assert sorted(skill.name for skill in card.skills.all()) == ["brakes", "petrol"]


def test_an_empty_cell_keeps_and_a_hyphen_empties():
    bring()
    only(jobs="code,access,suits\nJ1,,P1\n")
    assert JobCard.objects.get(code="J1").access.name == "pit"
    only(jobs="code,access,skills,hours_best,hours_usual,hours_bad\nJ1,-,-,-,-,-\n")
    card = JobCard.objects.get(code="J1")
    assert (card.access, card.hours_usual, card.skills.count(), card.suits.code) == (None, None, 0, "P1")


def test_effects_of_a_defect_are_replaced_whole():
    bring()
    only(defects="code,effects\nJ1,STOP:lost HOLD:watch\n")
    assert {(e.function, e.effect) for e in Defect.objects.get(code="J1").effects.all()} == {
        ("STOP", "lost"),
        ("HOLD", "watch"),
    }


def test_a_job_may_clear_defects_of_their_own():
    report = bring(
        defects="""\
        code,vehicle,title,rating,effects,words
        X1,V1,Wet lining,2D,STOP:reduced,seen on opening
        X2,V1,Not looked at yet,,,
        """,
        jobs="code,vehicle,title,clears\nJ1,V1,Brakes,X1; X2\nJ2,V1,Weeps,\n",
        deferrals=None,
        ticks=None,
    )
    assert told(report) == []
    assert sorted(d.code for d in JobCard.objects.get(code="J1").defects.all()) == ["X1", "X2"]
    assert Defect.objects.get(code="X2").state == DefectState.REPORTED


def test_rows_may_point_at_rows_of_their_own_table_in_any_order():
    report = only(
        vehicles="code,number,name,kind\nV1,7,Teasel,lorry\n",
        facts="""\
        code,vehicle,about,value,recorded_on,corrects
        F2,V1,stamp,second oversize,2027-05-01,F1
        F1,V1,stamp,position two,2016-05-01,
        """,
    )
    assert told(report) == []
    assert Vehicle.objects.get().facts.get(code="F2").corrects.code == "F1"


def test_numbers_in_the_job_book_follow_each_other(time_machine_at):
    with time_machine_at("2027-03-01"):
        bring(
            jobs="code,serial,vehicle,title\nJ1,27/040,V1,Brakes\nJ2,,V1,Weeps\n", deferrals=None, ticks=None
        )
    assert list(JobCard.objects.order_by("code").values_list("serial", flat=True)) == ["27/040", "27/041"]
    assert Serial.objects.get(year=2027).last == 41


def test_a_card_made_here_is_known_by_its_number_and_takes_a_short_name_later():
    bring()
    serial = JobCard.objects.get(code="J1").serial
    JobCard.objects.filter(code="J1").update(code="")
    assert only(jobs=f"code,serial,persons\n,{serial},3\n").counts["jobs"].changed == 1
    assert only(jobs=f"code,serial\nJ9,{serial}\n").counts["jobs"].changed == 1
    card = JobCard.objects.get(serial=serial)
    assert (card.code, card.persons) == ("J9", 3)


def test_each_table_leaves_one_line_in_the_act_book(administrator):
    report = import_folder(tables(), by=administrator)
    acts = Act.objects.filter(act="table.import")
    assert {act.subject_id for act in acts} == set(report.counts)
    assert {act.by for act in acts} == {administrator}
    assert acts.get(subject_id="jobs").detail == {"new": 2, "changed": 0, "alike": 0}


def test_what_changed_is_announced_once_after_the_commit(django_capture_on_commit_callbacks):
    heard = []

    def listen(sender, **said):
        heard.append((said["act"], said["vehicle_id"]))

    work_changed.connect(listen)
    try:
        with django_capture_on_commit_callbacks(execute=True):
            bring()
        with django_capture_on_commit_callbacks(execute=True):
            bring()
    finally:
        work_changed.disconnect(listen)
    assert heard == [("table.import", None)]


def test_overrides_replace_cells():
    report = import_folder(tables(), overrides={"events": {"EV": {"first_day": dt.date(2028, 7, 1)}}})
    assert told(report) == []
    assert Slot.objects.get(code="S1").starts_at.isoformat() == "2028-07-01T10:00:00+00:00"


def test_days_may_be_counted_from_an_event_on_file():
    bring()
    assert told(only(days_away="person,day\nP1,ev-3\n")) == []
    assert Person.objects.get(code="P1").day_exceptions.get().day == dt.date(2027, 6, 9)


def test_times_are_the_museums_own():
    report = bring(museum="name,time_zone\nSmall Yard,Europe/Helsinki\n")
    assert told(report) == []
    assert Slot.objects.get(code="S1").starts_at.isoformat() == "2027-06-12T08:00:00+00:00"


def test_files_as_a_form_hands_them_over():
    from django.core.files.uploadedfile import SimpleUploadedFile

    from readiness.exchange import import_upload

    report = import_upload(
        [SimpleUploadedFile(f"C:/old/{name}", content) for name, content in tables().items()]
    )
    assert told(report) == []
    assert Vehicle.objects.count() == 2


def test_two_borrowed_marshals_of_one_name_are_two():
    crew = "event,slot,duty,borrowed\nEV,S1,marshal,a scout\nEV,S1,marshal,a scout\n"
    bring(crew=crew)
    assert Crew.objects.filter(borrowed="a scout").count() == 2
    assert only(crew=crew).counts["crew"].alike == 2


def test_only_who_may_brings_tables_in(mechanic, coordinator):
    with pytest.raises(PermissionDenied, match="may bring in tables"):
        import_folder(tables(), by=mechanic)
    assert Vehicle.objects.count() == 0
    assert import_folder(tables(), by=coordinator).written
