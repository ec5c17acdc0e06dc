"""The next freeze, as the app above knows it. Without an answer nothing is wanted by a day."""

from __future__ import annotations

import datetime as dt

from maintenance import signals
from maintenance.models import JobCard


def next_freeze(day: dt.date) -> dt.datetime | None:
    asked = getattr(signals, "freeze_asked", None)
    if asked is None:
        return None
    answers = [answer for _, answer in asked.send(sender=JobCard, day=day)]
    return min((answer for answer in answers if answer is not None), default=None)
