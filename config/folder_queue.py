"""The embedded queue: one file a message in a folder, for a museum without Redis.

Celery's own file transport was tried and put aside: it reads a message that is still being written, keeps its routing
table in a file that two processes rewrite at once, and loses what a killed worker had in hand. Here a message appears
by a rename, so it is whole or not there; it stays in `taken/` until it is acknowledged, and goes back to `waiting/` when
the next worker starts. One worker at a time; any number of senders.
"""

from __future__ import annotations

import fcntl
import time
import uuid
from pathlib import Path
from queue import Empty
from typing import IO, Any, ClassVar

from kombu.transport import TRANSPORT_ALIASES, virtual
from kombu.utils.json import dumps, loads

SCHEME = "folder"


def register() -> None:
    TRANSPORT_ALIASES[SCHEME] = f"{__name__}:Transport"


class QueueTakenError(RuntimeError):
    """Another worker already empties this folder."""


class QoS(virtual.QoS):
    channel: Any
    # What is not acknowledged lies in taken/ and is found again at the next start.
    restore_at_shutdown = False

    def ack(self, delivery_tag: str) -> None:
        super().ack(delivery_tag)
        self.channel.drop(delivery_tag)

    def reject(self, delivery_tag: str, requeue: bool = False) -> None:
        super().reject(delivery_tag, requeue=requeue)
        self.channel.drop(delivery_tag)


class Channel(virtual.Channel):
    QoS = QoS
    supports_fanout = False
    # One lock a process and folder: a consumer that reconnects in the same worker keeps it.
    _locks: ClassVar[dict[Path, IO[str]]] = {}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._in_hand: dict[str, Path] = {}

    def _folder(self, queue: str, part: str) -> Path:
        client: Any = self.connection.client
        root = client.transport_options["folder"]
        folder = Path(root) / queue.replace("/", "_") / part
        folder.mkdir(parents=True, exist_ok=True)
        return folder

    def _put(self, queue: str, message: dict[str, Any], **kwargs: Any) -> None:
        name = f"{time.time_ns():020d}-{uuid.uuid4().hex}"
        part_written = self._folder(queue, "writing") / name
        part_written.write_text(dumps(message), encoding="utf-8")
        part_written.rename(self._folder(queue, "waiting") / name)

    def _get(self, queue: str, timeout: float | None = None) -> dict[str, Any]:
        taken = self._folder(queue, "taken")
        for path in sorted(self._folder(queue, "waiting").iterdir()):
            try:
                mine = path.rename(taken / path.name)
            except FileNotFoundError:
                continue
            message: dict[str, Any] = loads(mine.read_text(encoding="utf-8"))
            self._in_hand[message["properties"]["delivery_tag"]] = mine
            return message
        raise Empty

    def drop(self, delivery_tag: str) -> None:
        path = self._in_hand.pop(delivery_tag, None)
        if path is not None:
            path.unlink(missing_ok=True)

    def basic_consume(self, queue: str, *args: Any, **kwargs: Any) -> Any:
        self._claim(queue)
        waiting = self._folder(queue, "waiting")
        held = set(self._in_hand.values())
        for path in self._folder(queue, "taken").iterdir():
            if path not in held:
                path.rename(waiting / path.name)
        return super().basic_consume(queue, *args, **kwargs)

    def _claim(self, queue: str) -> None:
        folder = self._folder(queue, "")
        if folder in self._locks:
            return
        handle = (folder / "worker.lock").open("w")
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            handle.close()
            raise QueueTakenError(f"Another worker already empties {folder}. Stop that one first.") from None
        self._locks[folder] = handle

    def _size(self, queue: str) -> int:
        return sum(1 for _ in self._folder(queue, "waiting").iterdir())

    def _purge(self, queue: str) -> int:
        gone = 0
        for path in self._folder(queue, "waiting").iterdir():
            path.unlink(missing_ok=True)
            gone += 1
        return gone

    def _new_queue(self, queue: str, **kwargs: Any) -> None:
        self._folder(queue, "waiting")

    def _has_queue(self, queue: str, **kwargs: Any) -> bool:
        return True

    def _delete(self, queue: str, *args: Any, **kwargs: Any) -> None:
        self._purge(queue)


class Transport(virtual.Transport):
    Channel = Channel
    driver_type = SCHEME
    driver_name = SCHEME
    polling_interval = 0.25  # seconds; an empty look costs one directory listing
    default_port = 0

    def driver_version(self) -> str:
        return "1"
