"""Pages: which cylinder fires when, which plugs each magneto fires, how fast a magneto turns."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

from maintenance.reckoning.ignition import (
    CAUTIONS,
    FIRING_ORDERS,
    firing_interval,
    leads,
    magneto_ratio,
    plugs_by_magneto,
)
from maintenance.reckoning.pages.base import Given, Input, Reckoning, Result, Table, Trouble, line, text
from maintenance.units import rounded

STROKES = Input(
    name="strokes", label="Strokes", kind="choice", choices=(("4", "Four"), ("2", "Two")), start="4"
)
CYLINDERS = Input(
    name="cylinders",
    label="Cylinders",
    kind="whole",
    symbol="n",
    help="Count the plugs, or read the plate.",
)


def _dashed(order: tuple[int, ...]) -> str:
    return "-".join(str(one) for one in order)


def _published(cylinders: int) -> list[str]:
    """The published orders of engines with so many cylinders."""
    return [
        f"{kind}: {' or '.join(_dashed(one) for one in orders)}"
        for kind, orders in FIRING_ORDERS.items()
        if kind.split()[0] == str(cylinders)
    ]


def _posts(order: tuple[int, ...], *, blank: bool = False) -> dict[str, Any]:
    """Where the posts stand on the drawing's cap, clockwise from the top; unnamed while no order is known."""
    posts = []
    for place, cylinder in enumerate(order):
        slope = 2 * math.pi * place / len(order)
        posts.append(
            {
                "x": f"{160 + 62 * math.sin(slope):.1f}",
                "y": f"{90 - 62 * math.cos(slope):.1f}",
                "name": "" if blank else cylinder,
            }
        )
    return {"posts": posts}


def _firing(given: Given) -> Result:
    cylinders, strokes = given["cylinders"], int(given["strokes"])
    step = firing_interval(cylinders, strokes)
    found = [line("A spark every, crank", step, "°", 2), line("At a half-speed rotor", step / 2, "°", 2)]
    flags = [
        "Even throws are taken for granted: an engine with uneven throws fires unevenly about this mean."
    ]
    order = given["order"]
    if order is None:
        known = _published(cylinders)
        flags += [f"Published for {one} (FAA-H-8083-32). The maker's plate decides." for one in known]
        return Result(
            lines=tuple(found), flags=tuple(flags), draw=_posts(tuple(range(1, cylinders + 1)), blank=True)
        )
    if len(order) != cylinders:
        raise Trouble("order", f"{len(order)} cylinders are in the order, {cylinders} are asked for.")
    try:
        rows = leads(order, strokes)
    except ValueError as trouble:
        raise Trouble("order", str(trouble)) from trouble
    table = Table(
        heads=("Post, as the rotor passes them", "Lead goes to cylinder", "Crank degrees after the first"),
        rows=tuple((str(one.post), str(one.cylinder), f"{rounded(one.degrees, 2)}°") for one in rows),
    )
    return Result(
        lines=tuple(found),
        flags=tuple(flags),
        table=table,
        draw=_posts(order),
    )


LAYOUTS = (
    ("radial", "Radial"),
    ("opposed, top and bottom", "Opposed, one magneto all tops"),
    ("opposed, crossed", "Opposed, crossed"),
)


def _plugs(given: Given) -> Result:
    rows = plugs_by_magneto(given["layout"], given["cylinders"])
    return Result(
        table=Table(
            heads=("Cylinder", "Left magneto", "Right magneto"),
            rows=tuple((str(one.cylinder), one.left, one.right) for one in rows),
        ),
        flags=(
            "A starting point only: makers differ. The vehicle's own wiring diagram decides; prove it by "
            "switching one magneto off and feeling which plugs stay cold.",
        ),
    )


def _magneto(given: Given) -> Result:
    cylinders, sparks, strokes = given["cylinders"], given["sparks"], int(given["strokes"])
    ratio = magneto_ratio(cylinders, sparks, strokes)
    found = [
        line("Turns of the magneto for one of the crank", ratio, "", 4),
        line("Degrees of the magneto between sparks", Fraction(360, sparks), "°", 2),
        line("Crank degrees between sparks", firing_interval(cylinders, strokes), "°", 2),
    ]
    speed = given["speed"]
    if speed is not None:
        found.insert(1, line("Magneto speed", speed * ratio, "rev/min", 0))
        found.append(line("Sparks a minute", speed * ratio * sparks, "", 0))
    turns = given["turns"]
    if turns is not None:
        found.append(line(f"Turns of the magneto for {text(turns, 2)} of the crank", turns * ratio, "", 3))
    return Result(lines=tuple(found))


PAGES = (
    Reckoning(
        slug="firing-order",
        name="Which cylinder fires when",
        short="Degrees between sparks, and which lead goes to which post.",
        inputs=(
            CYLINDERS,
            STROKES,
            Input(
                name="order",
                label="Firing order",
                kind="order",
                needed=False,
                help="From the engine's plate or manual, such as 1 5 3 6 2 4. Left empty, the published ones are shown.",
            ),
        ),
        work=_firing,
        formula=("interval = 720° / n with four strokes", "interval = 360° / n with two"),
        source="FAA-H-8083-32",
        cautions=CAUTIONS,
        drawing="posts",
        idle=_posts((1, 5, 3, 6, 2, 4)),
    ),
    Reckoning(
        slug="plugs",
        name="Which plugs each magneto fires",
        short="Two plugs a cylinder: which of them belong to the left and the right magneto.",
        inputs=(
            Input(name="layout", label="Engine", kind="choice", choices=LAYOUTS, start="radial"),
            CYLINDERS,
        ),
        work=_plugs,
        formula=("radial: right magneto the front plugs, left the rear plugs",),
        source="Radial: FAA-H-8083-32. Opposed: common practice",
        cautions=CAUTIONS,
        drawing="plugs",
    ),
    Reckoning(
        slug="magneto",
        name="How fast the magneto turns",
        short="Ratio to the crank, speed, and turns for turns.",
        inputs=(
            CYLINDERS,
            Input(
                name="sparks",
                label="Sparks for one turn of the magneto",
                kind="whole",
                symbol="s",
                help="Lobes on its cam, or from its plate.",
            ),
            STROKES,
            Input(
                name="speed",
                label="Engine speed",
                unit="rev/min",
                needed=False,
                low=0,
                help="Tachometer, or the speed asked for.",
            ),
            Input(name="turns", label="Turns of the crank", needed=False, low=0, help="As counted by hand."),
        ),
        work=_magneto,
        formula=("turns = n / (2 s) with four strokes", "turns = n / s with two"),
        source="FAA-H-8083-32",
        cautions=CAUTIONS,
        drawing="magneto",
    ),
)
