"""The act book is only added to: by the model, and by the database itself."""

import ast
from pathlib import Path

import pytest
from django.core.exceptions import PermissionDenied
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction

from fleet.act_words import ACT_WORDS
from fleet.checks import check_act_book, check_journal, check_site_address, wal_messages
from fleet.models import Act
from fleet.services.acts import changes_between, record, words_of
from fleet.signals import fleet_changed

ROOT = Path(__file__).resolve().parent.parent.parent


@pytest.fixture
def line(lead, vehicle) -> Act:
    return record(act="tag.hang", by=lead, subject=vehicle, vehicle=vehicle, detail={"stub": "0007"})


def test_a_line_says_who_what_and_on_what(line, lead, vehicle):
    assert (line.by, line.by_name, line.act) == (lead, "Berit Holm", "tag.hang")
    assert (line.subject_kind, line.subject_id, line.subject_label) == (
        "fleet.vehicle",
        str(vehicle.pk),
        str(vehicle),
    )
    assert (line.vehicle, line.detail) == (vehicle, {"stub": "0007"})


def test_a_visitor_is_named_as_they_named_themselves(vehicle):
    assert (
        record(act="defect.report", by=None, by_name="Man in a hat", subject=vehicle).by_name
        == "Man in a hat"
    )


def test_the_model_refuses(line):
    with pytest.raises(PermissionDenied):
        line.save()
    with pytest.raises(PermissionDenied):
        line.delete()


@pytest.mark.parametrize(
    "change",
    [
        lambda: Act.objects.update(by_name="Nobody"),
        lambda: Act.objects.all().delete(),
        lambda: connection.cursor().execute("UPDATE fleet_act SET act = 'x'"),
        lambda: connection.cursor().execute("DELETE FROM fleet_act"),
    ],
    ids=["update", "delete", "raw update", "raw delete"],
)
def test_the_database_refuses(line, change):
    with pytest.raises(DatabaseError, match="only added to"), transaction.atomic():
        change()
    assert list(Act.objects.values_list("by_name", "act")) == [("Berit Holm", "tag.hang")]


@pytest.mark.django_db
def test_a_missing_guard_is_told():
    assert check_act_book(None, databases=["default"]) == []
    if connection.vendor != "sqlite":
        pytest.skip("the trigger is dropped in SQLite's words")
    with connection.cursor() as cursor:
        cursor.execute("DROP TRIGGER fleet_act_no_delete")
    assert [message.id for message in check_act_book(None, databases=["default"])] == ["fleet.W003"]


@pytest.mark.django_db(transaction=True)
def test_the_guard_can_be_taken_off_and_put_on_again():
    call_command("migrate", "fleet", "0002", verbosity=0)
    assert [message.id for message in check_act_book(None, databases=["default"])] == ["fleet.W003"]
    call_command("migrate", verbosity=0)
    assert check_act_book(None, databases=["default"]) == []


@pytest.mark.parametrize(
    ("command", "version", "found"),
    [
        ("PRAGMA journal_mode=WAL;", (3, 40, 1), ["fleet.E001"]),
        ("PRAGMA journal_mode = wal;", (3, 51, 2), ["fleet.E001"]),
        ("PRAGMA journal_mode=WAL;", (3, 51, 3), []),
        ("PRAGMA journal_mode=DELETE;", (3, 40, 1), []),
    ],
)
def test_a_write_ahead_log_needs_a_safe_sqlite(command, version, found):
    assert [message.id for message in wal_messages(command, version)] == found


def test_what_moved():
    assert changes_between({"a": 1, "b": "x"}, {"a": 2, "b": "x"}) == {"a": ["1", "2"]}


def _acts_written() -> set[str]:
    """Every act that a service of the fleet or the workshop writes in so many letters."""
    found = set()
    for path in [*ROOT.glob("fleet/services/*.py"), *ROOT.glob("maintenance/services/*.py")]:
        for node in ast.walk(ast.parse(path.read_text())):
            for keyword in getattr(node, "keywords", []):
                if keyword.arg == "act":
                    found |= {
                        one.value
                        for one in ast.walk(keyword.value)
                        if isinstance(one, ast.Constant) and isinstance(one.value, str) and "." in one.value
                    }
    return found


def test_every_act_has_its_words():
    written = _acts_written()
    assert len(written) > 60
    assert sorted(written - set(ACT_WORDS)) == []


def test_an_act_without_words_is_still_readable():
    assert words_of("card.take") == "took the job"
    assert words_of("event.call_off") == "event call off"


def test_nothing_is_announced_when_nothing_is_committed(django_capture_on_commit_callbacks, administrator):
    from fleet.services.museum import museum_change

    heard = []

    def listen(sender, act, vehicle_id, **kwargs):
        heard.append((act, vehicle_id))

    fleet_changed.connect(listen)
    try:
        with django_capture_on_commit_callbacks() as callbacks:
            museum_change(by=administrator, name="Tollmarsh Sheds")
        assert heard == []
        for callback in callbacks:
            callback()
        assert heard == [("museum.change", None)]
    finally:
        fleet_changed.disconnect(listen)


@pytest.mark.parametrize(
    ("address", "found"), [("https://board.example.org", []), ("board.example.org", ["fleet.E002"])]
)
def test_the_address_on_printed_codes_has_its_scheme(address, found, settings):
    settings.SITE_ADDRESS = address
    assert [message.id for message in check_site_address(None)] == found


def test_the_set_up_of_the_tests_is_sound():
    assert check_journal(None) == []
