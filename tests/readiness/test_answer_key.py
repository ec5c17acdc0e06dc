"""The demo museum at T-35 08:00, judged vehicle by vehicle and entry by entry against its hand-made answer key.

The key was written by a person who knows the trade before any of this code existed; nothing in the code knows it.
"""

from __future__ import annotations

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from readiness.demo.build import build_demo
from readiness.models import Event
from readiness.services import assessing

pytestmark = pytest.mark.django_db

SATURDAY = dt.date(2027, 6, 12)
AT = dt.datetime.combine(SATURDAY - dt.timedelta(days=35), dt.time(8), ZoneInfo("Europe/London"))
OPEN = ("Likely", "Doubtful", "Unlikely")
SAT, SUN = SATURDAY.isoformat(), (SATURDAY + dt.timedelta(days=1)).isoformat()

# vehicle, slots, days, standings allowed, flags of the slot wanted
KEY = [
    ("V01", "S6", [SAT], OPEN, {"time clash"}),
    ("V01", "S7", [SUN], OPEN, {"time clash"}),
    ("V01", "S8", [SAT, SUN], OPEN, {"time clash"}),
    ("V02", "S3", [SAT, SUN], ("Fit with limits",), {"crew short"}),
    ("V03", "S3", [SAT, SUN], ("Fit with limits",), {"crew short"}),
    ("V04", "S6", [SAT], OPEN, {"crew short"}),
    ("V04", "S7", [SUN], OPEN, {"crew short"}),
    ("V04", "S8", [SAT, SUN], OPEN, {"crew short"}),
    ("V05", "S1", [SAT], ("Fit with limits",), set()),
    ("V05", "S2", [SAT], ("Fit with limits",), set()),
    ("V05", "S1", [SUN], ("Unlikely",), set()),
    ("V05", "S2", [SUN], ("Unlikely",), set()),
    ("V06", "S5", [SAT, SUN], OPEN, set()),
    ("V06", "S8", [SAT, SUN], OPEN, set()),
    ("V06", "S12", [SAT], ("Barred",), set()),
    ("V07", "S1", [SAT, SUN], ("Fit with limits",), set()),
    ("V08", "S9", [SAT, SUN], OPEN, set()),
    ("V08", "S12", [SAT], OPEN, set()),
    ("V09", "S9", [SAT, SUN], ("Unlikely",), {"crew short"}),
    ("V10", "S2", [SAT, SUN], ("Fit",), set()),
    ("V10", "S4", [SAT, SUN], ("Fit",), set()),
    ("V10", "S8", [SAT, SUN], ("Fit",), {"crew short"}),
    ("V11", "S3", [SAT, SUN], ("Fit with limits",), {"crew short"}),
    ("V11", "S4", [SAT], ("Fit with limits",), {"crew short"}),
    ("V11", "S4", [SUN], ("Unlikely",), {"crew short"}),
    ("V12", "S6", [SAT], OPEN, set()),
    ("V12", "S7", [SUN], OPEN, set()),
    ("V12", "S8", [SAT, SUN], OPEN, set()),
    ("V12", "S12", [SAT], OPEN, set()),
    ("V13", "S11", [SAT, SUN], ("Unlikely",), {"time clash"}),
    ("V14", "S11", [SAT, SUN], ("Unlikely", "Doubtful", "Not judged"), {"crew short"}),
    ("V15", "S6", [SAT], OPEN, {"time clash"}),
    ("V15", "S7", [SUN], OPEN, {"time clash"}),
    ("V15", "S8", [SAT, SUN], OPEN, {"time clash"}),
    ("V16", "S10", [SAT, SUN], OPEN, {"time clash"}),
    ("V18", "S1", [SAT, SUN], ("Fit with limits",), set()),
]


@pytest.fixture(scope="module")
def result(django_db_setup: None, django_db_blocker: Any) -> Any:
    from django.db import transaction

    with django_db_blocker.unblock():
        outer = transaction.atomic()
        outer.__enter__()
        try:
            build_demo(saturday=SATURDAY)
            yield assessing.assess_event(Event.objects.get(), at=AT)
        finally:
            transaction.set_rollback(True)
            outer.__exit__(None, None, None)


def entry(result: dict[str, Any], vehicle: str, slot: str, day: str) -> dict[str, Any]:
    return next(e for e in result["entries"] if (e["vehicle"], e["slot"], e["day"]) == (vehicle, slot, day))


