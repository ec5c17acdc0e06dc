"""Background work of the workshop. Each task calls one service, and may run twice without harm."""

from __future__ import annotations

from celery import shared_task

from maintenance.phone import due, slips
from maintenance.services.which_templates import rehearsal_run


@shared_task(name="maintenance.make_due_cards")
def make_due_cards() -> int:
    """Open jobs for our own inspections that fall due within four weeks."""
    return due.make_due_cards()


@shared_task(name="maintenance.clear_old_names")
def clear_old_names() -> int:
    """Take visitors' names off slips that are older than the museum keeps them."""
    return slips.clear_old_names()


@shared_task(name="maintenance.play_sheet")
def play_sheet(pk: int) -> bool:
    """Play a sheet to start from with each of its causes as the true one."""
    return rehearsal_run(pk=pk)
