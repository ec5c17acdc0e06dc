"""Whether a vehicle is held as it was found. Reads only."""

from __future__ import annotations

from django.core.exceptions import ValidationError

from maintenance.models import Incident


def held_by(vehicle_id: int) -> Incident | None:
    """The oldest accident or near miss for which this vehicle still stays as found."""
    return (
        Incident.objects.filter(vehicle_id=vehicle_id, released_at=None).order_by("happened_at", "pk").first()
    )


def may_be_touched(vehicle_id: int) -> None:
    """Refuse work on a vehicle that is held as found.

    Raises:
        ValidationError: with the number of the record, and who releases it.
    """
    held = held_by(vehicle_id)
    if held is not None:
        raise ValidationError(
            f"This vehicle is held as it was found ({held}). Touch nothing: the lead or the manager releases it first."
        )


def held_now() -> list[Incident]:
    """Every accident and near miss for which a vehicle still stays as it was found."""
    rows = Incident.objects.filter(released_at=None, vehicle__isnull=False).select_related("vehicle")
    return list(rows.order_by("happened_at", "pk"))
