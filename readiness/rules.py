"""Who may do what on the programme, where the thing itself is looked at as well. Pure: rows in, yes or no out."""

from __future__ import annotations

from fleet.models import Person
from fleet.rules import Actor, may
from readiness.enums import EventState
from readiness.models import Digest, Event

SHEET_ROLES = ("coordinator", "lead", "manager")


def may_change_programme(actor: Actor | None, event: Event | None = None) -> bool:
    """A programme that is over or called off is left as it was."""
    return may(actor, "programme.change") and (event is None or event.state == EventState.PLANNED)


def may_enter(actor: Actor | None, event: Event | None = None) -> bool:
    return may(actor, "entry.enter") and (event is None or event.state == EventState.PLANNED)


def may_tick(actor: Actor | None, event: Event | None = None) -> bool:
    return may(actor, "entry.tick") and (event is None or event.state == EventState.PLANNED)


def may_print_sheet(actor: Actor | None) -> bool:
    """The whole-event sheet is signed by these three."""
    has_role = getattr(actor, "has_role", None)
    return bool(has_role is not None and has_role(*SHEET_ROLES))


def may_read_digest(person: Person | None, digest: Digest) -> bool:
    """Their own; the coordinator and the administrator see what waits to be sent."""
    if person is None or not person.is_active:
        return False
    return digest.person_id == person.pk or person.has_role("coordinator", "administrator")
