"""Pages: a compression set by every published rule, leak-down, the battery."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from maintenance.reckoning import battery, compression, leakdown
from maintenance.reckoning.compression import judge_by_every_rule, wet_test
from maintenance.reckoning.leakdown import HISSES, leak, orifice
from maintenance.reckoning.pages.base import (
    Given,
    Input,
    Keep,
    Line,
    Reckoning,
    Result,
    Row,
    Said,
    Trouble,
    judged,
    line,
)
from maintenance.units import convert, rounded

RULES = (
    "Lowest at least 75% of highest",
    "None 20% below average",
    "Spread at most 25 psi",
    "Least by altitude",
)
BATTERY_SOURCES = (
    "TM 5-3805-262-20 (12 V at rest); service manual (density by temperature); TM 9-6140-200-14 and "
    "TM 5-3805-281-24-2 (cells). Half for 6 V and double for 24 V: common practice"
)


def _compression(given: Given) -> Result:
    row: Row = given["set"]
    if len(row.values) < 2:
        raise Trouble("set", "At least two cylinders are needed: the rules compare them.")
    if max(row.values) <= 0:
        raise Trouble("set", "No cylinder has any compression: look at the tester first.")
    altitude = None if given["altitude"] is None else int(given["altitude"])
    verdicts = judge_by_every_rule(row.values, unit=row.unit, altitude_ft=altitude)
    said = [judged(name, one) for name, one in zip(RULES, verdicts, strict=False)]
    low, high = min(row.values), max(row.values)
    average = sum(row.values, Decimal(0)) / len(row.values)
    found = [
        line("Lowest of highest", Fraction(low) / Fraction(high) * 100, "%", 1),
        line("Lowest below average", (1 - Fraction(low) / Fraction(average)) * 100, "%", 1),
        line("Spread", high - low, row.unit, 2),
    ]
    flags = ["The rules disagree because they come from different manuals. The vehicle's own manual decides."]
    if altitude is not None:
        flags.append(
            "The least by altitude is that of one diesel engine at 600 rev/min: not for a petrol engine."
        )
    if given["wet"] is not None:
        dry = convert(low, row.unit, "bar")
        if given["wet"] < dry:
            flags.append("The wet reading is below the dry one: take both again.")
        else:
            wet = wet_test(_places(dry), _places(given["wet"]))
            said.append(Said(kind="unsure", head=f"Wet test: {wet.suspect}", detail=wet.sentence))
    keep = Keep(name="set", label="The set", unit=row.unit, values=tuple(Fraction(one) for one in row.values))
    return Result(
        lines=tuple(found), said=tuple(said), flags=tuple(flags), keeps=(keep,), draw=_bars(row.values)
    )


def _bars(values: Sequence[Decimal]) -> dict[str, Any]:
    """A bar for each cylinder, and the line of three quarters of the highest."""
    step, high = 296 // len(values), max(values)
    bars = [
        {
            "x": 14 + number * step,
            "w": max(2, step - 6),
            "h": int(130 * one / high),
            "y": 150 - int(130 * one / high),
            "mid": 14 + number * step + max(2, step - 6) // 2,
            "name": number + 1,
        }
        for number, one in enumerate(values)
    ]
    return {"bars": bars}


def _places(value: Fraction) -> Decimal:
    return rounded(value, 12)


def _leak(given: Given) -> Result:
    held, supply = given["held"], given["supply"]
    if held > supply:
        raise Trouble("held", "A cylinder holds no more than is supplied.")
    found = leak(held, supply, most=Decimal(str(float(given["most"]))), hisses=given["hisses"])
    loss = (supply - held) / supply * 100
    lines = [line("Lost", found.loss, "%", 1)]
    if found.look_at:
        lines.append(Line(label="Look at", value=found.look_at))
    if given["bore"] is not None:
        size = orifice(_places(given["bore"] / Fraction("25.4")))
        lines.append(line("Orifice of the tester for this bore", convert(size, "in", "mm"), "mm", 3))
    said = Said(
        kind="past" if found.suspect else "within",
        head="Suspect" if found.suspect else "Within what may be lost",
        detail=found.sentence,
    )
    return Result(
        lines=tuple(lines),
        said=(said,),
        keeps=(Keep(name="loss", label="Lost", unit="%", values=(loss,)),),
    )


def _battery(given: Given) -> Result:
    volts, cells, warm = given["volts"], given["cells"], given["temperature"]
    if volts is None and cells is None:
        raise Trouble("volts", "Give the volts at rest, or the density of the cells.")
    lines: list[Line] = []
    said: list[Said] = []
    keeps: list[Keep] = []
    flags: list[str] = []
    if volts is not None:
        full = battery.charge(volts, int(given["nominal"]))
        lines.append(line("Charge, from volts at rest", full, "%", 0))
        kind = "within" if full >= 75 else "near" if full >= 50 else "past"
        word = "Charged" if full >= 75 else "Half charged" if full >= 50 else "Flat or nearly so"
        said.append(Said(kind=kind, head=word, detail="75% and 50% are house figures, common practice."))
        keeps.append(Keep(name="volts", label="Volts at rest", unit="V", values=(volts,)))
        keeps.append(Keep(name="charge", label="Charge", unit="%", values=(Fraction(full),)))
    if cells is not None:
        if warm is None:
            flags.append("No temperature was given: the density stands as it was read.")
            brought = cells.values
        else:
            temperature = _places(warm)
            brought = tuple(battery.density_at_80f(one, temperature, "°C") for one in cells.values)
            lines += [
                line(f"Cell {number} at 80 °F (26.7 °C)", one, cells.unit, 3)
                for number, one in enumerate(brought, 1)
            ]
        if len(brought) > 1:
            said += [
                judged(f"Spread at most {limit.high}", one)
                for limit, one in zip(battery.CELL_SPREADS, battery.judge_cells(brought), strict=True)
            ]
        keeps.append(
            Keep(name="cells", label="Density", unit="kg/L", values=tuple(Fraction(one) for one in brought))
        )
    return Result(lines=tuple(lines), said=tuple(said), keeps=tuple(keeps), flags=tuple(flags))


PAGES = (
    Reckoning(
        slug="compression",
        name="A compression set",
        short="The same set by each published rule, side by side.",
        inputs=(
            Input(name="set", label="Cylinders in order", kind="row", unit="bar", low=0, help="Such as 8.1 8.0 7.2 7.9, or 445 440 405 435 psi. Warm, all plugs out, throttle open, six turns each.", system="ENG"),
            Input(name="altitude", label="Height above the sea", unit="ft", needed=False, low=0, help="Only for the diesel rule. Map; metres may be typed as 150 m."),
            Input(name="wet", label="Lowest cylinder again, with a spoon of oil", unit="bar", needed=False, low=0, help="Same tester, same six turns."),
        ),
        work=_compression,
        formula=(
            "lowest / highest ≥ 75%",
            "(average - lowest) / average ≤ 20%",
            "highest - lowest ≤ 25 psi, and a least by altitude",
        ),
        source="TM 5-4210-230-14&P-1; TM 1-1500-204-23-1; TM 5-3895-359-14&P",
        cautions=compression.CAUTIONS,
        drawing="bars",
        idle=_bars([Decimal(one) for one in ("8.1", "8.0", "7.2", "7.9")]),
    ),
    Reckoning(
        slug="leak-down",
        name="Leak-down",
        short="Air in at top dead centre: how much is lost, and where it hisses.",
        inputs=(
            Input(name="held", label="Pressure held", unit="bar", low=0, symbol="p", help="Second gauge of the tester, piston at top dead centre."),
            Input(name="supply", label="Pressure supplied", unit="bar", low=0, above=True, start="80 psi", symbol="P", help="First gauge; 80 psi is the published one."),
            Input(name="most", label="May be lost", unit="%", low=0, high=100, start="25", help="25% published; the engine's maker may allow another."),
            Input(name="hisses", label="Where it hisses", kind="choice", needed=False, choices=(("", "Not heard"), *((place, place.capitalize()) for place in HISSES)), help="Ear or hose at each place."),
            Input(name="bore", label="Bore", unit="mm", needed=False, low=0, above=True, help="Manual. Tells the orifice that the tester should have."),
        ),
        work=_leak,
        formula=("lost = (P - p) / P",),
        source="FAA AC 43.13-1B. Where it hisses: common practice",
        cautions=leakdown.CAUTIONS,
        drawing="leak",
    ),
    Reckoning(
        slug="battery",
        name="How full the battery is",
        short="From volts at rest, or from density brought to one temperature.",
        inputs=(
            Input(name="volts", label="Volts at rest", unit="V", needed=False, low=0, help="Meter on the posts, after some hours without load or charge.", system="ELE"),
            Input(name="nominal", label="Battery of", kind="choice", choices=(("6", "6 V"), ("12", "12 V"), ("24", "24 V, two in line")), start="12", help="Its label."),
            Input(name="cells", label="Density of the cells in order", kind="row", unit="kg/L", needed=False, low=0, help="Hydrometer, such as 1.262 1.260 1.255 1.258 1.261 1.259.", system="ELE"),
            Input(name="temperature", label="Temperature of the acid", unit="°C", needed=False, low=-40, high=80, help="Thermometer in a cell."),
        ),
        work=_battery,
        formula=("11.7 V 0% · 12.0 V 25% · 12.2 V 50% · 12.4 V 75% · 12.6 V 100%", "density at 80 °F = as read + 0.004 for each 10 °F above"),
        source=BATTERY_SOURCES,
        cautions=battery.CAUTIONS,
        drawing="battery",
    ),
)  # fmt: skip
