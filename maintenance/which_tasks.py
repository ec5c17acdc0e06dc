"""Background work of which part. It may run twice without harm."""

from __future__ import annotations

from celery import shared_task

from maintenance.services.which_templates import rehearsal_run


@shared_task(name="maintenance.play_sheet")
def play_sheet(pk: int) -> bool:
    """Play a sheet to start from with each of its causes as the true one."""
    return rehearsal_run(pk=pk)
