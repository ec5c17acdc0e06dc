"""What goes out comes in again as it was, and no spreadsheet takes it for a formula."""

import csv
import datetime as dt
import io

import pytest
from django.core.management import call_command
from django.utils import timezone
from python_calamine import CalamineWorkbook

from fleet.exchange.exporting import EXAMPLE_MARK
from fleet.models import DayException, Fact, Person, Vehicle
from maintenance.models import (
    Defect,
    DefectNote,
    Deferral,
    DeferralLimit,
    DeferralSignature,
    Inspection,
    InspectionResult,
    JobCard,
    JobSignature,
    JobTest,
    Measure,
    PartNeed,
    Reading,
    Tag,
    UseCheck,
    WorkLog,
)
from readiness.demo.build import build_demo
from readiness.exchange import TABLES, export_files, export_museum, export_workbook, import_folder, template
from tests.exchange.small import bring, told

SATURDAY = dt.date(2027, 6, 12)
SHOWN = [name for name, table in TABLES.items() if not table.hidden]


def rows_of(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def made_here() -> None:
    """Rows as the program makes them: without short names, with odd words, in the hour that comes twice."""
    lead, manager = Person.objects.get(code="P1"), Person.objects.get(code="P2")
    vehicle = Vehicle.objects.get(code="V1")
    twice = dt.datetime(2027, 10, 31, 1, 30, 5, 250, tzinfo=dt.UTC)
    defect = Defect.objects.create(
        serial="27/101",
        vehicle=vehicle,
        title="=HYPERLINK(A1)",
        words="+44 rings; twice\r\n-and 'again'",
        answers={"did you stop": "yes; at once"},
        source="slip",
        reporter_name="@visitor",
        reported_at=twice,
    )
    again = Defect.objects.create(
        serial="27/102",
        vehicle=vehicle,
        title="The same",
        state="merged",
        joined_to=defect,
        reported_at=twice,
    )
    DefectNote.objects.create(defect=again, by=lead, text="- hyphen first", at=twice)
    card = JobCard.objects.create(
        serial="27/103",
        vehicle=vehicle,
        title="#1 of many",
        state="passed",
        second_area="",
        needs_functional_test=False,
        hours_usual="2.25",
        created_at=twice,
        touched_at=twice,
        ended_at=twice,
        taken_by=manager,
    )
    card.defects.set([defect, again])
    found = JobCard.objects.create(
        serial="27/104", vehicle=vehicle, title="-", found_on=card, created_at=twice, touched_at=twice
    )
    found.after.set([card])
    for _ in range(2):
        WorkLog.objects.create(card=card, person=manager, day=SATURDAY, hours="1.5")
    JobTest.objects.create(
        card=card, kind="functional", passed=False, words="no; not yet", by=manager, at=twice
    )
    JobSignature.objects.create(
        card=card, kind="inspector", person=lead, area="brakes", at=twice, proof="PIN"
    )
    deferral = Deferral.objects.create(
        defect=defect,
        severity_without=3,
        probability_without="C",
        severity_with=3,
        probability_with="D",
        reason="waits; long",
        signed_on=SATURDAY,
        ends_on=SATURDAY,
        created_at=twice,
        withdrawn_at=twice,
        withdrawn_reason="done",
    )
    DeferralLimit.objects.create(deferral=deferral, kind="max speed", value="20.50")
    DeferralLimit.objects.create(deferral=deferral, kind="named driver", driver=lead)
    DeferralLimit.objects.create(deferral=deferral, kind="free text", text="stop; look: a = b")
    DeferralSignature.objects.create(deferral=deferral, person=lead, role="lead", at=twice)
    first = Measure.objects.create(
        vehicle=vehicle,
        system="BRK",
        name="bore; left",
        judgement="max",
        high="0.3333",
        source="a, b",
        changed_at=twice,
    )
    card.measures.add(first)
    reading = Reading.objects.create(
        measure=first,
        card=card,
        values=["-0.5", "not; sure"],
        at=twice,
        limit_used={"high": "0.3333", "unit": "mm"},
    )
    Reading.objects.create(
        measure=first, card=card, values=["-0.4", ""], at=twice, moment="as left", replaces=reading, by=lead
    )
    inspection = Inspection.objects.create(
        vehicle=vehicle,
        kind="other",
        name="no due day",
        interval_days=10,
        last_on=SATURDAY,
        due_on=None,
        voided_at=twice,
        voided_why="by hand",
    )
    inspection.after_cards.add(card)
    InspectionResult.objects.create(
        inspection=inspection, done_on=SATURDAY, done_at=twice, passed=False, by_name="outside; man"
    )
    PartNeed.objects.create(name="no vehicle", card=card, vehicle=None)
    PartNeed.objects.create(name="no card", note="'quoted'")
    Tag.objects.create(
        vehicle=vehicle, reason="cracked", stub="9", placed_at=twice, lifted_at=twice, lifted_by=lead
    )
    Tag.objects.create(vehicle=vehicle, reason="cracked, again", stub="10", placed_at=twice)
    UseCheck.objects.create(vehicle=vehicle, kind="event", for_day=SATURDAY, done_at=twice, words="a\nb")
    Fact.objects.create(vehicle=vehicle, about="stamp / mark", value="2", recorded_on=SATURDAY)
    DayException.objects.create(person=lead, day=SATURDAY, reason="'tis")


def contents(files: dict[str, bytes]) -> dict[str, list[dict[str, str]]]:
    return {name: rows_of(content) for name, content in files.items()}


def empty_again() -> None:
    """An empty database as after `migrate`: no rows but the role table."""
    from django.apps import apps
    from django.db import connection

    keep = {"readiness_rolerule", "fleet_act"}
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA defer_foreign_keys = ON") if connection.vendor == "sqlite" else cursor.execute(
            "SET CONSTRAINTS ALL DEFERRED"
        )
        for label in ("readiness", "maintenance", "fleet"):
            for model in apps.get_app_config(label).get_models(include_auto_created=True):
                if model._meta.db_table not in keep:
                    cursor.execute(f'DELETE FROM "{model._meta.db_table}"')


