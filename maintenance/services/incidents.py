"""Accidents and near misses: written down by whoever was there, held as found, released and closed by lead or manager."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Person, Photo, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from fleet.services.serials import next_serial
from maintenance.models import Incident, IncidentNote
from maintenance.services.base import announce, moment, wanted
from maintenance.services.tags import tag_hang


@transaction.atomic
def incident_report(
    *,
    by: Person,
    kind: str,
    place: str,
    what: str,
    vehicle: Vehicle | None = None,
    happened_at: dt.datetime | None = None,
    hurt: str = "nobody",
    who_hurt: str = "",
    witnesses: str = "",
    done_at_once: str = "",
    photos: Iterable[Photo] = (),
) -> Incident:
    """Write it down. A vehicle in it gets a do-not-run tag and stays as it was found until it is released."""
    permit(by, "incident.report")
    when = moment(happened_at)
    row = Incident(
        serial=next_serial(timezone.localdate()), kind=kind, vehicle=vehicle, happened_at=when,
        place=wanted(place, "place", "Write where it happened."), what=wanted(what, "what", "Write what happened."),
        hurt=hurt, who_hurt=who_hurt.strip(), witnesses=witnesses.strip(), done_at_once=done_at_once.strip(), reported_by=by,
    )  # fmt: skip
    if hurt in {"first aid", "doctor"} and not row.who_hurt:
        raise ValidationError({"who_hurt": "Write who was hurt, and how."})
    if vehicle is not None:
        row.tag = tag_hang(
            vehicle=vehicle, by=by, reason=f"Held as found: {row.get_kind_display().lower()} {row.serial}"
        )
    save_clean(row)
    row.photos.set(list(photos))
    acts.record(
        act="incident.report", by=by, subject=row, vehicle=vehicle,
        detail={"kind": kind, "hurt": hurt, "photographs": row.photos.count()},
    )  # fmt: skip
    announce("incident.report", vehicle.pk if vehicle else None)
    return row


def _locked(incident: Incident) -> Incident:
    rows = Incident.objects.select_for_update(of=("self",)).select_related("vehicle", "tag")
    return rows.get(pk=incident.pk)


@transaction.atomic
def incident_note(*, incident: Incident, by: Person, text: str, photos: Iterable[Photo] = ()) -> IncidentNote:
    """A dated addition; also after it is closed."""
    permit(by, "incident.note")
    row = _locked(incident)
    note = IncidentNote(incident=row, by=by, text=wanted(text, "text", "Write what is to be added."))
    save_clean(note)
    row.photos.add(*photos)
    acts.record(act="incident.note", by=by, subject=row, vehicle=row.vehicle)
    return note


@transaction.atomic
def incident_release(*, incident: Incident, by: Person, words: str) -> Incident:
    """The place and the vehicle were looked at: work may begin. The tag stays until the lead lifts it with its stub."""
    permit(by, "incident.release")
    row = _locked(incident)
    if not row.holds:
        raise ValidationError("Nothing is held for it.")
    row.released_words = wanted(
        words, "words", "Write who looked at it and what was photographed and measured."
    )
    row.released_at, row.released_by = timezone.now(), by
    save_clean(row, ["released_words", "released_at", "released_by"])
    acts.record(
        act="incident.release", by=by, subject=row, vehicle=row.vehicle, detail={"words": row.released_words}
    )
    announce("incident.release", row.vehicle_id)
    return row


@transaction.atomic
def incident_close(*, incident: Incident, by: Person, learnt: str) -> Incident:
    """What was learnt and what is done differently. A vehicle that is still held is released first."""
    permit(by, "incident.close")
    row = _locked(incident)
    if row.closed_at is not None:
        raise ValidationError("It is closed already. Add to it instead.")
    if row.holds:
        raise ValidationError("The vehicle is still held as found. Release it first.")
    row.learnt = wanted(learnt, "learnt", "Write what was learnt, and what is done differently from now on.")
    row.closed_at, row.closed_by = timezone.now(), by
    save_clean(row, ["learnt", "closed_at", "closed_by"])
    acts.record(act="incident.close", by=by, subject=row, vehicle=row.vehicle, detail={"learnt": row.learnt})
    announce("incident.close", row.vehicle_id)
    return row
