"""Every service asks here before it acts."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from django.core.exceptions import PermissionDenied

from fleet import rules
from fleet.models import Person

_importing: ContextVar[int | None] = ContextVar("importing", default=None)


def permit(by: Person | None, act: str, allowed: bool | None = None, sentence: str = "") -> None:
    """Refuse with a plain sentence unless `by` may do `act`.

    `allowed` is the answer of a rule that looked at the thing as well; without it the table alone decides.
    """
    if is_importing(by):
        return
    if not (rules.may(by, act) if allowed is None else allowed):
        raise PermissionDenied(sentence or rules.refusal(act))


def is_importing(by: Person | None) -> bool:
    return by is not None and by.pk is not None and _importing.get() == by.pk


@contextmanager
def importing(by: Person) -> Iterator[None]:
    """Bringing in a table: one who may import writes down what others did, each act under the importer's name."""
    permit(by, "data.import")
    token = _importing.set(by.pk)
    try:
        yield
    finally:
        _importing.reset(token)