@pytest.mark.django_db
def test_the_demo_comes_back_byte_for_byte():
    build_demo(saturday=SATURDAY, memory=False)
    first = export_files()
    assert sum(len(rows_of(content)) for content in first.values()) > 2000
    empty_again()
    assert Vehicle.objects.count() == 0
    report = import_folder(first)
    assert told(report) == []
    assert export_files() == first


@pytest.mark.django_db
def test_what_the_program_made_comes_back_byte_for_byte():
    bring()
    made_here()
    first = export_files()
    again = import_folder(first)
    assert (told(again), again.total.new, [str(change) for change in again.changes]) == ([], 0, [])
    empty_again()
    report = import_folder(first)
    assert told(report) == []
    second = export_files()
    assert contents(second) == contents(first)
    assert second == first
    defect = Defect.objects.get(serial="27/101")
    assert (defect.title, defect.words, defect.answers) == (
        "=HYPERLINK(A1)",
        "+44 rings; twice\r\n-and 'again'",
        {"did you stop": "yes; at once"},
    )
    assert defect.reported_at == dt.datetime(2027, 10, 31, 1, 30, 5, 250, tzinfo=dt.UTC)
    assert JobCard.objects.get(serial="27/104").title == "-"
    assert JobCard.objects.get(serial="27/103").hours.count() == 2


@pytest.mark.django_db
def test_a_workbook_comes_back_too():
    bring()
    made_here()
    first, book = export_files(), export_workbook()
    empty_again()
    assert told(import_folder({"everything.xlsx": book})) == []
    assert contents(export_files()) == contents(first)


