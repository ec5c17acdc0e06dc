"""Cells that only the workshop has: ratings, effects, limits, signers."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django.db.models import Model

from fleet.enums import Function
from fleet.exchange import cells
from fleet.exchange.cells import MIDDAY, CellError, join_list, nearest, norm, split_list
from fleet.exchange.kinds import Kind, Words
from fleet.exchange.known import Known
from fleet.exchange.rows import Row
from fleet.exchange.tables import Children, ChildSpec
from fleet.models import Person
from maintenance.enums import VALUED_LIMITS, Effect, LimitKind
from maintenance.models import DefectEffect, Deferral, DeferralLimit, DeferralSignature

EFFECT_MARKS = {"✗": Effect.LOST, "~": Effect.REDUCED, "·": Effect.WATCH}
NOT_READ = "?"
SIGNING_ROLES = ("mechanic", "lead", "manager")


class Rating(Kind):
    """Severity and probability of MIL-STD-882E, such as 2C."""

    words = "rating"

    def read(self, text: str, row: Row) -> tuple[int, str]:
        return cells.read_rating(text)

    def write(self, value: Any, known: Known) -> str:
        return f"{value[0]}{value[1]}" if value and value[0] and value[1] else ""


class Effects(Children):
    """`STOP:reduced HOLD:lost`: which functions a defect takes, and how far."""

    words = "FUNCTION:lost, reduced or watch; with spaces between"

    def __init__(self) -> None:
        super().__init__(
            ChildSpec(model=DefectEffect, parent="defect", fields=("function", "effect")), ordered=False
        )

    def read(self, text: str, row: Row) -> list[dict[str, Any]]:
        found: dict[str, str] = {}
        for part in re.split(r"[;,\s]+", re.sub(r"\s*[:=]\s*", ":", text.strip())):
            if not part:
                continue
            name, _, word = part.partition(":")
            if not word and name[-1:] in EFFECT_MARKS:
                name, word = name[:-1], EFFECT_MARKS[name[-1]].value
            function = name.upper()
            if function not in Function.values:
                raise CellError(
                    f"'{name}' is no function",
                    nearest(function, Function.values) or " | ".join(Function.values),
                )
            if word.lower() not in Effect.values:
                close = nearest(word, Effect.values)
                raise CellError(
                    f"'{part}' does not say lost, reduced or watch", f"{function}:{close or 'reduced'}"
                )
            if function in found:
                raise CellError(f"{function} stands twice")
            found[function] = word.lower()
        return [{"function": function, "effect": effect} for function, effect in found.items()]

    def write(self, value: Any, known: Known) -> str:
        return " ".join(
            f"{one.function}:{one.effect}" for one in sorted(value, key=lambda one: str(one.function))
        )


class Values(Words):
    """What was read, place by place; a place that could not be read is a question mark."""

    words = "values; between semicolons, ? for one not read"

    def read(self, text: str, row: Row) -> list[str]:
        return ["" if part == NOT_READ else part for part in super().read(text, row)]

    def write(self, value: Any, known: Known) -> str:
        return super().write([part or NOT_READ for part in value or []], known)


def write_limit(limit: DeferralLimit, known: Known) -> str:
    text = f": {limit.text}" if limit.text else ""
    if limit.kind == LimitKind.FREE_TEXT:
        return f"text{text}"
    if limit.kind == LimitKind.NAMED_DRIVER:
        driver = known.shelf("people").by_pk.get(limit.driver_id) if limit.driver_id else None
        return f"{limit.kind}={known.shelf('people').label(driver) if driver else ''}{text}"
    figure = f"={cells.write_amount(limit.value)}" if limit.value is not None else ""
    return f"{limit.kind}{figure}{text}"


class Limits(Children):
    """`max speed=20; daylight only; text: battery charged overnight`."""

    words = "limits; between semicolons"

    def __init__(self) -> None:
        super().__init__(
            ChildSpec(
                model=DeferralLimit,
                parent="deferral",
                fields=("kind", "value", "text", "driver"),
                refs={"driver": "people"},
            )
        )
        self.names = {norm(label): value for value, label in LimitKind.choices} | {
            norm(value): value for value in LimitKind.values
        }
        self.names["text"] = LimitKind.FREE_TEXT.value

    def values(self) -> tuple[str, ...]:
        return (*(value for value in LimitKind.values if value != LimitKind.FREE_TEXT), "text")

    def read(self, text: str, row: Row) -> list[dict[str, Any]]:
        return [self._one(part, row) for part in split_list(text)]

    def _one(self, part: str, row: Row) -> dict[str, Any]:
        head, _, words = part.partition(":")
        name, _, figure = head.partition("=")
        kind = self.names.get(norm(name))
        if kind is None:
            close = nearest(name, self.values())
            raise CellError(f"'{name.strip()}' is no kind of limit", close or "text: in your own words")
        figure, words = figure.strip(), words.strip()
        limit: dict[str, Any] = {"kind": kind, "value": None, "text": words, "driver": None}
        if kind in VALUED_LIMITS:
            if not figure:
                raise CellError(f"'{part}' needs a figure", f"{kind}=20")
            limit["value"] = cells.read_amount(figure)
            if limit["value"] <= Decimal(0):
                raise CellError(f"'{part}' needs a figure above nought", f"{kind}=20")
        elif kind == LimitKind.NAMED_DRIVER:
            limit["driver"] = row.known.shelf("people").find(figure or words)
            limit["text"] = words if figure else ""
        elif figure:
            limit["text"] = f"{figure} {words}".strip()
        if kind == LimitKind.FREE_TEXT and not limit["text"]:
            raise CellError("a limit in words has no words", "text: battery charged overnight")
        if len(limit["text"]) > 200:
            raise CellError("a limit in words is longer than 200 characters")
        return limit

    def write(self, value: Any, known: Known) -> str:
        return join_list(write_limit(one, known) for one in value)


class Signers(Children):
    """`P02 as lead; P12 as manager`. With `at` and a time when it was not at midday of the day of signing."""

    words = "person as role; between semicolons"

    def __init__(self) -> None:
        super().__init__(
            ChildSpec(
                model=DeferralSignature,
                parent="deferral",
                fields=("person", "role", "at"),
                refs={"person": "people"},
            )
        )

    def read(self, text: str, row: Row) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = []
        for part in split_list(text):
            match = re.fullmatch(
                r"(?P<who>.+?)\s+as\s+(?P<role>\w+)(?:\s+at\s+(?P<at>.+))?", part, re.IGNORECASE
            )
            if not match:
                raise CellError(f"'{part}' does not say who signs as what", "P02 as lead")
            role = norm(match["role"])
            if role not in SIGNING_ROLES:
                raise CellError(
                    f"'{match['role']}' is no role that signs", nearest(role, SIGNING_ROLES) or "lead"
                )
            person = row.known.shelf("people").find(match["who"])
            if any(one["role"] == role for one in found):
                raise CellError(f"two sign as {role}", "one signature for each role")
            found.append({"person": person, "role": role, "at": self._at(match["at"], row)})
        return found

    def _at(self, text: str | None, row: Row) -> Any:
        if text:
            return cells.read_moment(text, row.known.calendar)
        if not row.gives("signed_on") and not row.is_new:
            assert isinstance(row.instance, Deferral)
            return cells.read_moment(row.instance.signed_on.isoformat(), row.known.calendar)
        return cells.read_moment(
            cells.read_day(row.raw.cells.get("signed_on", ""), row.known.calendar).isoformat(),
            row.known.calendar,
        )

    def write(self, value: Any, known: Known) -> str:
        return join_list(self._one(one, known) for one in value)

    def _one(self, one: DeferralSignature, known: Known) -> str:
        people = known.shelf("people")
        who = people.label(people.by_pk[one.person_id])
        local = one.at.astimezone(known.calendar.zone)
        deferral: Model | None = known.shelf("deferrals").by_pk.get(one.deferral_id)
        at_midday = (
            isinstance(deferral, Deferral) and local.date() == deferral.signed_on and local.time() == MIDDAY
        )
        return (
            f"{who} as {one.role}"
            if at_midday
            else f"{who} as {one.role} at {cells.write_moment(one.at, known.calendar.zone)}"
        )


def person_of(child: Any, name: str, known: Known) -> Person | None:
    found = known.shelf("people").by_pk.get(getattr(child, f"{name}_id"))
    return found if isinstance(found, Person) else None
