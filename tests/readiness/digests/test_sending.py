"""Each reminder once: two workers, a worker that dies, a mail server that is down or swallows, and one that is missing."""

import datetime as dt
import smtplib

import pytest
from django.core import mail
from django.core.management import call_command
from django.utils import timezone

from fleet import mail as letters
from fleet.models import Person
from readiness.digests import letters as letters_due
from readiness.models import Digest, Done
from readiness.services.digests import (
    CLAIM_LAPSES,
    Letter,
    Line,
    claim,
    digest_make,
    digest_seen,
    digests_send,
    waiting,
)
from readiness.tasks import send_digests
from tests.factories import PersonFactory

pytestmark = pytest.mark.django_db


def letter(person: Person, words: str = "Order today: winch rope.", **fields) -> Letter:
    given = {"kind": "coordinator", "period": "2027-05-06", "lines": (Line(words=words, path="/stores/"),)}
    return Letter(person=person, **{**given, **fields})


@pytest.fixture
def odette(db) -> Person:
    return PersonFactory(name="Corin Vale", code="K01", email="corin@museum.example", is_coordinator=True)


@pytest.fixture
def server(settings):
    settings.EMAIL_HOST = "mail.museum.example"
    settings.SITE_ADDRESS = "https://board.museum.example"
    return settings


def test_a_letter_is_written_once_a_period(odette: Person) -> None:
    first = digest_make(letter(odette))
    assert first is not None
    assert digest_make(letter(odette, words="Something else")) is None
    assert Digest.objects.get().subject == "Order today: winch rope."
    assert Done.objects.get().job == "digest coordinator K01"


def test_an_empty_letter_is_settled_without_a_word(odette: Person) -> None:
    assert digest_make(letter(odette, lines=())) is None
    assert not Digest.objects.exists()
    assert Done.objects.filter(period="2027-05-06").exists()


def test_the_same_words_again_are_not_sent_again_unless_they_must(odette: Person) -> None:
    digest_make(letter(odette))
    assert digest_make(letter(odette, period="2027-05-10")) is None
    assert digest_make(letter(odette, period="2027-05-13", repeats=True)) is not None
    assert digest_make(letter(odette, period="2027-05-17", words="Order today: hose.")) is not None
    assert Digest.objects.count() == 3


def test_it_says_first_what_to_do_with_one_link_a_line_and_names_the_person(server, odette: Person) -> None:
    lines = (
        Line(words="Order <today>: winch rope.", path="/stores/"),
        Line(words="Find people.", path="/programme/TRD/"),
    )
    row = digest_make(letter(odette, lines=lines))
    assert row is not None
    assert row.text.splitlines()[0] == "Corin Vale,"
    assert row.text.splitlines()[2:4] == [
        "Order <today>: winch rope.",
        "  https://board.museum.example/stores/",
    ]
    assert row.text.count("https://board.museum.example/") == 3
    assert f"https://board.museum.example/record/reminders/{row.pk}/" in row.text
    assert "Order &lt;today&gt;: winch rope." in row.html
    assert row.html.count("<li>") == 2


def test_a_title_cannot_add_a_header(server, odette: Person) -> None:
    row = digest_make(letter(odette, words="Order\r\nBcc: x@y.example\r\n: rope"))
    digests_send()
    assert row is not None
    assert mail.outbox[0].subject == "Order Bcc: x@y.example : rope"
    assert mail.outbox[0].bcc == []


def test_it_goes_out_once(server, odette: Person) -> None:
    row = digest_make(letter(odette))
    assert digests_send() == 1
    assert digests_send() == 0
    assert len(mail.outbox) == 1
    sent = mail.outbox[0]
    assert row is not None
    assert (sent.to, sent.extra_headers["Message-ID"]) == (["corin@museum.example"], row.message_id)
    assert sent.alternatives[0][1] == "text/html"
    row.refresh_from_db()
    assert row.sent_at is not None


def test_without_a_mail_server_it_waits_and_nothing_is_tried(settings, odette: Person) -> None:
    settings.EMAIL_HOST = ""
    row = digest_make(letter(odette))
    assert digests_send() == 0
    assert row is not None
    row.refresh_from_db()
    assert (row.claimed_at, row.sent_at) == (None, None)
    assert list(waiting()) == [row]


def test_somebody_without_an_address_is_not_tried(server, odette: Person) -> None:
    Person.objects.filter(pk=odette.pk).update(email="")
    digest_make(letter(odette))
    assert digests_send() == 0
    assert Digest.objects.get().claimed_at is None


def test_of_two_claims_one_holds_until_it_lapses(odette: Person) -> None:
    row, now = digest_make(letter(odette)), timezone.now()
    assert row is not None
    assert claim(row, now)
    assert not claim(row, now)
    assert not claim(row, now + CLAIM_LAPSES)
    assert claim(row, now + CLAIM_LAPSES + dt.timedelta(seconds=1))


