"""What a phone that kept an entry is told, and how long it kept it: no clock of a phone is ever believed."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.forms import BaseForm
from django.http import HttpRequest, JsonResponse
from django.utils import timezone

KEPT_FOR = "X-Kept-For"
LONGEST = dt.timedelta(days=90)


def wants_answer(request: HttpRequest) -> bool:
    """Whether a phone's outbox asks, which wants to know "taken or not" and no page."""
    return request.method == "POST" and "application/json" in request.headers.get("Accept", "")


def told(*, taken: bool, words: str, status: int = 200, **more: Any) -> JsonResponse:
    """The answer to an outbox. Only `taken` true lets a phone forget what it kept."""
    return JsonResponse({"taken": taken, "words": words, **more}, status=status)


def refused(form: BaseForm, status: int) -> JsonResponse:
    """Not taken, with each reason once. What was typed stays on the phone."""
    words = dict.fromkeys(str(one) for errors in form.errors.values() for one in errors)
    return told(taken=False, words=" ".join(words), status=status, fields=marks_of(form))


def marks_of(form: BaseForm) -> dict[str, str]:
    """What is wrong at which field, by the field's name."""
    return {name: " ".join(map(str, errors)) for name, errors in form.errors.items() if name in form.fields}


def made_at(request: HttpRequest) -> dt.datetime:
    """When an entry was made: our clock less the seconds that the phone kept it. A phone a day wrong counts right."""
    now = timezone.now()
    said = request.headers.get(KEPT_FOR, "")
    seconds = int(said) if said.isascii() and said.isdigit() and len(said) < 10 else 0
    return now - min(dt.timedelta(seconds=seconds), LONGEST)
