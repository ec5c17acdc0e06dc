"""The standing cast: one person for each role, a stranger, a vehicle. Every test means the same people."""

from types import SimpleNamespace

import pytest
from django.db.backends.sqlite3.operations import DatabaseOperations
from django.test import Client

from fleet.enums import InspectArea
from fleet.models import Person, Vehicle
from tests.factories import CompetenceFactory, MuseumFactory, PersonFactory, VehicleFactory
from tests.factories.fleet import PASSWORD

ROLE_NAMES = {
    "driver": "Rufus Penn",
    "mechanic": "Asta Finch",
    "lead": "Berit Holm",
    "coordinator": "Corin Vale",
    "manager": "Dagny Moss",
    "curator": "Edda Lark",
    "administrator": "Fabian Reed",
}
GUARDS = ("fleet_act_no_update", "fleet_act_no_delete")


@pytest.fixture(autouse=True, scope="session")
def flush_past_the_guard():
    """A test with real transactions empties all tables; SQLite's guard of the act book is lifted for that moment."""
    plain = DatabaseOperations.execute_sql_flush

    def flush(self, sql_list):
        with self.connection.cursor() as cursor:
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
            kept = [(name, sql) for name, sql in cursor.fetchall() if name in GUARDS]
            for name, _ in kept:
                cursor.execute(f"DROP TRIGGER {name}")
        plain(self, sql_list)
        with self.connection.cursor() as cursor:
            for _, sql in kept:
                cursor.execute(sql)

    DatabaseOperations.execute_sql_flush = flush
    yield
    DatabaseOperations.execute_sql_flush = plain


def person_of(role: str, **fields) -> Person:
    return PersonFactory(name=ROLE_NAMES[role], code=role, username=role, **{f"is_{role}": True}, **fields)


@pytest.fixture
def driver(db) -> Person:
    return person_of("driver")


@pytest.fixture
def mechanic(db) -> Person:
    return person_of("mechanic")


@pytest.fixture
def lead(db) -> Person:
    return person_of("lead")


@pytest.fixture
def coordinator(db) -> Person:
    return person_of("coordinator")


@pytest.fixture
def manager(db) -> Person:
    return person_of("manager")


@pytest.fixture
def curator(db) -> Person:
    return person_of("curator")


@pytest.fixture
def administrator(db) -> Person:
    return person_of("administrator")


@pytest.fixture
def inspector(db) -> Person:
    """A driver who may pass another's brakes and steering."""
    person = PersonFactory(name="Gudrun Ash", code="inspector", username="inspector", is_driver=True)
    CompetenceFactory(person=person, area=InspectArea.BRAKES)
    CompetenceFactory(person=person, area=InspectArea.STEERING)
    return person


@pytest.fixture
def stranger(client) -> Client:
    """A browser that nobody has signed in on."""
    return client


@pytest.fixture
def cast(driver, mechanic, lead, coordinator, manager, curator, administrator) -> SimpleNamespace:
    return SimpleNamespace(
        driver=driver,
        mechanic=mechanic,
        lead=lead,
        coordinator=coordinator,
        manager=manager,
        curator=curator,
        administrator=administrator,
    )


@pytest.fixture
def museum(db):
    from fleet.http import forget_museum

    forget_museum()
    yield MuseumFactory()
    forget_museum()


@pytest.fixture
def vehicle(db) -> Vehicle:
    return VehicleFactory(code="V01", number="B 02", name="Thistle")


@pytest.fixture
def login():
    """login(person) gives a browser that the person is signed in on."""

    def sign_in(person: Person) -> Client:
        client = Client()
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return sign_in


@pytest.fixture
def password() -> str:
    """Everybody's password in tests."""
    return PASSWORD
