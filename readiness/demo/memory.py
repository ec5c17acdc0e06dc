"""What the demo museum remembers beyond its tables: a near miss, a lent examiner's silence, what is original, a card of readings."""

from __future__ import annotations

import datetime as dt
import io

from django.utils import timezone

from fleet.models import Person, Vehicle
from fleet.services.photos import photo_add
from maintenance.models import Inspection
from maintenance.services.copying import paper_keep
from maintenance.services.fabric import fabric_part_off, fabric_part_set
from maintenance.services.incidents import incident_close, incident_report
from maintenance.services.outside import outside_ask

CARDBOARD = (
    "Pump, gland drips a minute", "idle 14   at pressure 22", "compression, warm, 6 turns", "8.1 8.0 7.9 8.2 8.0 8.1",
)  # fmt: skip


def _vehicle(code: str) -> Vehicle:
    return Vehicle.objects.get(code=code)


def _person(code: str) -> Person:
    return Person.objects.get(code=code)


def fill(saturday: dt.date) -> None:
    """Written through the services, as people would. Nothing here gates: the board stays as its tables have it."""
    lead, mechanic = _person("P02"), _person("P04")
    curator = Person.objects.filter(is_curator=True).order_by("code").first() or lead
    _near_miss(lead, mechanic, saturday)
    _fabric(lead, curator)
    crane = Inspection.objects.filter(vehicle__code="V16", kind="lifting").first()
    outside_ask(
        by=lead, kind="examiner", who="Fenwright Lifting Examiners", contact="by letter", inspection=crane,
        about="thorough examination of crane and winch", asked_on=timezone.localdate() - dt.timedelta(days=9),
    )  # fmt: skip
    photo = photo_add(
        by=mechanic, upload=_cardboard(), vehicle=_vehicle("V06"), shows="Readings on cardboard"
    )
    paper_keep(by=mechanic, vehicle=_vehicle("V06"), photo=photo, words="Pump glands and compression")


def _near_miss(lead: Person, mechanic: Person, saturday: dt.date) -> None:
    noon = dt.datetime.combine(saturday - dt.timedelta(days=50), dt.time(12, 10))
    happened = min(timezone.make_aware(noon), timezone.now())
    row = incident_report(
        by=mechanic, kind="near miss", place="yard gate", happened_at=happened, hurt="nobody",
        what="A lorry was backed through the gate without a banksman. A visitor stepped behind it and was called away.",
        done_at_once="Stopped, gate shut, visitor shown the way round.",
    )  # fmt: skip
    incident_close(
        incident=row, by=lead,
        learnt="The gate is shut while anything backs. Nobody backs without a banksman, inside the yard too.",
    )  # fmt: skip


def _fabric(lead: Person, curator: Person) -> None:
    canvas, steam = _vehicle("V18"), _vehicle("V15")
    fabric_part_set(
        by=curator, vehicle=canvas, name="lettering on both doors", standing="original", hands_off=True,
        subsystem=canvas.subsystems.filter(code="BOD").first(), note="two layers; the lower one is the first",
    )  # fmt: skip
    fabric_part_set(
        by=curator, vehicle=canvas, name="canvas roof", standing="period",
        subsystem=canvas.subsystems.filter(code="BOD").first(),
    )  # fmt: skip
    lagging = fabric_part_set(
        by=curator, vehicle=steam, name="boiler lagging", standing="original", hazard="Taken as asbestos: sealed.",
        subsystem=steam.subsystems.filter(code="STM").first(),
    )  # fmt: skip
    fabric_part_off(
        part=lagging,
        by=lead,
        label="K 31",
        shelf="locked store, shelf 2",
        reason="renewed at the last retube",
    )


def _cardboard() -> bytes:
    """A drawn stand-in for a photograph of cardboard; nobody's hand and nobody's picture."""
    from PIL import Image, ImageDraw

    picture = Image.new("RGB", (900, 640), (176, 146, 104))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((30, 30, 870, 610), outline=(122, 96, 62), width=5)
    for number, line in enumerate(CARDBOARD):
        draw.text((80, 90 + number * 120), line, fill=(38, 34, 30), font_size=46)
    kept = io.BytesIO()
    picture.save(kept, "JPEG", quality=80)
    return kept.getvalue()
