"""A phone's outbox at a which-part sheet: it wants to know "taken or not", and says how long it kept the entry."""

from __future__ import annotations

import datetime as dt

from django.http import HttpRequest, JsonResponse
from django.utils import timezone

KEPT_FOR = "X-Kept-For"
LONGEST = dt.timedelta(days=90)
LONGEST_FIGURE = 10


def wants_answer(request: HttpRequest) -> bool:
    """Whether a plain answer is asked for instead of a page."""
    return request.method == "POST" and "application/json" in request.headers.get("Accept", "")


def told(*, taken: bool, words: str, status: int = 200) -> JsonResponse:
    """The answer. Only `taken` true lets a phone forget what it kept."""
    return JsonResponse({"taken": taken, "words": words}, status=status)


def kept_since(request: HttpRequest) -> dt.datetime:
    """When it was written: our clock less the seconds that the phone kept it, whatever the phone's own clock says."""
    said = request.headers.get(KEPT_FOR, "")
    seconds = int(said) if said.isascii() and said.isdigit() and len(said) < LONGEST_FIGURE else 0
    return timezone.now() - min(dt.timedelta(seconds=seconds), LONGEST)
