"""Background work. Each task fetches, calls one service, and may run twice without harm."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from celery import shared_task
from django.utils import timezone

from maintenance.services import which_templates
from readiness import digests
from readiness.services import assessing, best_acts, evening
from readiness.services.digests import digests_send
from readiness.snapshot.rows import museum_row


@shared_task(name="readiness.assess")
def assess() -> int:
    """Assess what asks for it."""
    return assessing.assess_wanted()


@shared_task(name="readiness.sweep")
def sweep() -> int:
    """Pick up requests whose message was lost (a killed worker, a queue that was down); then find what would change it."""
    kept = assessing.assess_wanted()
    which_templates.rehearsals_left()
    best_acts.keep_best_acts()
    return kept


@shared_task(name="readiness.evening_forecast")
def evening_forecast() -> int:
    """Keep the day's record of every entry."""
    with timezone.override(ZoneInfo(museum_row().time_zone)):
        return evening.evening_keep()


@shared_task(name="readiness.send_digests")
def send_digests() -> int:
    """Write the reminders that are due and send what waits."""
    with timezone.override(ZoneInfo(museum_row().time_zone)):
        digests.digests_write()
        return digests_send()
