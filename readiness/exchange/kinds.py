"""Cells that point at a slot, an entry or a limit by more than one word."""

from __future__ import annotations

from typing import Any

from django.db.models import Model

from fleet.exchange import cells
from fleet.exchange.cells import NOTHING, CellError, nearest, norm
from fleet.exchange.kinds import Kind
from fleet.exchange.known import Known
from fleet.exchange.rows import Row
from maintenance.exchange.kinds import write_limit
from maintenance.models import Deferral, DeferralLimit
from readiness.models import Entry, Slot


def slot_of(row: Row) -> Slot:
    """The slot of a row by its event, its code and, where that is not enough, its day."""
    code, event, day = (row.raw.cells.get(name, "") for name in ("slot", "event", "day"))
    shelf = row.known.shelf("slots")
    events = row.known.shelf("events")
    label = events.label(events.find(event))
    prefix = norm(f"{label} / {code}") + " / "
    if day and day != NOTHING:
        written = cells.read_day(day, row.known.calendar).isoformat()
        found = shelf.by_label.get(f"{prefix}{written}")
        if isinstance(found, Slot):
            return found
    days = sorted(name.removeprefix(prefix) for name in shelf.by_label if name.startswith(prefix))
    if not days:
        codes = {
            name.split(" / ")[1]
            for name in shelf.labels.values()
            if norm(name).startswith(norm(label) + " / ")
        }
        raise CellError(f"'{code}' is no slot of {label}", nearest(code, codes))
    if day:
        raise CellError(f"{code} has no slot on {day}", " or ".join(days))
    if len(days) > 1:
        raise CellError(f"{code} stands on several days: write the day too", " or ".join(days))
    found = shelf.by_label[f"{prefix}{days[0]}"]
    assert isinstance(found, Slot)
    return found


class SlotRef(Kind):
    """A slot by its code; the row's event and day say which."""

    words = "code of a slot"

    def read(self, text: str, row: Row) -> Slot:
        if not row.gives("event"):
            raise CellError("cannot be looked up without the event")
        return slot_of(row)

    def write(self, value: Any, known: Known) -> str:
        return value.code if value is not None else ""


class EntryRef(Kind):
    """An entry by its vehicle; the row's event, slot and day say which."""

    words = "short name in vehicles"

    def read(self, text: str, row: Row) -> Entry:
        slot = slot_of(row)
        vehicles, entries = row.known.shelf("vehicles"), row.known.shelf("entries")
        vehicle = vehicles.label(vehicles.find(text))
        label = row.known.shelf("slots").label(slot)
        found = entries.by_label.get(norm(f"{label} / {vehicle}"))
        if not isinstance(found, Entry):
            prefix = norm(label) + " / "
            entered = sorted(
                name.split(" / ")[-1] for name in entries.labels.values() if norm(name).startswith(prefix)
            )
            raise CellError(
                f"{vehicle} is not entered in {label}", ", ".join(entered) or "a row in entries first"
            )
        return found

    def write(self, value: Any, known: Known) -> str:
        if value is None:
            return ""
        vehicles = known.shelf("vehicles")
        return vehicles.label(vehicles.by_pk[value.vehicle_id] if value.vehicle_id else value.vehicle)


class LimitRef(Kind):
    """One limit of the row's deferral, in the words in which it stands there."""

    words = "limit as written in deferrals"

    def read(self, text: str, row: Row) -> DeferralLimit:
        deferral = row.values.get("deferral")
        if not isinstance(deferral, Deferral):
            raise CellError("cannot be looked up while deferral is not right")
        shelf = row.known.shelf("deferrals")
        limits = [
            one
            for one in shelf.children(shelf.table.by_name["limits"], deferral)
            if isinstance(one, DeferralLimit)
        ]
        for one in limits:
            if norm(text) in {norm(write_limit(one, row.known)), norm(one.text)}:
                return one
        written = [write_limit(one, row.known) for one in limits]
        raise CellError(
            f"'{text}' is no limit of {shelf.label(deferral)}", nearest(text, written) or "; ".join(written)
        )

    def write(self, value: Any, known: Known) -> str:
        return write_limit(value, known) if value is not None else ""


def limits_by_pk(known: Known) -> dict[Any, tuple[Model, DeferralLimit]]:
    """Every limit on file with its deferral, looked up once."""
    shelf = known.shelf("deferrals")
    column = shelf.table.by_name["limits"]
    return {
        one.pk: (deferral, one)
        for deferral in shelf.on_file
        for one in shelf.children(column, deferral)
        if isinstance(one, DeferralLimit)
    }
