"""The next freeze, as the app above knows it. Without an answer nothing is wanted by a day."""

from __future__ import annotations

import datetime as dt
from typing import Any

from maintenance.models import JobCard
from maintenance.signals import freeze_asked


def next_freeze(day: dt.date) -> dt.datetime | None:
    answers: Any = freeze_asked.send(sender=JobCard, day=day)
    return min((answer for _, answer in answers if answer is not None), default=None)
