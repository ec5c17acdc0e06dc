"""A sheet to start from as its editor types it: rows to fields, and fields back to rows.

Chances are typed in percent. A row whose name is left empty is taken away; one more of each kind always stands empty.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from typing import Any

from maintenance.which_sheet import Kept, number, scaled

NEW_RESULTS = 2
KEYS = re.compile(r"[^a-z0-9]+")
Typed = Mapping[str, str]


def shown(chance: float) -> str:
    """A chance in percent as it is typed: no more figures than it has."""
    return f"{round(chance * 100, 6):g}"


def fresh_key(name: str, taken: set[str]) -> str:
    """A key for something new, after its name, that nothing else on the sheet has."""
    stem = KEYS.sub("-", name.casefold()).strip("-")[:30] or "new"
    key, count = stem, 2
    while key in taken:
        key, count = f"{stem}-{count}", count + 1
    taken.add(key)
    return key


def definition_of(kept: Kept, data: Typed) -> tuple[dict[str, Any], list[str]]:
    """The rows of the sheet as typed, and what could not be read.

    Args:
        kept: the sheet as it stands: keys, leans and hazard codes are not typed and stay.
        data: the fields of the page.
    """
    reader = _Reader(data, scale=data.get("scale") == "on")
    new = copy.deepcopy(dict(kept))
    new["name"] = data.get("name", "").strip() or kept["name"]
    new["source"] = data.get("source", "").strip()
    new["stop_at"] = reader.share("stop", "the chance at which to stop")
    new["cautions"] = reader.lines("cautions")
    if not 0 < new["stop_at"] < 1:
        reader.wrong.append("The chance at which to stop lies between 0 and 100%.")
        new["stop_at"] = kept.get("stop_at", 0.9)
    places = reader.causes(new)
    reader.set_ups(new)
    reader.tests(new, places)
    return new, reader.wrong


class _Reader:
    def __init__(self, data: Typed, *, scale: bool) -> None:
        self.data, self.scale, self.wrong = data, scale, list[str]()

    def text(self, name: str) -> str:
        return self.data.get(name, "").strip()

    def lines(self, name: str) -> list[str]:
        return [line.strip() for line in self.data.get(name, "").splitlines() if line.strip()]

    def figure(self, name: str, what: str) -> float | None:
        try:
            found = number(self.data.get(name, ""))
        except ValueError as trouble:
            self.wrong.append(f"{what}: {trouble}")
            return None
        return None if found is None else float(found)

    def share(self, name: str, what: str) -> float:
        return (self.figure(name, what) or 0.0) / 100

    def adjusted(self, chances: list[float], what: str) -> list[float]:
        """Scaled to add to 100% where that is asked for."""
        if not self.scale:
            return chances
        try:
            return scaled(chances)
        except ValueError as trouble:
            self.wrong.append(f"{what}: {trouble}")
            return chances

    def causes(self, new: dict[str, Any]) -> list[int | None]:
        """The causes; returns for each its old place, None for a new one."""
        old, taken = new["causes"], {one["key"] for one in new["causes"]}
        rows, places = list[dict[str, Any]](), list[int | None]()
        for place in range(len(old) + 1):
            name = self.text(f"c-{place}-name")
            if not name:
                continue
            key = old[place]["key"] if place < len(old) else fresh_key(name, taken)
            rows.append(
                {
                    "key": key, "name": name, "chance": self.share(f"c-{place}-chance", name),
                    "act": self.text(f"c-{place}-act"), "minutes": self.figure(f"c-{place}-minutes", name),
                    "part": self.text(f"c-{place}-part"),
                }
            )  # fmt: skip
            places.append(place if place < len(old) else None)
        chances = self.adjusted([one["chance"] for one in rows], "Chances of the causes")
        new["causes"] = [{**one, "chance": chance} for one, chance in zip(rows, chances, strict=True)]
        keys = {one["key"] for one in rows}
        new["leans"] = [lean for lean in new["leans"] if not lean.get("cause") or lean["cause"] in keys]
        return places

    def set_ups(self, new: dict[str, Any]) -> None:
        old, taken = new["set_ups"], {one["key"] for one in new["set_ups"]}
        rows = []
        for place in range(len(old) + 1):
            name = self.text(f"s-{place}-name")
            if name:
                key = old[place]["key"] if place < len(old) else fresh_key(name, taken)
                rows.append(
                    {"key": key, "name": name, "minutes": self.figure(f"s-{place}-minutes", name) or 0}
                )
        new["set_ups"] = rows

    def tests(self, new: dict[str, Any], places: list[int | None]) -> None:
        old, taken = new["tests"], {one["key"] for one in new["tests"]}
        rows = list[dict[str, Any]]()
        for place in range(len(old) + 1):
            name = self.text(f"t-{place}-name")
            if not name:
                continue
            was = old[place] if place < len(old) else None
            key = was["key"] if was else fresh_key(name, taken)
            rows.append(self.test(place, name, key, was, places))
        orders = [row.pop("order") for row in rows]
        rows = [row for _, row in sorted(zip(orders, rows, strict=True), key=lambda pair: pair[0])]
        left = {one["key"] for one in rows}
        for one in rows:
            one["needs"] = [need for need in one["needs"] if need in left]
        new["tests"] = rows
        new["leans"] = [lean for lean in new["leans"] if not lean.get("test") or lean["test"] in left]

    def test(
        self, place: int, name: str, key: str, was: Kept | None, places: list[int | None]
    ) -> dict[str, Any]:
        results = self.results(place, name, was, places)
        edge = was["edge"] if was else None
        names = {one["name"] for one in results}
        if edge and not {edge["within"], edge["past"]} <= names:
            self.wrong.append(
                f"{name}: its limit speaks of “{edge['within']}” and “{edge['past']}”; keep both results."
            )
        need = self.text(f"t-{place}-needs")
        return {
            "key": key, "name": name, "minutes": self.figure(f"t-{place}-minutes", name) or 0,
            "set_up": self.text(f"t-{place}-set_up"), "needs": [need] if need else [],
            "cautions": self.lines(f"t-{place}-cautions"), "hazards": list(was["hazards"]) if was else [],
            "results": results, "edge": edge, "order": self.figure(f"t-{place}-order", name) or place + 1,
        }  # fmt: skip

    def results(
        self, place: int, test: str, was: Kept | None, places: list[int | None]
    ) -> list[dict[str, Any]]:
        count = len(was["results"]) + 1 if was else NEW_RESULTS + 1
        found = list[dict[str, Any]]()
        for row in range(count):
            name = self.text(f"t-{place}-r-{row}-name")
            if not name:
                continue
            chances = [
                self.share(f"t-{place}-r-{row}-c-{old}", f"{test}, {name}") if old is not None else 0.0
                for old in places
            ]
            found.append(
                {
                    "name": name, "chances": chances, "says": self.text(f"t-{place}-r-{row}-says"),
                    "stops": self.data.get(f"t-{place}-r-{row}-stops") == "on",
                }
            )  # fmt: skip
        for spot, old in enumerate(places):
            column = [one["chances"][spot] for one in found]
            if old is None and found:  # a new cause: every result alike, until somebody says more
                column = [1 / len(found)] * len(found)
            elif found:
                column = self.adjusted(column, test)
            for one, chance in zip(found, column, strict=True):
                one["chances"][spot] = chance
        return found
