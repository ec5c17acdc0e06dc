"""Real processes on a real file and a real mail server: however many workers run, each letter goes out once."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.services.house import ROOT, House

pytestmark = pytest.mark.services

PEOPLE = """
from fleet.models import Museum, Person
Museum.objects.create(name="Tollmarsh Sheds")
for n in range(12):
    Person.objects.create_user(f"k{n:02d}", f"Corin Vale {n}", code=f"K{n:02d}", email=f"k{n:02d}@museum.example", is_coordinator=True)
"""
COUNT = """
from readiness.models import Digest
print(Digest.objects.count(), Digest.objects.filter(sent_at=None).count(), len(set(Digest.objects.values_list("message_id", flat=True))))
"""
WORDS = ("manage.py", "send_digests", "--at", "2027-05-06T18:05")


@pytest.fixture
def house(tmp_path: Path, mail_sink) -> House:
    sender = {
        "EMAIL_HOST": "127.0.0.1",
        "EMAIL_PORT": str(mail_sink.port),
        "SITE_ADDRESS": "https://board.museum.example",
    }
    made = House(data=tmp_path / "data", extra=sender)
    made.data.mkdir()
    made.manage("migrate", "--verbosity", "0")
    made.python(PEOPLE)
    return made


def start(house: House) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, *WORDS],
        cwd=ROOT,
        env=house.env,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def sent_to(mail_sink) -> list[str]:
    return sorted(address for letter in mail_sink.messages for address in [letter["To"]])


def test_three_workers_at_once_send_each_letter_once(house: House, mail_sink) -> None:
    workers = [start(house) for _ in range(3)]
    answers = [w.communicate(timeout=90) for w in workers]
    assert [w.returncode for w in workers] == [0, 0, 0], answers
    assert sent_to(mail_sink) == [f"k{n:02d}@museum.example" for n in range(12)]
    assert house.python(COUNT) == "12 0 12"


def test_a_worker_killed_while_it_sends_loses_no_letter_and_repeats_none_with_another_id(
    house: House, mail_sink
) -> None:
    worker = start(house)
    until = time.monotonic() + 60
    while not mail_sink.messages and time.monotonic() < until:
        time.sleep(0.005)
    os.kill(worker.pid, signal.SIGKILL)
    worker.communicate()
    house.python(
        "from readiness.models import Digest; Digest.objects.filter(sent_at=None).update(claimed_at=None)"
    )
    done = house.manage(*WORDS[1:])
    assert "0 written" in done
    assert house.python(COUNT) == "12 0 12"
    by_person: dict[str, set[str]] = {}
    for letter in mail_sink.messages:
        by_person.setdefault(letter["To"], set()).add(letter["Message-ID"])
    assert sorted(by_person) == [f"k{n:02d}@museum.example" for n in range(12)]
    assert {len(ids) for ids in by_person.values()} == {1}
