"""Each act from a phone is done once, however often it is sent."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from typing import Any

from django.db import IntegrityError, transaction

from fleet.errors import Conflict
from fleet.models import Person
from maintenance.models import Submission


def digest_of(act: str, payload: Mapping[str, Any]) -> str:
    """The same content gives the same text, whatever the order in which it was written."""
    text = json.dumps([act, payload], sort_keys=True, ensure_ascii=True, separators=(",", ":"), default=str)
    return hashlib.sha256(text.encode()).hexdigest()


def once(
    *,
    key: str,
    person: Person | None,
    act: str,
    payload: Mapping[str, Any],
    do: Callable[[], dict[str, Any]],
) -> tuple[dict[str, Any], bool]:
    """Do it, or give the answer of the first time. Returns (answer, repeated).

    The key's row is written before the work and in the same transaction: a second sender waits on it, and if the
    work fails both are gone, so that the phone may send again.

    Raises:
        Conflict: the key was used for other content, or by another person. Nothing is done.
    """
    digest = digest_of(act, payload)
    with transaction.atomic():
        try:
            with transaction.atomic():
                row = Submission.objects.create(key=key, person=person, act=act, digest=digest)
        except IntegrityError:
            return _repeated(key, person, digest), True
        row.answer = do()
        row.save(update_fields=["answer"])
        # Read back as it is stored, so that the first answer and every later one are alike to the letter.
        row.refresh_from_db(fields=["answer"])
        return row.answer, False


def _repeated(key: str, person: Person | None, digest: str) -> dict[str, Any]:
    there = Submission.objects.get(key=key)
    if there.person_id != (person.pk if person is not None else None):
        raise Conflict("This entry was sent by somebody else before. It was not taken again.")
    if there.digest != digest:
        raise Conflict(
            "This entry was taken before with other content. It was not taken again; write it anew."
        )
    return there.answer
