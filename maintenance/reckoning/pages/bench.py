"""Pages: oil in fuel, coolant to strength, torque with a longer spanner, units."""

from __future__ import annotations

from fractions import Fraction

from maintenance.reckoning import mixing, torque
from maintenance.reckoning.mixing import oil_for, strengthen
from maintenance.reckoning.pages.base import (
    Given,
    Input,
    Keep,
    Line,
    Reckoning,
    Result,
    Trouble,
    frac,
    line,
    text,
)
from maintenance.typed import exact_in, parted
from maintenance.units import UNITS, rounded, unit


def _oil(given: Given) -> Result:
    oil = oil_for(given["fuel"], given["parts"])
    return Result(
        lines=(
            line("Oil", oil * 1000, "mL", 0),
            line("Oil, in pints", oil * 1000 / Fraction("568.26125"), "pt", 2),
            line("Mixture in all", oil + given["fuel"], "L", 2),
        ),
    )


def _coolant(given: Given) -> Result:
    for name in ("now", "wanted", "fill"):
        if not 0 <= given[name] <= 100:
            raise Trouble(name, "A strength lies between 0 and 100%.")
    try:
        found = strengthen(given["volume"], given["now"], given["wanted"], given["fill"])
    except ValueError as trouble:
        raise Trouble("wanted", str(trouble)) from trouble
    return Result(lines=(line("Drain", found.drain, "L", 2), line("Fill in its place", found.fill, "L", 2)))


def _torque(given: Given) -> Result:
    wanted, spanner, more, bent = (float(given[name]) for name in ("wanted", "spanner", "extension", "angle"))
    try:
        shown = torque.setting(wanted, spanner, more, bent)
    except ValueError as trouble:
        raise Trouble("extension", str(trouble)) from trouble
    nut = torque.at_the_nut(wanted, spanner, more, bent)
    return Result(
        lines=(
            line("Set the wrench to", shown, "Nm", 1),
            line("Set to the figure itself, the nut would get", nut, "Nm", 1),
        ),
        keeps=(Keep(name="torque", label="At the nut", unit="Nm", values=(given["wanted"],)),),
        draw={"turn": text(-bent, 1)},
        flags=() if shown <= wanted * 1.0001 else ("Folded back, the wrench must be set higher.",),
    )


def _units(given: Given) -> Result:
    _, named = parted(given["figure"])
    if not named:
        raise Trouble("figure", "Write the unit behind the figure, such as 35 psi.")
    try:
        quantity = unit(named).quantity
    except ValueError as trouble:
        raise Trouble("figure", str(trouble)) from trouble
    others = [one.symbol for one in UNITS.values() if one.quantity == quantity and one.symbol != named]
    lines = [
        Line(label=symbol, value=_sensible(exact_in(given["figure"], symbol)), unit=symbol)
        for symbol in others
    ]
    if not lines:
        raise Trouble("figure", f"{named} is the only unit of {quantity} here.")
    return Result(lines=tuple(lines))


def _sensible(value: Fraction) -> str:
    """Five figures, however large or small."""
    places, size = 0, abs(value)
    while size and size < 10000 and places < 9:
        size, places = size * 10, places + 1
    return format(rounded(frac(value), places), "f")


PAGES = (
    Reckoning(
        slug="oil-in-fuel",
        name="Oil in fuel",
        short="Oil for so much fuel at one part in so many.",
        inputs=(
            Input(name="fuel", label="Fuel", unit="L", low=0, above=True, symbol="V", help="Can or dipstick; gal may be typed."),
            Input(name="parts", label="One part of oil in so many of fuel", low=0, above=True, start="25", symbol="n", help="The engine's plate or manual."),
        ),
        work=_oil,
        formula=("oil = V / n",),
        source="Arithmetic",
        cautions=("WARNING. Petrol vapour lies low and travels: outdoors, no flame, can earthed on the ground.", *mixing.CAUTIONS),
        drawing="can",
    ),
    Reckoning(
        slug="coolant",
        name="Coolant to strength",
        short="How much of a full system to drain and to fill in its place.",
        inputs=(
            Input(name="volume", label="The whole system", unit="L", low=0, above=True, symbol="V", help="Manual, or drained and measured."),
            Input(name="now", label="Strength now", unit="%", low=0, high=100, symbol="a", help="Refractometer or hydrometer."),
            Input(name="wanted", label="Strength wanted", unit="%", low=0, high=100, symbol="b", help="The can's table for the coldest night."),
            Input(name="fill", label="Strength of what goes in", unit="%", low=0, high=100, start="100", symbol="c", help="100 neat, 0 water."),
        ),
        work=_coolant,
        formula=("drain and fill = V (b - a) / (c - a)",),
        source="Arithmetic",
        cautions=("WARNING. Never open a hot pressurised cap. Antifreeze is poison: no open pan near animals.", *mixing.CAUTIONS),
        drawing="exchange",
    ),
    Reckoning(
        slug="torque",
        name="Torque with a longer spanner",
        short="What to set on the wrench with an extension on its head.",
        inputs=(
            Input(name="wanted", label="Torque wanted at the nut", unit="Nm", low=0, above=True, symbol="T", help="The vehicle's manual; lbf ft may be typed."),
            Input(name="spanner", label="Wrench, square drive to mid grip", unit="mm", low=0, above=True, symbol="L", help="Rule."),
            Input(name="extension", label="Extension, square drive to nut", unit="mm", low=0, symbol="E", help="Rule, centre to centre."),
            Input(name="angle", label="Angle of the extension", unit="°", low=0, high=180, start="0", symbol="a", help="0 straight ahead, 90 square, 180 folded back."),
        ),
        work=_torque,
        formula=("set = T L / (L + E cos a)",),
        source="Lever arithmetic",
        cautions=torque.CAUTIONS,
        drawing="spanner",
        idle={"turn": "-30"},
    ),
    Reckoning(
        slug="units",
        name="Units",
        short="One figure in every unit of its kind.",
        inputs=(
            Input(name="figure", label="Figure with its unit", kind="words", help="Such as 35 psi, 12 thou, 40 lbf ft, 3 gal, 86 °F. From gauge, plate or manual."),
        ),
        work=_units,
        formula=("inch 25.4 mm · pound 0.45359237 kg · gallon 4.54609 L, exact",),
        source="International yard and pound agreement 1959; UK Units of Measurement Regulations 1995",
        drawing="rule",
    ),
)  # fmt: skip
