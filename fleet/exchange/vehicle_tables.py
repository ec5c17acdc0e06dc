"""The tables of vehicles: systems, meters, outings, papers, and what we know."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db.models import Model

from fleet.enums import Function, MeterKind, PaperKind, Sureness, VehicleStatus
from fleet.exchange.cells import norm
from fleet.exchange.kinds import Amount, Code, Day, Moment, Ref, Text, Whole, Word, Words, Yes
from fleet.exchange.known import Known
from fleet.exchange.rows import Batch, Row
from fleet.exchange.shared_columns import VEHICLE, note
from fleet.exchange.tables import Column, Table
from fleet.models import Fact, Meter, MeterReading, Outing, Paper, Subsystem, Vehicle, VehicleKind
from fleet.system_template import rows_for

ON_TRACKS = frozenset({VehicleKind.HALF_TRACK, VehicleKind.TRACKED, VehicleKind.CRAWLER})


def _fill_vehicle(row: Row) -> None:
    """What the kind says of tracks, hull and steam, unless the table says otherwise."""
    vehicle = row.instance
    assert isinstance(vehicle, Vehicle)
    if not row.is_new:
        return
    for column, attribute, by_kind in (
        ("tracked", "is_tracked", vehicle.kind in ON_TRACKS),
        ("closed", "is_closed", vehicle.kind == VehicleKind.ARMOURED),
        ("steam", "is_steam", vehicle.kind == VehicleKind.STEAM),
    ):
        if column not in row.values:
            setattr(vehicle, attribute, by_kind)


def _systems_by_template(known: Known, batches: Mapping[str, Batch]) -> None:
    """A new vehicle for which no systems are given starts with those of its kind."""
    if "vehicles" not in batches:
        return
    shelf = known.shelf("subsystems")
    given = {norm(name.split(" / ")[0]) for name in shelf.labels.values()}
    for row in batches["vehicles"].rows:
        if not row.is_new or row.bad or norm(row.label) in given:
            continue
        for (
            column
        ) in row.table.columns:  # the template asks for kind and marks, read ahead of the other tables
            if column.name in {"kind", "tracked", "closed", "steam", "lifts"}:
                row.read(column)
                if column.name in row.values:
                    setattr(row.instance, column.attribute, row.values[column.name])
        _fill_vehicle(row)
        _make_systems(known, row)


def _make_systems(known: Known, row: Row) -> None:
    vehicle = row.instance
    assert isinstance(vehicle, Vehicle)
    made: dict[str, Subsystem] = {}
    for one in rows_for(
        vehicle.kind, is_steam=vehicle.is_steam, is_tracked=vehicle.is_tracked, lifts=vehicle.lifts
    ):
        made[one.code] = Subsystem(
            vehicle=vehicle,
            code=one.code,
            name=one.name,
            parent=made.get(one.parent),
            serves=list(one.serves),
            hazards=list(one.hazards),
            order=one.order,
        )
        known.make("subsystems", made[one.code], f"{row.label} / {one.code}")


def _start_reading(row: Row) -> None:
    """The reading's meter: on file, or new with its first reading."""
    vehicle, kind = row.values.get("vehicle"), row.values.get("kind")
    if vehicle is None or kind is None:
        return  # told when the row itself is read
    name = f"{row.text_of('vehicle')} / {kind}"
    meter = row.known.shelf("_meters").by_label.get(norm(name))
    if meter is None:
        meter = row.known.make("_meters", Meter(vehicle=vehicle, kind=kind), name)
    assert isinstance(row.instance, MeterReading)
    assert isinstance(meter, Meter)
    row.instance.meter = meter


def _meters_rise(batch: Batch) -> None:
    """Works out the running total of new readings, and refuses one that is lower than the one before."""
    known = batch.known
    by_meter: dict[int, list[MeterReading]] = defaultdict(list)
    rows = {id(row.instance): row for row in batch.good}
    touched = {id(_meter_of(row.instance, known)) for row in batch.good if row.is_new}
    readings = [*known.shelf("meters").on_file, *(row.instance for row in batch.good if row.is_new)]
    for one in readings:
        if id(_meter_of(one, known)) in touched and isinstance(one, MeterReading):
            by_meter[id(_meter_of(one, known))].append(one)
    for series in by_meter.values():
        series.sort(key=lambda one: (one.read_at, one.pk or 0))
        last: MeterReading | None = None
        for one in series:
            row = rows.get(id(one))
            if row is not None and row.is_new and "total" not in row.values:
                one.total = _total(one, last)
            if last is not None and not one.meter_changed and one.shown < last.shown:
                later = row or rows.get(id(last))
                if later is not None:
                    _refuse_lower(later, one, last, batch)
            last = one


