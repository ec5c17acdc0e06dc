"""Several people at once, on a real PostgreSQL: one number each, one effect a key, nothing overwritten unseen."""

import datetime as dt
import threading

import pytest
from django.db import connection, connections

from fleet.errors import Conflict
from fleet.models import Serial
from fleet.services.serials import next_serial
from maintenance.models import DefectNote, Submission, Tag
from maintenance.services.cards import card_plan, card_take
from maintenance.services.submissions import once
from maintenance.services.tags import tag_hang
from tests.conftest import person_of
from tests.factories import CardFactory, DefectFactory, VehicleFactory

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]
SENDERS = 12


@pytest.fixture(autouse=True)
def only_on_a_server():
    if connection.vendor != "postgresql":
        pytest.skip("SQLite lets one writer in at a time; DATABASE_URL names no PostgreSQL")


def at_once(*acts):
    """Run all at the same moment, each on its own connection; their answers or troubles, in order."""
    gate, answers = threading.Barrier(len(acts)), [None] * len(acts)

    def run(number, act):
        try:
            gate.wait(10)
            answers[number] = act()
        except Exception as trouble:  # noqa: BLE001 - an answer like any other
            answers[number] = trouble
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return answers


def test_everybody_gets_their_own_number():
    numbers = at_once(*[lambda: next_serial(dt.date(2026, 5, 1))] * SENDERS)
    assert sorted(numbers) == [f"26/{n:03d}" for n in range(1, SENDERS + 1)]
    assert Serial.objects.get().last == SENDERS


def test_twenty_senders_of_one_key_have_one_effect_and_one_answer():
    mechanic, defect = person_of("mechanic"), DefectFactory()

    def send():
        def do():
            return {"note": DefectNote.objects.create(defect=defect, by=mechanic, text="seen").pk}

        return once(key="k1", person=mechanic, act="defect.note", payload={"text": "seen"}, do=do)

    answers = at_once(*[send] * 20)
    assert [type(answer) for answer in answers] == [tuple] * 20
    assert len({answer["note"] for answer, _ in answers}) == 1
    assert sorted(repeated for _, repeated in answers) == [False] + [True] * 19
    assert (DefectNote.objects.count(), Submission.objects.count()) == (1, 1)


def test_one_takes_the_job_and_the_others_are_told_who():
    card = CardFactory()
    hands = [person_of("mechanic"), person_of("lead")]
    answers = at_once(*[lambda hand=hand: card_take(card=card, by=hand) for hand in hands])
    card.refresh_from_db()
    winner = next(hand for hand in hands if hand.pk == card.taken_by_id)
    loser = answers[1 - hands.index(winner)]
    assert isinstance(loser, Conflict)
    assert loser.message.startswith(f"{winner.name} has {card}")


def test_of_two_plans_made_from_the_same_page_one_is_refused():
    card, lead = CardFactory(), person_of("lead")
    answers = at_once(
        lambda: card_plan(card=card, by=lead, persons=2, expected_version=1),
        lambda: card_plan(card=card, by=lead, persons=3, expected_version=1),
    )
    assert sorted(type(answer).__name__ for answer in answers) == ["Conflict", "JobCard"]
    card.refresh_from_db()
    assert card.version == 2


def test_tags_hung_at_once_have_their_own_stubs():
    lead, vehicles = person_of("lead"), [VehicleFactory(systems=False) for _ in range(6)]
    tag_hang(vehicle=vehicles[0], by=lead, reason="rim pitted")
    answers = at_once(*[lambda v=v: tag_hang(vehicle=v, by=lead, reason="rim pitted") for v in vehicles])
    assert [type(answer) for answer in answers] == [Tag] * 6
    assert len(set(Tag.objects.values_list("stub", flat=True))) == 7
