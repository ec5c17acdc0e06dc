"""Meters and outings. Figures are decimals from end to end; a meter never runs backwards."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal, InvalidOperation

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Meter, MeterReading, Outing, Person, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit

Figure = Decimal | str | int
CLOCK_SLACK = dt.timedelta(minutes=15)


def decimal(value: Figure, field: str) -> Decimal:
    """A finite decimal; a binary float is refused, because it cannot hold a tenth."""
    if isinstance(value, float):
        raise TypeError(f"{field} must be a decimal or text, not a float")
    try:
        number = Decimal(str(value).strip().replace(" ", "").replace("\u00a0", ""))
    except InvalidOperation as trouble:
        raise ValidationError({field: f"{value} is not a number. Write it such as 1234.5."}) from trouble
    if not number.is_finite():
        raise ValidationError({field: f"{value} is not a number. Write it such as 1234.5."})
    return number


@transaction.atomic
def meter_add(*, by: Person, vehicle: Vehicle, kind: str) -> Meter:
    permit(by, "vehicle.change")
    meter = Meter(vehicle=vehicle, kind=kind)
    save_clean(meter)
    acts.record(act="meter.add", by=by, subject=meter, vehicle=vehicle)
    return meter


@transaction.atomic
def meter_read(
    *,
    by: Person,
    meter: Meter,
    shown: Figure,
    read_at: dt.datetime | None = None,
    meter_changed: bool = False,
    old_last: Figure | None = None,
    note: str = "",
) -> MeterReading:
    """Write down what a meter shows.

    A figure below the one before is refused, unless the meter itself was changed; then the true total goes on
    from the old meter (`old_last`: the last it showed, if anybody read it) and the new one counts from `shown`.
    A reading that arrives late is set between its neighbours by the time it was taken.
    """
    permit(by, "meter.read")
    meter = Meter.objects.select_for_update(of=("self",)).select_related("vehicle").get(pk=meter.pk)
    figure, at = decimal(shown, "shown"), read_at or timezone.now()
    if at > timezone.now() + CLOCK_SLACK:
        raise ValidationError({"read_at": "That time has not come yet. Look at the date."})
    before = meter.readings.filter(read_at__lte=at).order_by("read_at", "pk").last()
    after = meter.readings.filter(read_at__gt=at).order_by("read_at", "pk").first()
    if meter_changed and after is not None:
        raise ValidationError(
            {
                "meter_changed": "A later reading is on file already. Write down a change of meter as the newest reading."
            }
        )
    total = _total(meter, figure, before, meter_changed, old_last)
    if after is not None and not after.meter_changed and total > after.total:
        raise ValidationError(
            {
                "shown": f"{meter} showed {_plain(after.shown)} later, on {_day(after.read_at)}. {_plain(figure)} before that cannot be."
            }
        )
    row = MeterReading(
        meter=meter, shown=figure, total=total, read_at=at, by=by, meter_changed=meter_changed, note=note
    )
    save_clean(row)
    acts.record(
        act="meter.changed" if meter_changed else "meter.read", by=by, subject=meter, vehicle=meter.vehicle,
        detail={"shown": str(figure), "total": str(total)},
    )  # fmt: skip
    acts.fleet_announce("meter.read", meter.vehicle_id)
    return row


def _total(
    meter: Meter, figure: Decimal, before: MeterReading | None, meter_changed: bool, old_last: Figure | None
) -> Decimal:
    if before is None:
        return figure
    if meter_changed:
        ended = before.shown if old_last is None else decimal(old_last, "old_last")
        if ended < before.shown:
            raise ValidationError(
                {
                    "old_last": f"The old meter showed {_plain(before.shown)} on {_day(before.read_at)}; it cannot have ended at {_plain(ended)}."
                }
            )
        return before.total + (ended - before.shown)
    if figure < before.shown:
        raise ValidationError(
            {
                "shown": f"{meter} showed {_plain(before.shown)} on {_day(before.read_at)}; {_plain(figure)} is lower. "
                "Read it again. If the meter itself was changed, say so."
            }
        )
    return before.total + (figure - before.shown)


def _plain(figure: Decimal) -> str:
    return f"{figure.normalize():f}"


def _day(moment: dt.datetime) -> str:
    local = timezone.localtime(moment)
    return f"{local.day} {local:%B %Y}"


@transaction.atomic
def outing_add(
    *,
    by: Person,
    vehicle: Vehicle,
    day: dt.date,
    hours: Figure = 0,
    km: Figure = 0,
    purpose: str = "",
    driver: Person | None = None,
    stopped_by_fault: bool = False,
) -> Outing:
    """One time out. The background rate of use is estimated from these."""
    permit(by, "outing.add")
    if day > timezone.localdate():
        raise ValidationError({"day": "That day has not come yet."})
    row = Outing(
        vehicle=vehicle, day=day, hours=decimal(hours, "hours"), km=decimal(km, "km"), purpose=purpose,
        driver=driver, stopped_by_fault=stopped_by_fault,
    )  # fmt: skip
    save_clean(row)
    acts.record(
        act="outing.add",
        by=by,
        subject=row,
        vehicle=vehicle,
        detail={"hours": str(row.hours), "km": str(row.km)},
    )
    acts.fleet_announce("outing.add", vehicle.pk)
    return row