def _total(one: MeterReading, last: MeterReading | None) -> Decimal:
    if last is None:
        return one.shown
    return last.total if one.meter_changed else last.total + (one.shown - last.shown)


def _refuse_lower(row: Row, one: MeterReading, last: MeterReading, batch: Batch) -> None:
    zone = batch.known.calendar.zone
    words = (
        f"{one.shown.normalize():f} on {one.read_at.astimezone(zone):%Y-%m-%d} is lower than "
        f"{last.shown.normalize():f} on {last.read_at.astimezone(zone):%Y-%m-%d}"
    )
    row.fail("shown", words, "a higher figure, or changed yes when the meter itself was changed")


def _meter_of(reading: Any, known: Known) -> Model | None:
    found: Model | None = known.target(reading, "meter", "_meters")
    return found


def _meter_vehicle(reading: MeterReading, known: Known) -> Model:
    meter = known.shelf("_meters").by_pk[reading.meter_id]
    assert isinstance(meter, Meter)
    return known.shelf("vehicles").by_pk[meter.vehicle_id]


def _meter_kind(reading: MeterReading, known: Known) -> str:
    meter = known.shelf("_meters").by_pk[reading.meter_id]
    assert isinstance(meter, Meter)
    return meter.kind


def _paper_kinds(known: Known) -> list[str]:
    """Papers that the museum's own role table asks for besides the usual ones."""
    if "role_rules" not in known.tables:
        return []
    return [
        str(getattr(rule, "code", ""))
        for rule in known.shelf("role_rules").by_label.values()
        if getattr(rule, "subject", "") == "paper"
    ]


VEHICLES = Table(
    name="vehicles", title="Vehicles", model=Vehicle, codes=("code",), unique=("number",), fill=_fill_vehicle,
    purpose="Every vehicle, visiting ones too.", after_names=_systems_by_template,
    columns=(
        Column(name="code", kind=Code(), help="Short name used in all other tables.", example="V01", required=True),
        Column(name="number", kind=Text(), help="As painted on it.", example="7", required=True),
        Column(name="name", kind=Text(), help="What it is called.", example="Bramble", required=True),
        Column(name="kind", kind=Word(VehicleKind), help="Decides the systems it starts with.", example="lorry", required=True),
        Column(name="make", kind=Text(), help="Maker and type.", example="Pellworth type L"),
        Column(name="year", kind=Whole(), help="Year built.", example="1943"),
        Column(name="place", kind=Text(), help="Where it lives.", example="Shed 2"),
        Column(name="notes", kind=Text(), help="Worth noting.", example="split-rim wheels; winch"),
        Column(name="status", kind=Word(VehicleStatus), help="In service or not.", example="in service"),
        Column(name="status_since", kind=Day(), help="Since when."),
        Column(name="status_reason", kind=Text(), help="Why."),
        Column(name="tracked", kind=Yes(), field="is_tracked", help="Needs its commander. Empty: by the kind.", example="no"),
        Column(name="closed", kind=Yes(), field="is_closed", help="Closed crew space. Empty: by the kind.", example="no"),
        Column(name="steam", kind=Yes(), field="is_steam", help="Has a boiler. Empty: by the kind.", example="no"),
        Column(name="lifts", kind=Yes(), help="Crane, winch or ladder under thorough examination.", example="no"),
        Column(name="keeper", kind=Ref("people"), help="Who looks after it.", example="P02"),
        Column(name="owner", kind=Text(), help="Owner, when lent or visiting."),
        Column(name="length_m", kind=Amount(), help="Metres.", example="6.8"),
        Column(name="width_m", kind=Amount(), help="Metres.", example="2.4"),
        Column(name="height_m", kind=Amount(), help="Metres.", example="2.9"),
        Column(name="weight_kg", kind=Whole(), help="Kilograms.", example="7400"),
        Column(name="seats", kind=Whole(), help="Seats.", example="3"),
    ),
)  # fmt: skip

SUBSYSTEMS = Table(
    name="subsystems", title="Systems of a vehicle", model=Subsystem, key=("vehicle", "code"),
    purpose="May be left out: a new vehicle starts with the systems of its kind. Give all systems of a vehicle, or none.",
    columns=(
        VEHICLE,
        Column(name="code", kind=Text(), help="Short name on that vehicle; with a point for the second level.", example="BRK.parking", required=True),
        Column(name="name", kind=Text(), help="In words.", example="Parking brake", required=True),
        Column(name="parent", kind=Ref("subsystems", within=("vehicle",)), help="First-level system it belongs to.", example="BRK"),
        Column(name="serves", kind=Words(Function.values, gaps=" "), help="Functions that a fault in it touches.", example="HOLD"),
        Column(name="hazards", kind=Words(gaps=" "), help="Cautions shown before work on it.", example="H8; H9"),
        Column(name="order", kind=Whole(), help="Place in the list.", example="94"),
    ),
)  # fmt: skip

