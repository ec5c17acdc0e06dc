"""Reminders: written once for a person, a kind and a period; sent once, whoever tries and however often.

A letter is claimed by one conditional update before it is sent and marked after. A worker that dies between the two
leaves a claim that lapses; the next try carries the same Message-ID, so that a mail server which took the first one
without saying so can tell that it is the same letter.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import logging
from collections.abc import Sequence
from dataclasses import dataclass

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import Q, QuerySet
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from fleet import mail
from fleet.models import Person
from fleet.services import acts
from readiness.models import Digest, Done

log = logging.getLogger("running_order.digests")
CLAIM_LAPSES = dt.timedelta(minutes=15)
TOO_OLD = dt.timedelta(hours=48)
"""A reminder that could not be sent for so long says nothing new any more; it stays readable."""
MOST_LINES = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One thing to do or to know, with the one page where it is done."""

    words: str
    path: str = ""

    @property
    def link(self) -> str:
        return f"{settings.SITE_ADDRESS}{self.path}" if self.path else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """What one person is told for one period. `repeats`: sent even when it says the same as the last one."""

    person: Person
    kind: str
    period: str
    lines: tuple[Line, ...]
    repeats: bool = False


def content_hash(lines: Sequence[Line]) -> str:
    return hashlib.sha256("\n".join(f"{x.words}|{x.path}" for x in lines).encode()).hexdigest()


def seven(lines: Sequence[Line], more: Line) -> tuple[Line, ...]:
    """At most seven lines; what does not fit is counted in the last one."""
    if len(lines) <= MOST_LINES:
        return tuple(lines)
    left = len(lines) - MOST_LINES + 1
    return (*lines[: MOST_LINES - 1], Line(words=more.words.format(left), path=more.path))


def is_settled(kind: str, period: str, person: Person) -> bool:
    """Whether this person's letter of this kind and period was written, or found empty, before."""
    return Done.objects.filter(job=_job(kind, person), period=period).exists()


def _job(kind: str, person: Person) -> str:
    return f"digest {kind} {person.code}"


def digest_make(letter: Letter) -> Digest | None:
    """Write the letter, once. None where it is written already, is empty, or says the same as the last one."""
    person, lines = letter.person, letter.lines[:MOST_LINES]
    said = content_hash(lines)
    try:
        with transaction.atomic():
            Done.objects.create(job=_job(letter.kind, person), period=letter.period)
            if not lines or (not letter.repeats and said == _last_hash(letter)):
                return None
            row = Digest(
                person=person, kind=letter.kind, period=letter.period, subject=mail.one_line(lines[0].words)[:200],
                text="", content_hash=said, message_id=mail.message_id(letter.kind, letter.period, person.code),
            )  # fmt: skip
            row.save()
            words = _words(row, lines)
            row.text = render_to_string("email/digest.txt", words)
            row.html = render_to_string("email/digest.html", words)
            row.full_clean()
            row.save(update_fields=["text", "html"])
            return row
    except IntegrityError:
        return None  # another worker was first


def _last_hash(letter: Letter) -> str:
    last = Digest.objects.filter(person=letter.person, kind=letter.kind).order_by("-pk").first()
    return last.content_hash if last else ""


def _words(row: Digest, lines: Sequence[Line]) -> dict[str, object]:
    return {
        "person": row.person,
        "lines": lines,
        "seen_link": f"{settings.SITE_ADDRESS}{reverse('readiness:reminder', args=[row.pk])}",
    }


def waiting(now: dt.datetime | None = None) -> QuerySet[Digest]:
    """Letters that are still to be sent, oldest first."""
    since = (now or timezone.now()) - TOO_OLD
    return (
        Digest.objects.filter(sent_at=None, made_at__gte=since)
        .exclude(person__email="")
        .select_related("person")
        .order_by("pk")
    )


def claim(digest: Digest, now: dt.datetime) -> bool:
    """Take a letter for sending. Of two workers one gets it; a claim that lapsed may be taken again."""
    free = Q(claimed_at=None) | Q(claimed_at__lt=now - CLAIM_LAPSES)
    return Digest.objects.filter(free, pk=digest.pk, sent_at=None).update(claimed_at=now) == 1


def digests_send(*, now: dt.datetime | None = None) -> int:
    """Send what waits; returns how many went out. Without a mail server nothing is tried."""
    if not mail.can_send():
        return 0
    moment = now or timezone.now()
    sent = 0
    for digest in waiting(moment):
        if not claim(digest, moment):
            continue
        try:
            mail.letter_send(
                to=digest.person.email, subject=digest.subject, text=digest.text, html=digest.html,
                message_id=digest.message_id,
            )  # fmt: skip
        except OSError as trouble:
            log.warning("reminder %s not sent: %s", digest.pk, trouble)
            Digest.objects.filter(pk=digest.pk).update(trouble=f"{type(trouble).__name__}: {trouble}"[:300])
            continue
        Digest.objects.filter(pk=digest.pk).update(sent_at=timezone.now(), trouble="")
        sent += 1
    return sent


@transaction.atomic
def digest_seen(*, by: Person, digest: Digest) -> Digest:
    """Say "seen": by the person it is for, without writing a reply."""
    row = Digest.objects.select_for_update().get(pk=digest.pk)
    if row.person_id == by.pk and row.seen_at is None:
        row.seen_at = timezone.now()
        row.save(update_fields=["seen_at"])
        acts.record(act="digest.seen", by=by, subject=row, detail={"kind": row.kind, "period": row.period})
    return row
