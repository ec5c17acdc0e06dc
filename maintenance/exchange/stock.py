"""Tables of the workshop's places, ways in, tools, suppliers, and the parts that jobs need."""

from __future__ import annotations

from fleet.exchange.kinds import Amount, Code, Day, Ref, Text, Whole, Word, Words
from fleet.exchange.rows import Row
from fleet.exchange.tables import Column, Table
from fleet.models import Vehicle
from maintenance.enums import NeedState
from maintenance.models import Access, PartNeed, Place, SpecialTool, Supplier


def _fill_part(row: Row) -> None:
    """A part belongs to its job's vehicle, and its state follows from its dates, unless the table says otherwise."""
    part = row.instance
    assert isinstance(part, PartNeed)
    if not row.is_new:
        return
    if part.card is not None and "vehicle" not in row.values:
        found = row.known.shelf("vehicles").by_pk.get(part.card.vehicle_id)
        part.vehicle = found if isinstance(found, Vehicle) else part.card.vehicle
    if "state" not in row.values:
        if part.received_on is not None:
            part.state = NeedState.ON_SHELF
        elif part.promised_on is not None:
            part.state = NeedState.ON_ORDER


PLACES = Table(
    name="places", title="Places", model=Place, codes=("name",), purpose="Pits, hoists and bays, and how many vehicles each takes.",
    columns=(
        Column(name="name", kind=Text(), help="What it is called.", example="pit", required=True),
        Column(name="capacity", kind=Whole(), help="Vehicles at a time.", example="1"),
    ),
)  # fmt: skip

ACCESSES = Table(
    name="accesses", title="Ways in", model=Access, codes=("name",),
    purpose="What must be opened to reach the work, what opening and closing cost, and how often it shows more work.",
    columns=(
        Column(name="name", kind=Text(), help="What it is called.", example="pack lift", required=True),
        Column(name="open_hours", kind=Amount(), help="Hours to open.", example="7"),
        Column(name="close_hours", kind=Amount(), help="Hours to close.", example="9"),
        Column(name="persons", kind=Whole(), help="People needed for that.", example="2"),
        Column(name="place", kind=Ref("places"), help="Place that it holds from opening to closing.", example="hoist"),
        Column(name="cooling_hours", kind=Whole(), help="Hours to cool before opening.", example="0"),
        Column(name="discovery", kind=Amount(), help="Chance, 0 to 1, that opening shows more.", example="0.6"),
        Column(name="hazards", kind=Words(gaps=" "), help="Cautions shown before it is opened.", example="H8; H16"),
    ),
)  # fmt: skip

TOOLS = Table(
    name="tools", title="Special tools", model=SpecialTool, codes=("name",), purpose="Tools of which there is one, and where each is.",
    columns=(
        Column(name="name", kind=Text(), help="What it is called.", example="ball-joint splitter", required=True),
        Column(name="home", kind=Text(), help="Where it belongs.", example="rack C"),
        Column(name="keeper", kind=Ref("people"), help="Who looks after it.", example="P02"),
        Column(name="on_loan_to", kind=Text(), help="Who has it; empty when it is here."),
        Column(name="back_on", kind=Day(), help="Day on which it comes back."),
        Column(name="calibrated_until", kind=Day(), help="Last day of its calibration."),
    ),
)  # fmt: skip

SUPPLIERS = Table(
    name="suppliers", title="Suppliers", model=Supplier, codes=("name",), purpose="Who parts come from.",
    columns=(
        Column(name="name", kind=Text(), help="Name.", example="Ostrey Rubber Works", required=True),
        Column(name="contact", kind=Text(), help="How to reach them.", example="order desk, 0100 204"),
    ),
)  # fmt: skip

PARTS = Table(
    name="parts", title="Parts that jobs need", model=PartNeed, codes=("code",), key=("job", "name"), fill=_fill_part,
    purpose="One row for each thing that a job needs: on the shelf, on order, or not ordered.",
    columns=(
        Column(name="code", kind=Code(), help="Short name; may be empty.", example="PT03"),
        Column(name="name", kind=Text(), help="What it is.", example="front lining set, second oversize", required=True),
        Column(name="job", field="card", kind=Ref("jobs"), help="The job that needs it.", example="J01"),
        Column(name="vehicle", kind=Ref("vehicles"), dash=True, help="Empty: the job's vehicle.", example="V01"),
        Column(name="quantity", kind=Whole(), help="How many.", example="1"),
        Column(name="state", kind=Word(NeedState), help="How it stands. Empty: on order when a day is promised, else not ordered.", example="on order"),
        Column(name="supplier", kind=Ref("suppliers"), help="Who it comes from."),
        Column(name="ordered_on", kind=Day(), help="When it was ordered.", example="HWW-37"),
        Column(name="promised_on", kind=Day(), help="When it was promised for; needed when it is on order.", example="HWW-23"),
        Column(name="lead_days", kind=Whole(), help="Days from order to shelf.", example="14"),
        Column(name="received_on", kind=Day(), help="When it came."),
        Column(name="bin", kind=Text(), help="Where it lies.", example="C4"),
        Column(name="note", kind=Text(), help="Anything worth saying."),
    ),
)  # fmt: skip
