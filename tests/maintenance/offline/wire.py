"""The wire between a phone and the server: it can be cut, and it can lose an answer on the way back."""

from __future__ import annotations

import contextlib
import socket
import threading
from urllib.parse import urlsplit


class Wire:
    """Passes bytes on. `lose` answers to posts reach nobody, though the server has done its work.

    `deaf`: what is asked of this address never gets through.
    """

    def __init__(self, target: str) -> None:
        parts = urlsplit(target)
        self.there = (parts.hostname or "localhost", parts.port or 80)
        self.lose, self.lost, self.posts = 0, 0, 0
        self.deaf = b""
        self.open: set[socket.socket] = set()
        self.port = 0
        self.start()

    @property
    def url(self) -> str:
        return f"http://localhost:{self.port}"

    def start(self) -> None:
        self.door = socket.create_server(("127.0.0.1", self.port))
        self.port = self.door.getsockname()[1]
        threading.Thread(target=self._serve, args=(self.door,), daemon=True).start()

    def stop(self) -> None:
        """As when the server's machine is switched off: nobody listens, and what was under way breaks."""
        with contextlib.suppress(OSError):
            self.door.shutdown(socket.SHUT_RDWR)
        self.door.close()
        for one in list(self.open):
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    def _serve(self, door: socket.socket) -> None:
        while True:
            try:
                caller, _ = door.accept()
            except OSError:
                return
            threading.Thread(target=self._pass_on, args=(caller,), daemon=True).start()

    def _pass_on(self, caller: socket.socket) -> None:
        with contextlib.suppress(OSError), caller, socket.create_connection(self.there) as server:
            self.open |= {caller, server}
            state = {"post": False}
            up = threading.Thread(target=self._up, args=(caller, server, state), daemon=True)
            up.start()
            while data := server.recv(65536):
                if state["post"]:
                    state["post"] = False
                    if self.lose > 0:
                        self.lose -= 1
                        self.lost += 1
                        break
                caller.sendall(data)
            for one in (caller, server):
                with contextlib.suppress(OSError):
                    one.shutdown(socket.SHUT_RDWR)
            up.join()
            self.open -= {caller, server}

    def _up(self, caller: socket.socket, server: socket.socket, state: dict[str, bool]) -> None:
        with contextlib.suppress(OSError):
            while data := caller.recv(65536):
                if self.deaf and self.deaf in data.split(b"\r\n", 1)[0]:
                    break
                if data.startswith(b"POST "):
                    state["post"] = True
                    self.posts += 1
                server.sendall(data)
        with contextlib.suppress(OSError):
            server.shutdown(socket.SHUT_WR)
