"""The day's record: each evening's forecast of each entry is kept, with what moved it, and later whether it came true."""

from __future__ import annotations

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction
from django.utils import timezone

from fleet.models import Act
from readiness.act_words import words_of
from readiness.models import Assessment, DayRecord, Done, Entry, Event
from readiness.services import assessing
from readiness.snapshot.rows import museum_row

JOB = "evening forecast"
WHY_LENGTH = 300
MOST_ACTS = 4
IDLE = frozenset(
    {
        "photo.add", "print.paper", "digest.seen", "card.photo", "card.cautions", "card.left_safe", "defect.note", "incident.note",
        "entry.ran", "fact.use", "vehicle.tag_key", "book.take",
    }
)  # fmt: skip
"""Acts on a vehicle that move no chance."""
SHARED = (
    "days.",
    "part.",
    "learnt.",
    "freeze.",
    "rules.",
    "museum.",
    "workshop.",
    "competence.",
    "person.leave",
    "tool.",
)
"""Acts that belong to no one vehicle and may move the chance of any."""
NOTHING = "Nothing was done on it"
SETTLED = frozenset({"fit", "limits"})


def evening_keep(*, now: dt.datetime | None = None) -> int:
    """Work every coming event out anew and keep one record per entry, once a day. Returns how many were kept."""
    moment = now or timezone.now()
    day = moment.astimezone(ZoneInfo(museum_row().time_zone)).date()
    wanted = [e for e in assessing.coming_events() if not _is_done(e, day)]
    if not wanted:
        return 0
    assessing.assess_wanted(force=True)
    return sum(_keep(event, day, moment) for event in wanted)


def _period(event: Event, day: dt.date) -> str:
    return f"{event.code[:29]} {day.isoformat()}"  # no longer than its column


def _is_done(event: Event, day: dt.date) -> bool:
    return Done.objects.filter(job=JOB, period=_period(event, day)).exists()


def _keep(event: Event, day: dt.date, moment: dt.datetime) -> int:
    kept = assessing.latest(event)
    if kept is None:
        return 0
    try:
        with transaction.atomic():
            Done.objects.create(job=JOB, period=_period(event, day))
            Assessment.objects.filter(pk=kept.pk).update(is_evening=True)
            records = _records(event, kept.result, day, moment)
            DayRecord.objects.bulk_create(records)
            _came_true(event, records, moment)
    except IntegrityError:
        return 0  # another clock was first
    return len(records)


def _records(event: Event, result: dict[str, Any], day: dt.date, moment: dt.datetime) -> list[DayRecord]:
    rows = {
        (
            e.slot.code,
            timezone.localtime(e.slot.starts_at).replace(tzinfo=None).isoformat(),
            e.vehicle.code,
        ): e
        for e in Entry.objects.filter(slot__event=event).select_related("slot", "vehicle")
    }
    before = {
        r.entry_id: r
        for r in DayRecord.objects.filter(event=event, day__lt=day, entry__isnull=False).order_by("day")
    }
    acts, shared = _acts_since(event, moment)
    found = []
    for said in result["entries"]:
        entry = rows.get((said["slot"], said["starts"], said["vehicle"]))
        if entry is None:
            continue
        last = before.get(entry.pk)
        found.append(
            DayRecord(
                event=event, entry=entry, vehicle_code=said["vehicle"], slot_code=said["slot"], day=day,
                standing=said["standing"], percent=said["percent"],
                why=_why(last, said, acts.get(entry.vehicle_id, []), shared),
            )
        )  # fmt: skip
    return found


def _acts_since(event: Event, moment: dt.datetime) -> tuple[dict[int, list[str]], list[str]]:
    """What was done since the last evening that can move a chance, in words, newest last: by vehicle, and for all."""
    last = Assessment.objects.filter(
        event=event, is_evening=True, judged_at__lt=moment - dt.timedelta(hours=1)
    )
    newest = last.order_by("-judged_at").values_list("judged_at", flat=True).first()
    since = newest or moment - dt.timedelta(days=1)
    found: dict[int, list[str]] = {}
    shared: list[str] = []
    for act in Act.objects.filter(at__gt=since, at__lte=moment).exclude(act__in=IDLE).order_by("pk"):
        words = f"{act.by_name or 'a visitor'} {words_of(act.act)}: {act.subject_label}"
        if act.vehicle_id is not None:
            found.setdefault(act.vehicle_id, []).append(words)
        elif act.act.startswith(SHARED):
            shared.append(words)
    return found, shared


def _why(last: DayRecord | None, said: dict[str, Any], acts: list[str], shared: list[str]) -> str:
    """Nothing where nothing moved; else the acts on the vehicle since, else those that are everybody's, else the days."""
    if last is None or (last.standing == said["standing"] and last.percent == said["percent"]):
        return ""
    told = list(dict.fromkeys(acts or shared))
    if not told:
        return f"{NOTHING}: the days that passed, or work on other vehicles, moved it."
    more = f" and {len(told) - MOST_ACTS} more" if len(told) > MOST_ACTS else ""
    words = ("" if acts else f"{NOTHING}. Elsewhere: ") + "; ".join(told[-MOST_ACTS:]) + more
    return words if len(words) <= WHY_LENGTH else words[: WHY_LENGTH - 4].rsplit(" ", 1)[0] + " ..."


def _came_true(event: Event, records: list[DayRecord], moment: dt.datetime) -> None:
    """On the first evening after the freeze every earlier record of an entry learns whether it was clear by then.

    The records of later evenings are no forecasts of it any more and learn nothing. Where the freeze was moved past this
    evening, what had been settled is open again.
    """
    mine = DayRecord.objects.filter(event=event)
    if moment < event.freeze_at:
        mine.filter(came_true__isnull=False).update(came_true=None)
        return
    since = Assessment.objects.filter(event=event, is_evening=True, judged_at__gte=event.freeze_at)
    if since.filter(judged_at__lt=moment - dt.timedelta(hours=1)).exists():
        return
    for record in records:
        clear = record.standing in SETTLED or record.percent == 100
        mine.filter(entry=record.entry, day__lt=record.day).update(came_true=clear)
