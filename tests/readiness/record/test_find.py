"""Find: the exact number or serial first; every word must be there; nothing typed breaks it."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.models import Fact
from readiness.queries.find import find, words_of
from tests.factories import CardFactory, DefectFactory, PartNeedFactory, PersonFactory, VehicleFactory

pytestmark = pytest.mark.django_db


def titles(text: str) -> list[tuple[str, list[str]]]:
    return [(k.title, [a.title for a in k.answers]) for k in find(text)]


@pytest.fixture
def house(vehicle):
    other = VehicleFactory(code="V02", number="B 021", name="Duchess", notes="Thistle's sister")
    card = CardFactory(vehicle=vehicle, serial="27/041", title="Brake linings")
    DefectFactory(vehicle=other, serial="27/042", title="Pulls to the left")
    PartNeedFactory(card=card, name="Lining set", bin="C4")
    PersonFactory(name="Berit Holm", code="P02")
    Fact.objects.create(
        vehicle=vehicle, about="drum stamp 2", value="second oversize", recorded_on="2027-01-02"
    )
    return vehicle


@pytest.mark.parametrize("typed", ["B 02", "b 02", " B\u00a002 ", "V01", "thistle"])
def test_the_exact_vehicle_comes_first(house, typed: str) -> None:
    kind = find(typed)[0]
    assert kind.title == "Vehicles"
    assert (kind.answers[0].title, kind.answers[0].rank) == ("Thistle", 0)


def test_an_exact_serial_brings_its_kind_to_the_top(house) -> None:
    assert titles("27/042")[0] == ("Faults", ["27/042 Pulls to the left"])
    assert titles("27/041")[0] == ("Jobs", ["27/041 Brake linings"])


def test_every_word_must_be_there(house) -> None:
    assert titles("brake linings") == [("Jobs", ["27/041 Brake linings"])]
    assert titles("brake feathers") == []
    assert ("What we know", ["drum stamp 2: second oversize"]) in titles("oversize")
    assert ("People", ["Berit Holm"]) in titles("holm")
    assert ("Parts", ["Lining set"]) in titles("lining set")
    assert ("Jobs", ["27/041 Brake linings"]) in titles("thistle brake")


@pytest.mark.parametrize(
    "typed", ["", "   ", "%", "_", "'; DROP TABLE", "\x00", "ß" * 500, "a " * 200, "<script>"]
)
def test_nothing_typed_breaks_it(house, login, driver, typed: str) -> None:
    answer = login(driver).get(reverse("readiness:find"), {"q": typed})
    assert answer.status_code == 200
    assert "<script>" not in answer.content.decode().split('id="main"')[1].split("</main>")[0]


def test_a_sign_is_a_sign_and_no_joker(house) -> None:
    assert titles("%") == []
    assert titles("_") == []


def test_no_more_words_than_are_useful() -> None:
    assert len(words_of("one two three four five six seven eight")) == 6


def test_the_page_says_what_was_not_found_and_everybody_may_ask(house, login, curator, stranger) -> None:
    address = reverse("readiness:find")
    page = login(curator).get(address, {"q": "feathers"}).content.decode()
    assert "Nothing is kept under these words" in page
    assert 'value="feathers"' in page
    assert stranger.get(address).status_code == 302


def test_the_same_number_of_queries_whatever_is_found(house) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as seen:
            find("brake")
        return len(seen)

    one = count()
    for n in range(3):
        card = CardFactory(vehicle=VehicleFactory(), title=f"Brake rod {n}")
        PartNeedFactory(card=card, name=f"Brake rod end {n}")
    assert count() == one == 12
