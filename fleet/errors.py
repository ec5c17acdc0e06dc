"""What a service says when it cannot do what was asked, beside Django's own refusals."""

from __future__ import annotations

from collections.abc import Sequence


class Conflict(Exception):
    """Somebody else was there first. Nothing was changed; `changed` says what they did, newest last."""

    def __init__(self, message: str, changed: Sequence[str] = ()) -> None:
        super().__init__(message)
        self.message = message
        self.changed = tuple(changed)

    def __str__(self) -> str:
        return " ".join([self.message, *self.changed])
