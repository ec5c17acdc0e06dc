"""Vehicles: added with their systems, changed, stood down, and their printed fault-slip code."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.enums import VehicleStatus
from fleet.models import Meter, Paper, Person, Subsystem, Vehicle, VehicleKind
from fleet.models.vehicles import new_tag_key
from fleet.services import acts
from fleet.services.fields import save_clean, set_fields
from fleet.services.permit import permit
from fleet.system_template import rows_for

FIELDS = frozenset(
    {
        "code", "number", "name", "kind", "make", "year", "place", "notes", "is_tracked", "is_closed", "is_steam",
        "lifts", "keeper", "owner", "length_m", "width_m", "height_m", "weight_kg", "seats",
    }
)  # fmt: skip
_TRACKED = frozenset({VehicleKind.TRACKED, VehicleKind.HALF_TRACK, VehicleKind.CRAWLER})


@transaction.atomic
def vehicle_add(
    *, by: Person, code: str, number: str, name: str, kind: str, meters: Iterable[str] = (), **fields: Any
) -> Vehicle:
    """Add a vehicle with the systems of its kind. Tracks and steam follow from the kind unless said otherwise."""
    permit(by, "vehicle.add")
    unknown = sorted(set(fields) - FIELDS)
    if unknown:
        raise ValidationError(f"These cannot be set here: {', '.join(unknown)}.")
    fields.setdefault("is_tracked", kind in _TRACKED)
    fields.setdefault("is_steam", kind == VehicleKind.STEAM)
    vehicle = Vehicle(code=code, number=number, name=name, kind=kind, **fields)
    save_clean(vehicle)
    _systems_add(vehicle)
    for meter in dict.fromkeys(meters):
        save_clean(Meter(vehicle=vehicle, kind=meter))
    acts.record(act="vehicle.add", by=by, subject=vehicle, vehicle=vehicle)
    acts.fleet_announce("vehicle.add", vehicle.pk)
    return vehicle


def _systems_add(vehicle: Vehicle) -> int:
    """Make the systems that the template asks and the vehicle has not; returns how many."""
    there = dict(vehicle.subsystems.values_list("code", "pk"))
    added = 0
    for row in rows_for(
        vehicle.kind, is_steam=vehicle.is_steam, is_tracked=vehicle.is_tracked, lifts=vehicle.lifts
    ):
        if row.code in there:
            continue
        made = Subsystem(
            vehicle=vehicle, code=row.code, name=row.name, parent_id=there.get(row.parent) if row.parent else None,
            serves=list(row.serves), hazards=list(row.hazards), order=row.order,
        )  # fmt: skip
        made.save()
        there[row.code] = made.pk
        added += 1
    return added


@transaction.atomic
def vehicle_change(*, by: Person, vehicle: Vehicle, **changes: Any) -> Vehicle:
    """Change what is written about a vehicle. New marks (tracks, steam, lifting) bring their systems; none is taken away."""
    permit(by, "vehicle.change")
    row = Vehicle.objects.select_for_update().get(pk=vehicle.pk)
    moved = set_fields(row, changes, FIELDS)
    if {"kind", "is_steam", "is_tracked", "lifts"} & set(moved):
        _systems_add(row)
    if moved:
        acts.record(act="vehicle.change", by=by, subject=row, vehicle=row, detail=moved)
        acts.fleet_announce("vehicle.change", row.pk)
    return row


@transaction.atomic
def vehicle_status_set(
    *, by: Person, vehicle: Vehicle, status: str, reason: str = "", since: dt.date | None = None
) -> Vehicle:
    """Stand it down, lay it up, or bring it back; always with the reason."""
    permit(by, "vehicle.status")
    row = Vehicle.objects.select_for_update().get(pk=vehicle.pk)
    if status != VehicleStatus.IN_SERVICE and not reason.strip():
        raise ValidationError({"status_reason": "Write why, so that the next reader knows."})
    before = row.get_status_display()
    row.status, row.status_reason, row.status_since = status, reason.strip(), since or timezone.localdate()
    save_clean(row, ["status", "status_reason", "status_since"])
    acts.record(
        act="vehicle.status", by=by, subject=row, vehicle=row,
        detail={"status": [before, row.get_status_display()], "reason": row.status_reason},
    )  # fmt: skip
    acts.fleet_announce("vehicle.status", row.pk)
    return row


@transaction.atomic
def tag_key_renew(*, by: Person, vehicle: Vehicle) -> Vehicle:
    """A new fault-slip code. Every tag printed with the old one opens nothing from now on."""
    permit(by, "vehicle.tag_key")
    row = Vehicle.objects.select_for_update().get(pk=vehicle.pk)
    row.tag_key = new_tag_key()
    row.save(update_fields=["tag_key"])
    acts.record(act="vehicle.tag_key", by=by, subject=row, vehicle=row)
    return row


@transaction.atomic
def subsystem_add(
    *,
    by: Person,
    vehicle: Vehicle,
    code: str,
    name: str,
    serves: Sequence[str] = (),
    hazards: Sequence[str] = (),
) -> Subsystem:
    """A system that the template does not know. Its second level takes functions and cautions from the first."""
    permit(by, "vehicle.change")
    group, _, part = code.partition(".")
    parent = vehicle.subsystems.filter(code=group).first() if part else None
    if part and parent is None:
        raise ValidationError({"code": f"There is no system {group} on {vehicle} to put {code} under."})
    row = Subsystem(
        vehicle=vehicle, code=code, name=name, parent=parent,
        serves=list(serves) or (list(parent.serves) if parent else []),
        hazards=list(hazards) or (list(parent.hazards) if parent else []),
        order=(parent.order if parent else 900) + 9,
    )  # fmt: skip
    save_clean(row)
    acts.record(act="vehicle.system_add", by=by, subject=row, vehicle=vehicle)
    acts.fleet_announce("vehicle.system_add", vehicle.pk)
    return row


@transaction.atomic
def subsystem_change(*, by: Person, subsystem: Subsystem, **changes: Any) -> Subsystem:
    permit(by, "vehicle.change")
    row = Subsystem.objects.select_for_update().get(pk=subsystem.pk)
    moved = set_fields(row, changes, {"name", "serves", "hazards", "order"})
    if moved:
        acts.record(act="vehicle.system_change", by=by, subject=row, vehicle=row.vehicle, detail=moved)
        acts.fleet_announce("vehicle.system_change", row.vehicle_id)
    return row


@transaction.atomic
def paper_set(
    *,
    by: Person,
    vehicle: Vehicle,
    kind: str,
    reference: str = "",
    valid_through: dt.date | None = None,
    note: str = "",
) -> Paper:
    """File a paper of the vehicle; the same kind again takes the place of the old one, which stays in the act book."""
    permit(by, "paper.set")
    row = Paper.objects.filter(vehicle=vehicle, kind=kind).first() or Paper(vehicle=vehicle, kind=kind)
    before = f"{row.reference} {row.valid_through or ''}".strip()
    row.reference, row.valid_through, row.note = reference, valid_through, note
    save_clean(row)
    acts.record(
        act="paper.set", by=by, subject=row, vehicle=vehicle,
        detail={"paper": [before, f"{reference} {valid_through or ''}".strip()]},
    )  # fmt: skip
    acts.fleet_announce("paper.set", vehicle.pk)
    return row
