"""Ways from a page to what else a person may do: with a vehicle, or for the museum."""

from __future__ import annotations

from contextlib import suppress
from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

from fleet import rules
from fleet.models import Vehicle
from fleet.views.access import vehicle_page

PAGES = (
    ("Meters", "what they show, and reading them", "fleet:meters", ""),
    ("Outings", "how far, how long, who drove", "fleet:outings", ""),
    ("Papers", "insurance, label, driver's card and the rest", "fleet:papers", ""),
    ("What we know", "facts, their sources, and what was corrected", "fleet:facts", ""),
    ("What is original", "which parts matter, and where one lies that came off", "maintenance:fabric", ""),
    ("Readings on paper", "photograph them; they ask to be copied", "maintenance:paper_new", "reading.add"),
    (
        "Its record book, as files",
        "text, pictures and a PDF that need no program",
        "maintenance:book_zip",
        "book.take",
    ),
    ("Its record book, to print", "everything that is written about it", "maintenance:book_pdf", "book.take"),
    ("Photographs", "look at them, add one", "fleet:photos", ""),
    ("Systems", "what each serves, and its cautions", "fleet:systems", ""),
    ("What is written", "number, name, kind, size, keeper", "fleet:vehicle_change", "vehicle.change"),
    (
        "In service or not",
        "stand it down, lay it up, bring it back",
        "fleet:vehicle_status",
        "vehicle.status",
    ),
    ("A new fault-slip code", "when the printed one was misused", "fleet:tag_key", "vehicle.tag_key"),
)


def about(request: HttpRequest, vehicle: Vehicle, **more: Any) -> dict[str, Any]:
    here = request.resolver_match.view_name if request.resolver_match else ""
    pages = []
    for word, detail, name, act in PAGES:
        if name != here and (not act or rules.may(request.user, act)):
            with suppress(NoReverseMatch):
                pages.append((word, detail, reverse(name, args=[vehicle.code])))
    return {"vehicle": vehicle, "back": vehicle_page(vehicle.code), "pages": pages, **more}


DOORS = (
    (
        "People",
        "roles, codes, what each is checked for",
        "fleet:people",
        ("person.change", "days.others", "competence.set"),
    ),
    ("Settings", "what the museum has decided for itself", "fleet:settings", ("museum.change",)),
    ("Bring in tables", "vehicles, people, jobs from a spreadsheet", "readiness:import", ("data.import",)),
    ("Behind the pages", "what is kept, row by row", "admin:index", ("museum.change",)),
)


def doors(request: HttpRequest) -> list[tuple[str, str, str]]:
    """What a person looks after; a page that is not wired has no door."""
    found = []
    for word, detail, name, acts in DOORS:
        if any(rules.may(request.user, act) for act in acts):
            with suppress(NoReverseMatch):
                found.append((word, detail, reverse(name)))
    return found
