"""Every address of the program with something real in its places, for the table of who may open what."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver, reverse

from fleet.models import Fact, Meter, Paper, Person, Photo, Subsystem, Vehicle
from maintenance.models import (
    Defect,
    Deferral,
    FabricPart,
    FactUse,
    Incident,
    Inspection,
    JobCard,
    Measure,
    OutsideHand,
    PartNeed,
    Place,
    Reading,
    SpecialTool,
    Tag,
    ToCopy,
    WhichSheet,
    WhichTemplate,
)
from maintenance.tags_link import token_of
from readiness.models import Digest, Entry, Rehearsal, Slot

SKIPPED = ("admin:", "static")


def routes(resolver: URLResolver | None = None, space: str = "") -> Iterator[tuple[str, URLPattern]]:
    """(name with namespace, pattern) of every address; the admin site guards itself and is tested on its own."""
    for entry in (resolver or get_resolver()).url_patterns:
        if isinstance(entry, URLResolver):
            if entry.namespace != "admin":
                yield from routes(entry, f"{entry.namespace}:" if entry.namespace else space)
        elif entry.name:
            yield f"{space}{entry.name}", entry


def sample(name: str, pattern: URLPattern) -> str:
    """An address of this route in the demo museum."""
    vehicle = Vehicle.objects.get(code="V01")
    card = JobCard.objects.get(code="J01")
    known: dict[str, Any] = {
        "code": vehicle.code, "vehicle": vehicle.code, "token": token_of(vehicle), "day": "2027-06-12", "uidb64": "x", "size": "small", "name": "vehicles", "mark": "x",
    }  # fmt: skip
    owners = {
        "readiness:": {"code": "HWW"}, "readiness:vehicle": {"code": "V01"}, "readiness:checklist": {"code": "HWW", "vehicle": "V01"},
    }  # fmt: skip
    keys: dict[str, Any] = {
        "maintenance:defect": Defect, "maintenance:assess": Defect, "maintenance:put_off": Defect, "maintenance:set_aside": Defect,
        "maintenance:part": PartNeed, "maintenance:inspection": Inspection, "maintenance:tag": Tag, "maintenance:measure": Measure,
        "maintenance:reading_history": Measure, "maintenance:reading_replace": Reading, "maintenance:tool": SpecialTool, "maintenance:place": Place, "maintenance:deferral": Deferral,
        "maintenance:put_off_sign": Deferral, "maintenance:put_off_renew": Deferral, "maintenance:put_off_withdraw": Deferral,
        "maintenance:which_": WhichSheet, "maintenance:which_template": WhichTemplate,
        "readiness:slot": Slot, "readiness:entry": Entry, "readiness:rehearsal": Rehearsal, "readiness:reminder": Digest,
        "maintenance:incident": Incident, "maintenance:paper": ToCopy, "maintenance:outside_hand": OutsideHand, "maintenance:outside_act": OutsideHand,
        "maintenance:fabric_part": FabricPart, "maintenance:fabric_act": FabricPart, "maintenance:fact_use": Fact, "maintenance:fact_use_end": FactUse,
        "fleet:person": Person, "fleet:pattern": Person, "fleet:competence": Person, "fleet:fact": Fact, "fleet:meter": Meter, "fleet:paper": Paper,
        "fleet:photo": Photo, "fleet:system": Subsystem,
    }  # fmt: skip
    values = dict(known)
    for prefix, more in owners.items():
        if name == prefix or (prefix.endswith(":") and name.startswith(prefix)):
            values |= more
    model = next(
        (m for prefix, m in sorted(keys.items(), key=lambda p: -len(p[0])) if name.startswith(prefix)), None
    )
    row = model.objects.order_by("pk").first() if model is not None else card
    pk = row.pk if row is not None else 1
    converters = pattern.pattern.converters
    values |= {
        "pk": pk,
        "measure": Measure.objects.filter(vehicle=vehicle).values_list("pk", flat=True).first() or 1,
    }
    given = {
        key: values.get(key, pk if "Int" in type(converter).__name__ else "x")
        for key, converter in converters.items()
    }
    if not given:  # written as a regular expression
        given = {key: values.get(key, "x") for key in pattern.pattern.regex.groupindex}
    return reverse(name, kwargs=given)
