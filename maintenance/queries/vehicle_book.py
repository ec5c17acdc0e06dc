"""Everything that is written about one vehicle, in plain sections that outlive the program that made them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Prefetch
from django.utils import timezone

from fleet.enums import PaperKind
from fleet.models import Act, Fact, Meter, MeterReading, Photo, Vehicle
from fleet.services.acts import words_of
from maintenance.models import Deferral, JobCard, JobPhoto, Reading, StripItem
from maintenance.queries.book_jobs import job_lines

PAPERS = dict(PaperKind.choices)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One thing in the book: a heading, its lines, and the photographs that go with it."""

    head: str
    lines: tuple[str, ...] = ()
    photos: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    title: str
    entries: tuple[Entry, ...]
    none: str = "Nothing is written here."


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleBook:
    vehicle: Vehicle
    made_at: dt.datetime
    sections: tuple[Section, ...]
    photos: tuple[Photo, ...] = field(default=())


def day(value: dt.date | dt.datetime | None) -> str:
    """A date in full, as a reader in fifty years wants it; a moment with its clock."""
    if value is None:
        return ""
    if isinstance(value, dt.datetime):
        at = timezone.localtime(value)
        return f"{at.day} {at:%B %Y, %H:%M}"
    return f"{value.day} {value:%B %Y}"


def figure(value: Decimal | None) -> str:
    return "" if value is None else f"{value.normalize():f}"


def pairs(*told: tuple[str, object]) -> tuple[str, ...]:
    """Name and value with a colon between, of what has a value."""
    return tuple(f"{name}: {value}" for name, value in told if value not in (None, "", ()))


def vehicle_book(vehicle: Vehicle) -> VehicleBook:
    """Read the whole book. A fixed number of queries, whatever the vehicle's years."""
    photos = {photo.pk: photo for photo in vehicle.photos.select_related("by")}
    sections = (
        _itself(vehicle), _facts(vehicle), _fabric(vehicle), _faults(vehicle), _jobs(vehicle), _readings(vehicle),
        _inspections(vehicle), _checks(vehicle), _use(vehicle), _incidents(vehicle), _photographs(photos.values()), _acts(vehicle),
    )  # fmt: skip
    return VehicleBook(
        vehicle=vehicle, made_at=timezone.localtime(), sections=sections, photos=tuple(photos.values())
    )


def _itself(vehicle: Vehicle) -> Section:
    lines = pairs(
        ("Number", vehicle.number), ("Kind", vehicle.get_kind_display()), ("Maker and type", vehicle.make), ("Built", vehicle.year),
        ("Lives in", vehicle.place), ("Keeper", vehicle.keeper), ("Owner", vehicle.owner), ("Status", vehicle.get_status_display()),
        ("Why", vehicle.status_reason), ("Length, m", figure(vehicle.length_m)), ("Width, m", figure(vehicle.width_m)),
        ("Height, m", figure(vehicle.height_m)), ("Weight, kg", vehicle.weight_kg), ("Seats", vehicle.seats), ("Worth noting", vehicle.notes),
    )  # fmt: skip
    papers = tuple(
        Entry(
            head=PAPERS.get(row.kind, row.kind),
            lines=pairs(
                ("Number", row.reference), ("Good through", day(row.valid_through)), ("Note", row.note)
            ),
        )
        for row in vehicle.papers.all()
    )
    return Section(title="The vehicle", entries=(Entry(head=str(vehicle), lines=lines), *papers))


def _facts(vehicle: Vehicle) -> Section:
    rows = Fact.objects.filter(vehicle=vehicle).select_related("recorded_by", "corrects", "corrected_by")
    return Section(
        title="What we know", none="No fact is written down.",
        entries=tuple(
            Entry(
                head=f"{row.about}: {row.value}",
                lines=pairs(
                    ("How sure", row.get_sureness_display()), ("How we know", row.source), ("Said by", row.said_by),
                    ("Written", f"{day(row.recorded_on)}, {row.recorded_by or 'brought in'}"),
                    ("Corrects", row.corrects.value if row.corrects else ""), ("Why it was wrong", row.reason),
                    ("Ruled through by", row.corrected_by.value if hasattr(row, "corrected_by") else ""),
                ),
            )
            for row in rows
        ),
    )  # fmt: skip


