"""What the which-part pages fetch: one sheet with all that stands on it, lists of sheets, sheets to start from."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db.models import F, Prefetch, Q, QuerySet

from fleet.models import Fact, Person, Vehicle
from maintenance.enums import OPEN_STATES
from maintenance.models import (
    Defect,
    JobCard,
    Reading,
    WhichRehearsal,
    WhichResult,
    WhichSheet,
    WhichState,
    WhichTemplate,
)
from maintenance.sheets import SHEETS

ENDED_SHOWN = 40
READINGS_LOOKED_AT = 60
REPLAYED = 4


def which_detail(pk: int) -> WhichSheet:
    """A sheet with its results and facts: a fixed number of queries, whatever stands on it.

    Raises:
        WhichSheet.DoesNotExist: no such sheet.
    """
    return _whole().get(pk=pk)


def _whole() -> QuerySet[WhichSheet]:
    facts = Fact.objects.select_related("corrected_by")
    results = WhichResult.objects.select_related("by", "undone_by", "photo").order_by("at", "pk")
    rows = WhichSheet.objects.select_related(
        "vehicle", "defect", "card", "opened_by", "ended_by", "settled_by"
    )
    return rows.prefetch_related(Prefetch("facts", facts), Prefetch("results", results))


def _listed() -> QuerySet[WhichSheet]:
    facts = Fact.objects.select_related("corrected_by")
    return WhichSheet.objects.select_related("vehicle", "card", "defect").prefetch_related(
        Prefetch("facts", facts)
    )


def unsettled() -> QuerySet[WhichSheet]:
    """Ended sheets that lean on a fact which was corrected after they were last looked at."""
    later = Q(settled_at=None) | Q(settled_at__date__lt=F("facts__corrected_by__recorded_on"))
    return (
        _listed().exclude(state=WhichState.OPEN).filter(later, facts__corrected_by__isnull=False).distinct()
    )


def sheets_open() -> list[WhichSheet]:
    return list(_listed().filter(state=WhichState.OPEN))


def sheet_versions() -> list[tuple[int, int]]:
    """(key, version) of each open sheet."""
    return list(WhichSheet.objects.filter(state=WhichState.OPEN).values_list("pk", "version"))


def sheets_ended() -> list[WhichSheet]:
    return list(_listed().exclude(state=WhichState.OPEN).order_by("-ended_at")[:ENDED_SHOWN])


def worked_on(vehicle: Vehicle) -> list[WhichSheet]:
    """For the vehicle page: its newest sheets with all that stands on them."""
    rows = _whole().filter(vehicle=vehicle).order_by("-opened_at", "-pk")
    return list(rows[:REPLAYED])


def sheets_of_card(card_pk: int) -> list[WhichSheet]:
    return list(_listed().filter(card=card_pk))


def sheets_of(
    *, vehicle: Vehicle, card: JobCard | None = None, defect: Defect | None = None
) -> list[WhichSheet]:
    """Sheets that stand already for the job or the fault; for a vehicle alone, its open ones."""
    rows = _listed().filter(vehicle=vehicle)
    if card is not None or defect is not None:
        same = Q(card=card) if card is not None else Q()
        return list(rows.filter(same | Q(defect=defect) if defect is not None else same))
    return list(rows.filter(state=WhichState.OPEN))


def open_card_of(defect: Defect) -> JobCard | None:
    """The job that a sheet for this fault belongs to."""
    return defect.cards.filter(state__in=OPEN_STATES).order_by("pk").first()


def readings_for(sheet: WhichSheet) -> dict[str, list[Reading]]:
    """For each test with a limit, readings of the vehicle since the day before that may have been taken for it."""
    since = sheet.opened_at - dt.timedelta(days=1)
    wanted = [one for one in sheet.definition["tests"] if one["edge"] and one["edge"].get("measure")]
    if not wanted:
        return {}
    rows = list(
        Reading.objects.filter(measure__vehicle=sheet.vehicle_id, at__gte=since, replaced_by=None)
        .select_related("measure", "by")
        .order_by("-at", "-pk")[:READINGS_LOOKED_AT]
    )
    return {
        one["key"]: [row for row in rows if one["edge"]["measure"].casefold() in row.measure.name.casefold()]
        for one in wanted
    }


def meanwhile(sheet: WhichSheet, version: int | None, by: Person) -> list[str]:
    """What others wrote on the sheet, or took back, since the version that a page showed."""
    if version is None:
        return []
    names = {one["key"]: one["name"] for one in sheet.definition["tests"]}
    told = []
    for one in sheet.results.select_related("by", "undone_by").order_by("at", "pk"):
        if one.in_version > version and one.by_id != by.pk:
            told.append(f"Meanwhile {one.by.name} wrote “{one.result}” for: {names[one.test]}.")
        if one.undone_by and (one.out_version or 0) > version and one.undone_by_id != by.pk:
            told.append(f"Meanwhile {one.undone_by.name} took “{one.result}” back, for: {names[one.test]}.")
    return told


def templates_listed() -> list[WhichTemplate]:
    """The museum's own sheets, each with its newest rehearsal."""
    newest = WhichRehearsal.objects.order_by("-asked_at", "-pk")
    rows = WhichTemplate.objects.select_related("changed_by")
    return list(rows.prefetch_related(Prefetch("rehearsals", newest)).order_by("retired", "name", "pk"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """A sheet to start from, as it is offered."""

    value: str
    name: str
    causes: int
    tests: int
    own: WhichTemplate | None


def starts_for(vehicle: Vehicle | None = None) -> list[Start]:
    """What may be opened: the museum's own sheets that suit the vehicle, and the shipped ones that it has no own copy of."""
    own = [
        row
        for row in WhichTemplate.objects.filter(retired=False)
        if vehicle is None or row.kind in {"", vehicle.kind}
    ]
    found = [_start(f"own-{row.pk}", row.name, row.definition, row) for row in own]
    covered = {row.based_on for row in own}
    shipped = [
        Start(
            value=f"shipped-{key}",
            name=sheet.name,
            causes=len(sheet.causes),
            tests=len(sheet.tests),
            own=None,
        )
        for key, sheet in SHEETS.items()
        if key not in covered
    ]
    return found + shipped


def _start(value: str, name: str, definition: dict[str, Any], row: WhichTemplate) -> Start:
    return Start(
        value=value, name=name, causes=len(definition["causes"]), tests=len(definition["tests"]), own=row
    )


def start_of(value: str) -> WhichTemplate | str | None:
    """The template behind a choice of `starts_for`; None for a choice that was never offered."""
    kind, _, rest = value.partition("-")
    if kind == "shipped" and rest in SHEETS:
        return rest
    if kind == "own" and rest.isdecimal():
        return WhichTemplate.objects.filter(pk=int(rest), retired=False).first()
    return None