@pytest.mark.parametrize(("vehicle", "slot", "days", "standings", "flags"), KEY)
def test_answer_key(
    result: dict[str, Any],
    vehicle: str,
    slot: str,
    days: list[str],
    standings: tuple[str, ...],
    flags: set[str],
) -> None:
    for day in days:
        found = entry(result, vehicle, slot, day)
        assert found["word"] in standings, (
            found["word"],
            found["percent"],
            [r["words"] for r in found["reasons"]],
        )
        assert flags <= set(found["flags"]), found["flag_details"]


def test_the_key_covers_every_entry(result: dict[str, Any]) -> None:
    keyed = {(v, s, d) for v, s, days, _, _ in KEY for d in days}
    assert {(e["vehicle"], e["slot"], e["day"]) for e in result["entries"]} == keyed


def test_nobody_else_is_called_short_or_clashing(result: dict[str, Any]) -> None:
    """P04 on V01/V15; P03 on V09/V12; P06 on V16, V11, pump crew, V13; P08 on V10/V15; P10 on V05, V02, V04, V14; commanders; drivers."""
    clashing = {
        (f["person"], e["vehicle"])
        for e in result["entries"]
        for f in e["flag_details"]
        if f["code"] == "crew-clash"
    }
    assert clashing == {
        ("P04", "V01"), ("P04", "V15"), ("P03", "V09"), ("P03", "V12"), ("P06", "V16"), ("P06", "V11"), ("P06", "V13"), ("P06", "V06"),
        ("P08", "V10"), ("P08", "V15"), ("P10", "V05"), ("P10", "V02"), ("P10", "V04"), ("P10", "V14"),
    }  # fmt: skip
    short = {(e["vehicle"], e["slot"]) for e in result["entries"] if "crew short" in e["flags"]}
    for vehicle in ("V05", "V06", "V07", "V08", "V12", "V16", "V18"):
        assert not {s for v, s in short if v == vehicle}


def codes(found: dict[str, Any]) -> set[str]:
    return {r["code"] for r in found["reasons"]}


def test_reasons_in_the_key(result: dict[str, Any]) -> None:
    bramble = entry(result, "V01", "S6", SAT)
    assert {"tag-do-not-run", "function-lost", "function-reduced", "inspection-to-repeat"} <= codes(bramble)
    assert {"J01", "J02", "J03", "inspection:I01"} <= set(bramble["needs"])
    driver = next(f for f in bramble["flag_details"] if f["code"] == "crew-clash")
    assert "Wilmot Tarle" in driver["act"]  # current on it, and free
    cormorant = entry(result, "V05", "S1", SUN)
    lapsed = next(r for r in cormorant["reasons"] if r["code"] == "deferral-ended")
    assert (cormorant["percent"], lapsed["act"]) == (0, "renew the deferral, or finish the card")
    assert "limit-forbids-slot" in codes(entry(result, "V06", "S12", SAT))
    plodder = entry(result, "V11", "S4", SUN)
    oil = next(r for r in plodder["reasons"] if r["code"] == "inspection-lapsed")
    assert (oil["subject"]["id"], oil["clears"]) == ("I11", ["J32"])
    hemlock = entry(result, "V13", "S11", SAT)
    assert "part-not-ordered" in codes(hemlock)
    porter = {day: entry(result, "V16", "S10", day) for day in (SAT, SUN)}
    assert "inspection-to-repeat" in codes(porter[SAT])
    assert "inspection-lapsed" in codes(porter[SUN])
    assert all("J43" in porter[d]["needs"] for d in porter)
    wren = entry(result, "V04", "S6", SAT)
    assert {"J13", "J14", "J15", "inspection:I04"} <= set(wren["needs"])
    matron = entry(result, "V18", "S1", SAT)
    assert "consent-outstanding" not in codes(matron)


def test_moorhen_is_stood_down_on_the_rail(result: dict[str, Any]) -> None:
    row = next(v for v in result["vehicles"] if v["vehicle"] == "V17")
    assert (row["word"], row["entry"]) == ("Stood down", "")


def test_no_chance_is_shown_for_fit(result: dict[str, Any]) -> None:
    for e in result["entries"]:
        assert (e["percent"] is None) == (
            e["word"] in {"Fit", "Fit with limits", "Barred", "Stood down"} or not e["gates_open"]
        )
