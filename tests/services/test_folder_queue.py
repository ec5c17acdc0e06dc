"""The embedded queue loses nothing: not with several senders at once, not when its worker is killed."""

import fcntl
import multiprocessing
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from queue import Empty
from typing import Any

import pytest
from kombu import Connection, Exchange, Queue

from config import folder_queue
from tests.plugins import servers
from tests.services.house import ROOT, House

WORK = Queue("work", Exchange("work"), routing_key="work")


def link(folder: Path) -> Connection:
    folder_queue.register()
    return Connection("folder://localhost//", transport_options={"folder": str(folder)})


def send(folder: Path, sender: int, number: int) -> None:
    with link(folder) as connection:
        line = connection.SimpleQueue(WORK)
        for count in range(number):
            line.put([sender, count])
        line.close()


def drain(folder: Path) -> Iterator[tuple[Any, Any]]:
    with link(folder) as connection:
        line = connection.SimpleQueue(WORK)
        while True:
            try:
                message = line.get(block=True, timeout=1)
            except (Empty, TimeoutError):
                return
            yield message.payload, message


def test_every_message_of_four_senders_arrives_once_and_in_each_senders_order(tmp_path: Path) -> None:
    senders = [
        multiprocessing.get_context("fork").Process(target=send, args=(tmp_path, number, 250))
        for number in range(4)
    ]
    for sender in senders:
        sender.start()
    seen: list[tuple[int, int]] = []
    for payload, message in drain(tmp_path):  # while they are still being written
        seen.append(tuple(payload))
        message.ack()
    for sender in senders:
        sender.join()
        assert sender.exitcode == 0
    for payload, message in drain(tmp_path):
        seen.append(tuple(payload))
        message.ack()
    assert Counter(seen) == Counter((sender, count) for sender in range(4) for count in range(250))
    for number in range(4):
        mine = [count for sender, count in seen if sender == number]
        assert mine == sorted(mine)
    assert [path for path in tmp_path.rglob("*") if path.is_file() and path.name != "worker.lock"] == []


def test_what_was_not_acknowledged_comes_back_to_the_next_worker(tmp_path: Path) -> None:
    send(tmp_path, 1, 3)
    code = (
        "import os, signal\n"
        "from tests.services.test_folder_queue import drain, Path\n"
        f"for payload, message in drain(Path({str(tmp_path)!r})):\n"
        "    if payload[1] == 1: os.kill(os.getpid(), signal.SIGKILL)\n"
        "    message.ack()\n"
    )
    killed = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=House(data=tmp_path / "d").env, check=False, timeout=60
    )
    assert killed.returncode == -signal.SIGKILL
    left = []
    for payload, message in drain(tmp_path):
        left.append(payload[1])
        message.ack()
    assert left == [1, 2]


def test_a_second_worker_on_the_same_folder_is_refused(tmp_path: Path) -> None:
    house = House(data=tmp_path)
    command = [sys.executable, "-m", "celery", "--quiet", "-A", "config", "worker", "--pool", "solo"]
    with servers.running(command, log=tmp_path / "first.log", cwd=ROOT, env=house.env):
        servers.wait_until(lambda: (tmp_path / "pulse").exists(), "the first worker")
        with servers.running(command, log=tmp_path / "second.log", cwd=ROOT, env=house.env) as second:
            servers.wait_until(lambda: second.poll() is not None, "the second worker's end")
            assert second.returncode != 0
    assert "Another worker already empties" in (tmp_path / "second.log").read_text()


def test_a_rejected_message_can_be_put_back_or_dropped(tmp_path: Path) -> None:
    send(tmp_path, 1, 2)
    tries: Counter[int] = Counter()
    for payload, message in drain(tmp_path):
        tries[payload[1]] += 1
        if payload[1] == 0 and tries[0] == 1:
            message.requeue()
        else:
            message.reject()
    assert tries == {0: 2, 1: 1}
    assert list(drain(tmp_path)) == []
    assert list((tmp_path / "work" / "taken").iterdir()) == []


def test_counting_and_emptying(tmp_path: Path) -> None:
    send(tmp_path, 1, 5)
    with link(tmp_path) as connection:
        channel: Any = connection.default_channel
        assert channel.queue_declare("work").message_count == 5
        assert channel.queue_purge("work") == 5
        assert channel.queue_declare("work").message_count == 0
    assert list(drain(tmp_path)) == []


def test_a_second_consumer_is_refused_while_the_lock_is_held_elsewhere(tmp_path: Path) -> None:
    (tmp_path / "work").mkdir()
    with (tmp_path / "work" / "worker.lock").open("w") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        with pytest.raises(folder_queue.QueueTakenError, match="Another worker already empties"):
            list(drain(tmp_path))


def test_a_message_is_whole_or_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class CutOffError(Exception):
        pass

    def cut_off(self: Path, target: Path) -> Path:
        raise CutOffError

    with (
        monkeypatch.context() as patched
    ):  # a sender that falls after writing and before the message is in place
        patched.setattr(Path, "rename", cut_off)
        with pytest.raises(CutOffError):
            send(tmp_path, 1, 1)
    assert list(drain(tmp_path)) == []
    send(tmp_path, 2, 1)
    assert [payload for payload, _ in drain(tmp_path)] == [[2, 0]]