@pytest.mark.django_db
def test_no_cell_that_goes_out_begins_like_a_formula():
    bring()
    made_here()
    cells = [
        cell
        for content in export_files().values()
        for row in csv.reader(io.StringIO(content.decode("utf-8-sig"), newline=""))
        for cell in row
    ]
    assert "'=HYPERLINK(A1)" in cells
    assert "-0.5; not\\; sure" not in cells
    assert "'-0.5; not\\; sure" in cells
    assert [
        cell for cell in cells if cell[:1] in {"=", "+", "@", "\t", "\r"} or (cell[:1] == "-" and cell != "-")
    ] == []
    for sheet in CalamineWorkbook.from_filelike(io.BytesIO(export_workbook())).sheet_names:
        assert sheet in TABLES


@pytest.mark.django_db
def test_numbers_below_nought_stay_numbers():
    bring()
    made_here()
    Reading.objects.filter(moment="check").update(values=["-0.5"])
    assert "-0.5" in [row["values"] for row in rows_of(export_files()["readings.csv"])]


@pytest.mark.django_db
def test_passwords_and_pins_never_go_out():
    bring()
    person = Person.objects.get(code="P1")
    person.set_password("a-long-secret-word")
    person.pin = "hashed-pin-418207"
    person.save()
    whole = b"".join(export_files().values()) + export_workbook()
    assert person.password.encode() not in whole
    assert b"hashed-pin-418207" not in whole


@pytest.mark.django_db
def test_the_folder_holds_every_table_and_no_half_file(tmp_path):
    bring()
    (tmp_path / "jobs.csv").write_text("old")
    export_museum(tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(f"{name}.csv" for name in SHOWN)
    assert [row["code"] for row in rows_of((tmp_path / "jobs.csv").read_bytes())] == ["J1", "J2"]


@pytest.mark.django_db
def test_the_commands(tmp_path, capsys):
    bring()
    call_command("export_museum", str(tmp_path / "out"), xlsx=str(tmp_path / "all.xlsx"))
    call_command("import_museum", str(tmp_path / "out"))
    call_command("import_museum", str(tmp_path / "all.xlsx"), dry_run=True)
    said = capsys.readouterr().out
    assert "people: 0 new, 0 changed, 3 alike" in said
    assert "Nothing was written, as asked. In all: 0 new, 0 changed" in said
    (tmp_path / "out" / "people.csv").write_text("code,nam\nP9,Una\n")
    with pytest.raises(Exception, match="to put right; nothing was written"):
        call_command("import_museum", str(tmp_path / "out"))
    assert (
        "WRONG    people, row 1, column nam: no column has this name. Right would be: name."
        in capsys.readouterr().out
    )


@pytest.mark.parametrize("name", SHOWN)
def test_templates_have_all_columns_and_an_example_that_is_skipped(name):
    lines = list(csv.reader(io.StringIO(template(name).decode("utf-8-sig"), newline="")))
    table = TABLES[name]
    assert lines[0] == [column.name for column in table.columns]
    assert lines[1][0].startswith(EXAMPLE_MARK)
    assert all(column.help.endswith((".", "!", "?")) for column in table.columns)
    assert [column.name for column in table.columns if column.required and not column.example] == []


@pytest.mark.django_db
def test_a_template_brought_in_as_it_is_does_nothing():
    report = import_folder({f"{name}.csv": template(name) for name in SHOWN})
    assert told(report) == []
    assert (report.total.new, report.total.changed, report.total.alike) == (0, 0, 0)


@pytest.mark.parametrize("name", ["_meters", "nothing"])
def test_no_template_for_what_is_no_table(name):
    with pytest.raises(KeyError):
        template(name)


@pytest.mark.django_db
def test_the_clock_of_the_export_is_the_museums(settings):
    bring(museum="name,time_zone\nSmall Yard,Europe/Helsinki\n")
    with timezone.override("UTC"):
        slots = rows_of(export_files()["slots.csv"])
    assert [row["starts_at"] for row in slots] == ["2027-06-12 11:00", "2027-06-12 12:00"]
