"""What the shipped sheets know beyond causes and tests: hazard codes, number edges, facts that they lean on.

Edges follow the words of the sheets' own results. All is common practice unless a source is named.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from maintenance.fault_sheet import Sheet
from maintenance.sheets import SHEETS, cautions
from maintenance.which_sheet import kept_of

# A caution of the sheets stands for a hazard sheet of the house, which says more.
HAZARD_OF: Mapping[str, str] = {
    cautions.TURNING: "H1",
    cautions.VAPOUR: "H3",
    cautions.LIVE_SPARK: "H4",
    cautions.HOT: "H5",
    cautions.GAS: "H6",
    cautions.BATTERY: "H7",
    cautions.LIFTED: "H8",
    cautions.DUST: "H9",
    cautions.AIR: "H10",
    cautions.TRACK: "H12",
    cautions.JET: "H15",
}
SPLIT_RIM = "Split rims burst"


def _edge(asks: str, unit: str, within: str, past: str, *, measure: str, **limit: str) -> dict[str, Any]:
    """`measure`: words in the name of a reading that may be taken for this test."""
    return {
        "asks": asks,
        "measure": measure,
        "unit": unit,
        "within": within,
        "past": past,
        "limit": {"unit": unit, "source": "this sheet, common practice", **limit},
    }


EDGES: Mapping[str, Mapping[str, Mapping[str, Any]]] = {
    "brakes-pull": {
        "T7": _edge(
            "Difference of the two bores",
            "mm",
            "alike within 0.5 mm",
            "more than 0.5 mm apart",
            measure="drum bore",
            kind="max",
            high="0.5",
        )
    },
    "hard-hot-start": {
        "volts": _edge(
            "Volts while cranking, 12 V battery",
            "V",
            "holds",
            "below 9.6 V, or 4.8 V of 6",
            measure="cranking",
            kind="min",
            low="9.6",
        )
    },
    "charging": {
        "drop": _edge(
            "Volts lost, both wires together",
            "V",
            "little",
            "more than 0.5 V",
            measure="volts lost",
            kind="max",
            high="0.5",
        )
    },
    "low-oil-pressure": {
        "gauge": _edge(
            "Test gauge at hot idle",
            "bar",
            "pressure is good",
            "low too",
            measure="oil pressure",
            kind="min",
            low="0.7",
        )
    },
    "brake-air-loss": {
        "off": _edge(
            "Fall of air in three minutes",
            "bar",
            "holds",
            "falls",
            measure="fall in 3",
            kind="max",
            high="0.3",
        )
    },
    # At or above 3 is the bad side here: the limit is met from above.
    "track-pulls": {
        "pins": _edge(
            "Stretch over new, worse side",
            "%",
            "3% or more over new",
            "within",
            measure="over 10 links",
            kind="min",
            low="3",
        )
    },
}
# Minutes to check and cure each cause, where no set-up is shared and no test needs another. Common practice.
REPAIR: Mapping[str, Mapping[str, float]] = {
    "charging": {"belt": 15, "joint": 40, "brush": 60, "field": 90, "regulator": 45, "battery": 20},
    "hard-hot-start": {"boil": 40, "percolate": 60, "coil": 30, "float": 50, "starter": 90, "air": 45},
    "brake-air-loss": {"supply": 90, "joint": 40, "valve": 75, "chamber": 80, "tank": 45, "gauge": 20},
}
LEANS: Mapping[str, list[dict[str, Any]]] = {
    "brakes-pull": [
        {
            "about": "drum",
            "value": "position",
            "cause": "C5",
            "chance": 0.005,
            "why": "The marks on the drum are held to mean its place, so its bore is taken as standard.",
        }
    ],
    "low-oil-pressure": [
        {"about": "dipstick", "value": "", "test": "dip", "why": "The level is read by these lines."}
    ],
    "brake-air-loss": [
        {"about": "brake gauge", "value": "", "test": "off", "why": "The fall is read on this gauge."}
    ],
    "overheating": [
        {
            "about": "temperature gauge",
            "value": "",
            "test": "probe",
            "why": "The gauge is judged by what is held of it.",
        }
    ],
}


def _hazards(sheet: Sheet) -> dict[str, list[str]]:
    found = {}
    for test in sheet.tests:
        codes = [HAZARD_OF[line] for line in test.cautions if line in HAZARD_OF]
        codes += ["H11" for line in test.cautions if SPLIT_RIM in line]
        found[test.key] = codes
    return found


def shipped(key: str) -> dict[str, Any]:
    """The kept rows of one shipped sheet, with its hazard codes, edges and leans.

    Raises:
        KeyError: no such sheet.
    """
    sheet = SHEETS[key]
    extras = {
        "hazards": _hazards(sheet),
        "edges": {k: dict(edge) for k, edge in EDGES.get(key, {}).items()},
        "leans": LEANS.get(key, []),
    }
    kept = kept_of(sheet, extras)
    for cause in kept["causes"]:
        cause["minutes"] = REPAIR.get(key, {}).get(cause["key"], cause["minutes"])
    for test in kept["tests"]:
        test["cautions"] = [
            line for line in test["cautions"] if line not in HAZARD_OF and SPLIT_RIM not in line
        ]
    return kept