def _fabric(vehicle: Vehicle) -> Section:
    return Section(
        title="What is original", none="No part is written down.",
        entries=tuple(
            Entry(
                head=f"{row.name}, {row.get_standing_display().lower()}",
                lines=pairs(
                    ("System", row.subsystem), ("Hands off", "do not polish, paint, grind or drill" if row.hands_off else ""),
                    ("Hazard", row.hazard), ("Note", row.note), ("Came off", day(row.off_on)), ("Why", row.off_reason),
                    ("Label", row.label), ("Shelf", row.shelf), ("Parted with", day(row.disposed_on)), ("Because", row.disposed_why),
                ),
            )
            for row in vehicle.fabric_parts.select_related("subsystem")
        ),
    )  # fmt: skip


def _faults(vehicle: Vehicle) -> Section:
    put_off = Prefetch("deferrals", Deferral.objects.prefetch_related("limits__driver", "signatures__person"))
    rows = vehicle.defects.select_related("subsystem", "reported_by", "assessed_by", "joined_to")
    rows = rows.prefetch_related("effects", "notes__by", "photos", put_off).order_by("reported_at", "pk")
    entries = []
    for row in rows:
        lines = pairs(
            ("Reported", f"{day(row.reported_at)}, {row.reporter_name or row.reported_by or 'name not given'}"), ("Said", row.words),
            *row.answers.items(), ("System", row.subsystem or "not sure where"), ("How it stands", row.get_state_display()),
            ("Rated", row.rating and f"{row.rating}, {day(row.assessed_at)}, {row.assessed_by}"),
            ("Takes", "; ".join(f"{one.get_function_display()}: {one.effect}" for one in row.effects.all())), ("Ended", day(row.ended_at)), ("Because", row.end_reason),
            ("Joined to", row.joined_to),
        )  # fmt: skip
        lines += tuple(_put_off(one) for one in row.deferrals.all())
        lines += tuple(f"Added {day(note.at)}, {note.by or ''}: {note.text}" for note in row.notes.all())
        entries.append(
            Entry(head=f"{row.serial} {row.title}", lines=lines, photos=tuple(p.pk for p in row.photos.all()))
        )
    return Section(title="Faults", entries=tuple(entries), none="No fault was ever reported.")


def _put_off(row: Deferral) -> str:
    limits = "; ".join(limit.words for limit in row.limits.all()) or "no limit"
    signed = " and ".join(str(one.person) for one in row.signatures.all()) or "nobody"
    said = f"Put off {day(row.signed_on)} to {day(row.ends_on)}, {row.rating_without} and {row.rating_with} with: {limits}. {row.reason} Signed: {signed}."
    return said + (f" Withdrawn {day(row.withdrawn_at)}: {row.withdrawn_reason}" if row.withdrawn_at else "")


def _jobs(vehicle: Vehicle) -> Section:
    rows = JobCard.objects.filter(vehicle=vehicle).select_related(
        "subsystem", "taken_by", "access", "consent_by", "second"
    )
    rows = rows.prefetch_related(
        "steps__done_by", "tests__by", "signatures__person", "hours__person", "parts", "left_safe__by", "defects",
        Prefetch("strip_items", StripItem.objects.select_related("off_by", "back_by")),
        Prefetch("card_photos", JobPhoto.objects.order_by("pk")),
        Prefetch("readings", Reading.objects.select_related("measure", "by").order_by("at", "pk")),
    ).order_by("created_at", "pk")  # fmt: skip
    return Section(
        title="Jobs", none="No job was ever opened.",
        entries=tuple(
            Entry(
                head=f"{row.serial} {row.title}", lines=tuple(job_lines(row)),
                photos=tuple(one.photo_id for one in row.card_photos.all()),
            )
            for row in rows
        ),
    )  # fmt: skip


def _readings(vehicle: Vehicle) -> Section:
    rows = vehicle.measures.prefetch_related(
        Prefetch("readings", Reading.objects.select_related("by", "replaced_by").order_by("at", "pk"))
    )
    entries = []
    for row in rows:
        limit = " to ".join(figure(one) for one in (row.low, row.high) if one is not None)
        lines = pairs(
            ("Unit", row.unit), ("Positions", ", ".join(row.positions)), ("How it is taken", row.method), ("Warm or cold", row.condition),
            ("Judged by", row.get_judgement_display()), ("Limit", limit), ("Source of the limit", row.source),
        )  # fmt: skip
        lines += tuple(
            f"{day(one.at)}, {one.moment}: {', '.join(one.values)} {row.unit}, {one.verdict}; {one.by or 'brought in'}"
            + (" (ruled through, written down wrongly)" if hasattr(one, "replaced_by") else "")
            + (f". {one.note}" if one.note else "")
            for one in row.readings.all()
        )
        entries.append(Entry(head=row.name, lines=lines))
    return Section(title="Readings", entries=tuple(entries), none="Nothing is read on it.")


