"""Background work of the fleet. Each task fetches, calls one service, and may run twice without harm."""

from __future__ import annotations

from smtplib import SMTPException

from celery import shared_task

from fleet.services.reset import reset_letters_send


@shared_task(
    name="fleet.reset_letters", autoretry_for=(OSError, SMTPException), max_retries=3, retry_backoff=30
)
def reset_letters(typed: str) -> int:
    """Send the link for a new password. Sent twice, the first link used ends the other."""
    return reset_letters_send(typed)