METER_HEADS = Table(
    name="_meters", title="Meters", purpose="The meter behind the readings.", model=Meter, key=("vehicle", "kind"), hidden=True,
    columns=(VEHICLE, Column(name="kind", kind=Word(MeterKind), help="Which meter.", required=True)),
)  # fmt: skip

METERS = Table(
    name="meters", title="Meter readings", model=MeterReading, key=("vehicle", "kind", "read_at"), append_only=True,
    purpose="What each meter showed, and when. Only ever added to.", start=_start_reading, checks=(_meters_rise,),
    columns=(
        Column(name="vehicle", kind=Ref("vehicles"), help="The vehicle.", example="V01", required=True, helper=True, get=_meter_vehicle),
        Column(name="kind", kind=Word(MeterKind), help="Which meter.", example="km", required=True, helper=True, get=_meter_kind),
        Column(name="read_at", kind=Moment(), help="When it was read.", example="HWW-35 09:00", required=True),
        Column(name="shown", kind=Amount(), help="What it showed.", example="18 204", required=True),
        Column(name="total", kind=Amount(), help="True running total; empty: worked out from the readings before."),
        Column(name="changed", kind=Yes(), field="meter_changed", help="yes when the meter itself was changed.", example="no"),
        Column(name="by", kind=Ref("people"), help="Who read it.", example="P02"),
        note(),
    ),
)  # fmt: skip

OUTINGS = Table(
    name="outings", title="Outings", model=Outing, key=("vehicle", "day", "hours", "km", "purpose"), repeats=True,
    purpose="Each time out. The usual rate of use is estimated from these.", append_only=True,
    columns=(
        VEHICLE,
        Column(name="day", kind=Day(), help="Which day.", example="2027-04-11", required=True),
        Column(name="hours", kind=Amount(), help="Engine hours.", example="1.5"),
        Column(name="km", kind=Amount(), help="Kilometres.", example="18"),
        Column(name="purpose", kind=Text(), help="What for.", example="road test"),
        Column(name="driver", kind=Ref("people"), help="Who drove.", example="P04"),
        Column(name="stopped_by_fault", kind=Yes(), help="A fault ended it early.", example="no"),
    ),
)  # fmt: skip

PAPERS = Table(
    name="papers", title="Papers", model=Paper, key=("vehicle", "kind"),
    purpose="Documents of each vehicle with the last day on which each is valid.",
    columns=(
        VEHICLE,
        Column(name="kind", kind=Word(PaperKind, more=_paper_kinds), help="Which paper.", example="insurance", required=True),
        Column(name="reference", kind=Text(), help="Number on it.", example="R-0418"),
        Column(name="valid_through", kind=Day(), help="Last valid day; empty for no end.", example="HWW+60"),
        note(),
    ),
)  # fmt: skip

FACTS = Table(
    name="facts", title="What we know", model=Fact, codes=("code",), key=("vehicle", "about", "recorded_on"),
    purpose="Claims about a vehicle with their source. A wrong one is corrected by a later row that names it.",
    columns=(
        Column(name="code", kind=Code(), help="Short name; needed when another row points at it.", example="F01"),
        VEHICLE,
        Column(name="subsystem", kind=Ref("subsystems", within=("vehicle",)), help="Which system.", example="BRK"),
        Column(name="about", kind=Text(), help="What it is about.", example="stamp 2 on the drum", required=True),
        Column(name="value", kind=Text(), help="What we hold to be so.", example="second oversize", required=True, locked=True),
        Column(name="source", kind=Text(), help="Where that comes from.", example="internal micrometer"),
        Column(name="sureness", kind=Word(Sureness), help="How sure.", example="measured"),
        Column(name="said_by", kind=Text(), help="Who said so.", example="a former mechanic"),
        Column(name="recorded_by", kind=Ref("people"), help="Who wrote it down.", example="P02"),
        Column(name="recorded_on", kind=Day(), help="When.", example="HWW-38", required=True),
        Column(name="corrects", kind=Ref("facts"), help="The earlier fact that this one puts right.", example="F00", locked=True),
        Column(name="reason", kind=Text(), help="Why it was corrected.", example="bore measured"),
    ),
)  # fmt: skip