def _inspections(vehicle: Vehicle) -> Section:
    return Section(
        title="Inspections", none="No inspection is written for it.",
        entries=tuple(
            Entry(
                head=row.name,
                lines=pairs(
                    ("Valid through", day(row.due_on)), ("Valid to meter", figure(row.due_at_meter)),
                    ("Void since", day(row.voided_at)), ("Because", row.voided_why),
                ) + tuple(
                    f"{day(one.done_on)}: {'passed' if one.passed else 'failed'}, {one.by_name or one.by or 'brought in'}"
                    + (f", {one.reference}" if one.reference else "") + (f". {one.words}" if one.words else "")
                    for one in row.results.all()
                ),
            )
            for row in vehicle.inspections.prefetch_related("results__by")
        ),
    )  # fmt: skip


def _checks(vehicle: Vehicle) -> Section:
    rows = vehicle.use_checks.select_related("by").prefetch_related("photos").order_by("for_day", "kind")
    return Section(
        title="Checks of use", none="No check is on file.",
        entries=tuple(
            Entry(
                head=f"{row.get_kind_display()}, {day(row.for_day)}",
                lines=pairs(
                    ("Done", f"{day(row.done_at)}, {row.by or ''}" if row.done_at else "not done"),
                    ("Found", ("nil defect" if row.nil_defect else "something was found") if row.done_at else ""),
                    ("Words", row.words),
                ),
                photos=tuple(one.pk for one in row.photos.all()),
            )
            for row in rows
        ),
    )  # fmt: skip


def _use(vehicle: Vehicle) -> Section:
    meters = Meter.objects.filter(vehicle=vehicle).prefetch_related(
        Prefetch("readings", MeterReading.objects.select_related("by").order_by("read_at", "pk"))
    )
    entries = [
        Entry(
            head=meter.get_kind_display(),
            lines=tuple(
                f"{day(one.read_at)}: shows {figure(one.shown)}, in all {figure(one.total)}{', meter changed' if one.meter_changed else ''}"
                for one in meter.readings.all()
            ),
        )
        for meter in meters
    ]
    outings = tuple(
        f"{day(one.day)}: {figure(one.hours)} h, {figure(one.km)} km, {one.driver or 'driver not written'}. {one.purpose}"
        + (" A fault ended it early." if one.stopped_by_fault else "")
        for one in vehicle.outings.select_related("driver").order_by("day", "pk")
    )
    return Section(title="Meters and outings", entries=(*entries, Entry(head="Outings", lines=outings)))


def _incidents(vehicle: Vehicle) -> Section:
    rows = vehicle.incidents.select_related("reported_by", "released_by", "closed_by")
    entries = tuple(
        Entry(
            head=f"{row.serial} {row.get_kind_display()}, {day(row.happened_at)}, {row.place}",
            lines=pairs(
                ("What happened", row.what), ("Hurt", row.get_hurt_display()), ("Done at once", row.done_at_once),
                ("Written down", f"{day(row.reported_at)}, {row.reported_by}"),
                ("Released", row.released_at and f"{day(row.released_at)}, {row.released_by}: {row.released_words}"),
                ("Learnt", row.learnt),
            ) + tuple(f"Added {day(note.at)}, {note.by}: {note.text}" for note in row.notes.all()),
            photos=tuple(one.pk for one in row.photos.all()),
        )
        for row in rows.prefetch_related("notes__by", "photos").order_by("happened_at", "pk")
    )  # fmt: skip
    return Section(title="Accidents and near misses", entries=entries, none="None is on file.")


def _photographs(photos: Iterable[Photo]) -> Section:
    return Section(
        title="Photographs", none="No photograph is on file.",
        entries=tuple(
            Entry(
                head=row.shows or "No words for it",
                lines=pairs(("Taken", day(row.taken_at)), ("By", row.by or "")), photos=(row.pk,),
            )
            for row in photos
        ),
    )  # fmt: skip


def _acts(vehicle: Vehicle) -> Section:
    def lines() -> Iterator[str]:
        for act in Act.objects.filter(vehicle=vehicle).order_by("at", "pk"):
            yield f"{day(act.at)}, {act.by_name or 'a visitor'} {words_of(act.act)}: {act.subject_label}"

    return Section(
        title="Who did what",
        entries=(Entry(head="In the order in which it was written", lines=tuple(lines())),),
    )
