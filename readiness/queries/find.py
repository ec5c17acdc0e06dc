"""Find: vehicles, jobs, faults, parts, people and facts by words. An exact number or serial comes first."""

from __future__ import annotations

import functools
import operator
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Model, Q, QuerySet
from django.urls import NoReverseMatch, reverse

from fleet.models import Fact, Person, Vehicle
from maintenance.models import Defect, JobCard, PartNeed

MOST_OF_A_KIND = 12
LONGEST = 80
MOST_WORDS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One answer. `rank` 0: the exact number, code or serial that was typed; 1: it begins with it; 2: a word in it."""

    rank: int
    number: str
    title: str
    note: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    title: str
    answers: tuple[Found, ...]
    more: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Where:
    title: str
    rows: Callable[[], QuerySet[Any]]
    columns: Sequence[str]
    keys: Sequence[str]
    show: Callable[[Any], tuple[str, str, str, str]]


def _link(name: str, *args: object) -> str:
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""


def _vehicle_link(vehicle: Vehicle | None) -> str:
    return _link("readiness:vehicle", vehicle.code) if vehicle else ""


def _part(part: PartNeed) -> tuple[str, str, str, str]:
    vehicle = part.card.vehicle if part.card else part.vehicle
    note = part.get_state_display() + (f", for {part.card}" if part.card else "")
    return (
        vehicle.number if vehicle else "",
        part.name,
        note,
        _link("maintenance:stores") or _vehicle_link(vehicle),
    )


WHERE: tuple[_Where, ...] = (
    _Where(
        title="Vehicles",
        rows=lambda: Vehicle.objects.order_by("number"),
        columns=("number", "name", "make", "code", "notes"),
        keys=("number", "code", "name"),
        show=lambda v: (v.number, v.name, v.make or v.get_kind_display(), _vehicle_link(v)),
    ),
    _Where(
        title="Jobs",
        rows=lambda: JobCard.objects.select_related("vehicle").order_by("-serial"),
        columns=("serial", "code", "title", "why", "vehicle__name"),
        keys=("serial", "code"),
        show=lambda c: (
            c.vehicle.number,
            f"{c.serial} {c.title}",
            f"{c.vehicle.name}, {c.get_state_display().lower()}",
            _link("maintenance:card", c.pk),
        ),
    ),
    _Where(
        title="Faults",
        rows=lambda: Defect.objects.select_related("vehicle").order_by("-serial"),
        columns=("serial", "code", "title", "words", "vehicle__name"),
        keys=("serial", "code"),
        show=lambda d: (
            d.vehicle.number,
            f"{d.serial} {d.title}",
            f"{d.vehicle.name}, {d.get_state_display().lower()}",
            _link("maintenance:defect", d.pk) or _vehicle_link(d.vehicle),
        ),
    ),
    _Where(
        title="Parts",
        rows=lambda: PartNeed.objects.select_related("card__vehicle", "vehicle").order_by("name", "pk"),
        columns=("name", "code", "bin", "note", "supplier__name"),
        keys=("code", "name"),
        show=_part,
    ),
    _Where(
        title="People",
        rows=lambda: Person.objects.filter(is_active=True).order_by("name"),
        columns=("name", "code", "skills__name"),
        keys=("code", "name"),
        show=lambda p: ("", p.name, ", ".join(p.roles), _link("fleet:person", p.pk)),
    ),
    _Where(
        title="What we know",
        rows=lambda: Fact.objects.filter(corrected_by=None).select_related("vehicle").order_by("about", "pk"),
        columns=("about", "value", "source", "vehicle__name"),
        keys=("code",),
        show=lambda f: (f.vehicle.number, f"{f.about}: {f.value}", f.vehicle.name, _vehicle_link(f.vehicle)),
    ),
)


def words_of(text: str) -> list[str]:
    """The words to look for: blanks folded, no more than are useful."""
    return text[:LONGEST].replace("\u00a0", " ").replace("\x00", "").split()[:MOST_WORDS]


def find(text: str) -> list[Kind]:
    """Every kind that has an answer, that with the exact number or serial first; a fixed number of queries."""
    words = words_of(text)
    if not words:
        return []
    typed = " ".join(words)
    kinds = [kind for where in WHERE if (kind := _kind(where, words, typed)) is not None]
    return sorted(kinds, key=lambda k: k.answers[0].rank)


def _kind(where: _Where, words: Sequence[str], typed: str) -> Kind | None:
    exact = _any(where.keys, "iexact", typed) | _any(where.keys, "iexact", typed.replace(" ", ""))
    every = functools.reduce(operator.and_, (_any(where.columns, "icontains", w) for w in words))
    first = list(where.rows().filter(exact).distinct()[: MOST_OF_A_KIND + 1])
    rest = list(where.rows().filter(every).distinct()[: MOST_OF_A_KIND + 1])
    rows: dict[int, Model] = {row.pk: row for row in [*first, *rest]}
    if not rows:
        return None
    exact_keys = {row.pk for row in first}
    answers = [_found(where, row, typed, row.pk in exact_keys) for row in rows.values()]
    ranked = sorted(answers, key=lambda a: a.rank)
    return Kind(title=where.title, answers=tuple(ranked[:MOST_OF_A_KIND]), more=len(ranked) > MOST_OF_A_KIND)


def _found(where: _Where, row: Model, typed: str, is_exact: bool) -> Found:
    number, title, note, href = where.show(row)
    starts = title.lower().startswith(typed.lower()) or number.lower().startswith(typed.lower())
    return Found(rank=0 if is_exact else 1 if starts else 2, number=number, title=title, note=note, href=href)


def _any(columns: Sequence[str], lookup: str, text: str) -> Q:
    return functools.reduce(operator.or_, (Q(**{f"{c}__{lookup}": text}) for c in columns))
