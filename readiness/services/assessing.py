"""Ask for, make and keep assessments. The row that asks is committed with the change; the work is done behind it."""

from __future__ import annotations

import datetime as dt
import logging
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from readiness.enums import EventState
from readiness.models import Assessment, Event
from readiness.services.results import result_of
from readiness.services.working_out import Worked, work_out
from readiness.snapshot import fetch

log = logging.getLogger("running_order.assess")
RETRY_AFTER = dt.timedelta(seconds=30)


def coming_events() -> list[Event]:
    """Events that are planned and not over, the nearer freeze first."""
    return list(
        Event.objects.filter(state=EventState.PLANNED, last_day__gte=timezone.localdate()).order_by(
            "freeze_at", "-weight", "pk"
        )
    )


def assessment_ask() -> None:
    """Mark every coming event as wanting a new assessment. Committed together with what changed."""
    Event.objects.filter(state=EventState.PLANNED, last_day__gte=timezone.localdate()).update(
        wanted_at=timezone.now()
    )


def work_out_now(
    *, at: dt.datetime | None = None, samples: int | None = None, seed: int | None = None
) -> Worked:
    """Work out all coming events at one moment, without keeping the answer."""
    return work_out(
        fetch(at=at),
        samples=samples or settings.FORECAST_SAMPLES,
        seed=settings.FORECAST_SEED if seed is None else seed,
    )


def assess_event(event: Event, *, at: dt.datetime | None = None) -> dict[str, Any]:
    """The plain result of one event at one moment, not stored."""
    worked = work_out_now(at=at)
    state = next((e for e in worked.museum.events if e.uid == event.code), None)
    if state is None or state.last_day < worked.museum.now.date():
        raise ValueError(f"{event.code} is over at that moment: nothing to judge.")
    return result_of(worked, state)


def assess_wanted(*, force: bool = False) -> int:
    """Assess the events that ask for it, keep the results, and say how many were kept.

    Safe to run twice and at once: the request is cleared only if nothing newer has come in, and the newest
    assessment is replaced under the event's row lock.
    """
    asked = {e.pk: e.wanted_at for e in coming_events() if force or e.wanted_at is not None}
    if not asked:
        return 0
    worked = work_out_now()
    states = {e.uid: e for e in worked.museum.events}
    kept = 0
    for pk, wanted_at in asked.items():
        with transaction.atomic():
            event = Event.objects.select_for_update().filter(pk=pk).first()
            if (
                event is None
                or event.code not in states
                or states[event.code].last_day < worked.museum.now.date()
            ):
                continue
            _keep(event, worked, result_of(worked, states[event.code]))
            Event.objects.filter(pk=pk, wanted_at=wanted_at).update(wanted_at=None)
            kept += 1
    log.info("assessed %d events from %d jobs and %d parts", kept, worked.jobs, worked.parts)
    return kept


def _keep(event: Event, worked: Worked, result: dict[str, Any]) -> None:
    latest = Assessment.objects.filter(event=event, is_latest=True).first()
    if latest is not None:
        Assessment.objects.filter(pk=latest.pk).update(is_latest=False)
    Assessment.objects.create(
        event=event,
        judged_at=timezone.now(),
        seed=worked.seed,
        samples=worked.samples,
        engine_version=result["engine_version"],
        input_hash=worked.input_hash,
        result=result,
    )
    stale = (
        Assessment.objects.filter(event=event, is_latest=False, is_evening=False)
        .order_by("-pk")
        .values_list("pk", flat=True)[20:]
    )
    Assessment.objects.filter(pk__in=list(stale)).delete()


def said_now(event: Event) -> dict[str, Any]:
    """What every screen says at this moment: the kept result, or one worked out now where something has changed since."""
    kept = latest(event)
    if (
        kept is not None
        and Event.objects.filter(pk=event.pk, wanted_at=None, last_day__gte=timezone.localdate()).exists()
    ):
        return kept.result
    return assess_event(event)


def latest(event: Event) -> Assessment | None:
    """The newest kept assessment of an event."""
    return Assessment.objects.filter(event=event, is_latest=True).first()