def test_a_worker_that_died_between_claim_and_send_loses_nothing(server, odette: Person) -> None:
    row, now = digest_make(letter(odette)), timezone.now()
    assert row is not None
    claim(row, now)
    assert digests_send(now=now + dt.timedelta(minutes=14)) == 0
    assert digests_send(now=now + dt.timedelta(minutes=16)) == 1
    assert [m.extra_headers["Message-ID"] for m in mail.outbox] == [row.message_id]


def test_a_mail_server_that_takes_the_letter_and_drops_the_line_gets_the_same_message_id(
    server, odette: Person, monkeypatch
) -> None:
    row, now, seen = digest_make(letter(odette)), timezone.now(), []
    plain = letters.letter_send

    def swallow(**words) -> None:
        seen.append(words["message_id"])
        plain(**words)
        if len(seen) == 1:
            raise smtplib.SMTPServerDisconnected("Connection unexpectedly closed")

    monkeypatch.setattr(letters, "letter_send", swallow)
    assert digests_send(now=now) == 0
    assert row is not None
    row.refresh_from_db()
    assert row.sent_at is None
    assert "SMTPServerDisconnected" in row.trouble
    assert digests_send(now=now + dt.timedelta(minutes=5)) == 0
    assert digests_send(now=now + dt.timedelta(minutes=16)) == 1
    assert seen == [row.message_id, row.message_id]
    row.refresh_from_db()
    assert row.trouble == ""


def test_one_letter_that_fails_does_not_hold_up_the_next(server, odette: Person, monkeypatch) -> None:
    other = PersonFactory(email="dagny@museum.example")
    digest_make(letter(odette))
    digest_make(letter(other))
    plain = letters.letter_send

    def refuse_one(**words) -> None:
        if words["to"] == odette.email:
            raise ConnectionRefusedError("no")
        plain(**words)

    monkeypatch.setattr(letters, "letter_send", refuse_one)
    assert digests_send() == 1
    assert [m.to for m in mail.outbox] == [["dagny@museum.example"]]


def test_a_reminder_that_waited_two_days_is_stale(server, odette: Person) -> None:
    row = digest_make(letter(odette))
    assert row is not None
    Digest.objects.filter(pk=row.pk).update(made_at=timezone.now() - dt.timedelta(hours=49))
    assert digests_send() == 0


def test_the_message_id_is_stable_short_and_one_word(server) -> None:
    one = letters.message_id("lead at once", "26/073 1C", "P02")
    assert one == letters.message_id("lead at once", "26/073 1C", "P02")
    assert one != letters.message_id("lead at once", "26/073 1C", "P03")
    assert one.startswith("<lead-at-once.26-073-1C.P02.")
    assert one.endswith("@board.museum.example>")
    long = letters.message_id("k" * 90, "p" * 90, "P02")
    assert len(long) <= 120
    assert " " not in long


def test_seen_is_said_once_by_the_person_alone(odette: Person, manager) -> None:
    row = digest_make(letter(odette))
    assert row is not None
    assert digest_seen(by=manager, digest=row).seen_at is None
    first = digest_seen(by=odette, digest=row).seen_at
    assert first is not None
    assert digest_seen(by=odette, digest=row).seen_at == first


def test_no_letter_where_there_is_no_event_and_no_work(museum, clock, cast) -> None:
    def written(day: int) -> list[tuple[str, list[str]]]:
        found = letters_due(dt.datetime(2027, 5, day, 18, 5))
        return [(x.person.code, [line.words for line in x.lines]) for x in found if x.lines]

    assert written(4) == []
    assert written(6) == [("coordinator", ["Nothing to do: nothing is late, nobody is wanted."])]


def test_the_command_says_what_it_would_send_and_writes_nothing(museum, clock, cast, capsys) -> None:
    call_command("send_digests", "--dry-run", "--at", "2027-05-06T18:05")
    said = capsys.readouterr().out
    assert "To Corin Vale <no address>: coordinator, 2027-05-06" in said
    assert "Nothing to do" in said
    assert "1 would be written." in said
    assert not Digest.objects.exists()
    assert not Done.objects.exists()


def test_the_command_writes_and_says_that_it_waits(museum, clock, cast, capsys, settings) -> None:
    settings.EMAIL_HOST = ""
    call_command("send_digests", "--at", "2027-05-06T18:05")
    said = capsys.readouterr().out
    assert "1 written, 0 sent." in said
    assert "they wait in the record book" in said


def test_a_moment_that_is_none_is_said_plainly(museum) -> None:
    from django.core.management import CommandError

    with pytest.raises(CommandError, match="2027-05-06T18:05"):
        call_command("send_digests", "--at", "Thursday")


def test_the_task_may_run_twice(museum, clock, cast, server) -> None:
    Person.objects.filter(pk=cast.coordinator.pk).update(email="corin@museum.example")
    clock.move_to(dt.datetime(2027, 5, 6, 17, 5, tzinfo=dt.UTC))
    assert send_digests() == 1
    assert send_digests() == 0
    assert len(mail.outbox) == 1
