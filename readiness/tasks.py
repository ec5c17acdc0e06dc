"""Background work. Each task fetches, calls one service, and may run twice without harm."""

from __future__ import annotations

from celery import shared_task

from readiness.services import assessing


@shared_task(name="readiness.assess")
def assess() -> int:
    """Assess what asks for it."""
    return assessing.assess_wanted()


@shared_task(name="readiness.sweep")
def sweep() -> int:
    """Pick up requests whose message was lost: a killed worker, a queue that was down."""
    return assessing.assess_wanted()
