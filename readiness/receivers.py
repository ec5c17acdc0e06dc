"""Work changed: mark the coming events and send the message that has them assessed."""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Iterator
from typing import Any

from django.db import transaction
from django.dispatch import receiver
from django.utils import timezone

from fleet.models import Person
from fleet.signals import fleet_changed
from maintenance.phone.manifest import also_keep, vehicle_pages
from maintenance.signals import event_end_asked, freeze_asked, work_changed
from readiness.enums import EventState
from readiness.models import Crew, Event
from readiness.services.assessing import assessment_ask
from readiness.tasks import assess, send_digests

log = logging.getLogger("running_order.assess")


@receiver(work_changed)
@receiver(fleet_changed)
def ask_for_assessment(sender: Any = None, **kwargs: Any) -> None:
    request_assessment()


@receiver(work_changed)
def tell_at_once(sender: Any = None, *, act: str = "", **kwargs: Any) -> None:
    """An accident or a near miss does not wait for the half hour; a queue that is down costs no more than that."""
    if act != "incident.report":
        return
    try:
        send_digests.delay()
    except Exception:
        log.warning("the queue took no message; the clock sends the letter", exc_info=True)


def request_assessment() -> None:
    """Ask for a new assessment; a queue that is down costs nothing, the sweep finds the request."""
    assessment_ask()
    transaction.on_commit(_send)


def _send() -> None:
    try:
        assess.delay()
    except Exception:
        log.warning("the queue took no message; the sweep will find the request", exc_info=True)


@receiver(event_end_asked)
def next_event_end(sender: Any = None, *, day: dt.date, **kwargs: Any) -> dt.date | None:
    """The last day of the next event on or after a day; a Serious deferral runs no longer."""
    event = (
        Event.objects.filter(last_day__gte=day)
        .exclude(state=EventState.CALLED_OFF)
        .order_by("last_day")
        .first()
    )
    return event.last_day if event else None


@receiver(freeze_asked)
def next_freeze(sender: Any = None, *, day: dt.date, **kwargs: Any) -> dt.datetime | None:
    """The freeze of the next planned event on or after a day."""
    event = (
        Event.objects.filter(freeze_at__date__gte=day, state=EventState.PLANNED).order_by("freeze_at").first()
    )
    return event.freeze_at if event else None


@also_keep
def vehicles_of_the_day(person: Person) -> Iterator[tuple[str, str]]:
    """A driver has the slip and the checks of each vehicle that they are down for, from a week before to the day after."""
    today = timezone.localdate()
    days = (today - dt.timedelta(days=1), today + dt.timedelta(days=7))
    duties = Crew.objects.filter(person=person, entry__isnull=False, slot__starts_at__date__range=days)
    codes = duties.exclude(slot__event__state=EventState.CALLED_OFF).values_list(
        "entry__vehicle__code", flat=True
    )
    for code in sorted(set(codes)):
        for address in vehicle_pages(code):
            yield address, "duty"
