"""Pages: track sag and stretch, gear and speed."""

from __future__ import annotations

from maintenance.reckoning import tracks
from maintenance.reckoning.gearing import engine_rpm, rolling, speed_kmh
from maintenance.reckoning.pages.base import (
    Given,
    Input,
    Keep,
    Reckoning,
    Result,
    Trouble,
    frac,
    judged,
    line,
)
from maintenance.units import rounded

TYPED = "The figures that were typed"


def _sag(given: Given) -> Result:
    left, right = (rounded(given[side], 6) for side in ("left", "right"))
    low, high = given["low"], given["high"]
    if high < low:
        raise Trouble("high", "The most is below the least.")
    verdicts = tracks.judge_sag(
        left,
        right,
        low=rounded(low, 6),
        high=rounded(high, 6),
        apart=rounded(given["apart"], 6),
        source=TYPED,
    )
    lines = [line("Between the two sides", abs(left - right), "mm", 1)]
    if given["span"] is not None:
        span = float(given["span"])
        try:
            lines += [
                line(
                    f"Slack of the {side} track in that span", tracks.slack(span, float(given[side])), "mm", 1
                )
                for side in ("left", "right")
            ]
        except ValueError as trouble:
            raise Trouble("span", str(trouble)) from trouble
    pair = (given["left"], given["right"])
    return Result(
        lines=tuple(lines),
        said=(judged("Sag", verdicts[0]), judged("Both sides alike", verdicts[1])),
        keeps=(Keep(name="sag", label="Sag, left and right", unit="mm", values=pair),),
        flags=(
            "Coast to a stop without the brake, on level ground, and measure at the point that the manual names.",
        ),
    )


def _stretch(given: Given) -> Result:
    length, new = rounded(given["length"], 6), rounded(given["new"], 6)
    share = (given["length"] - given["new"]) / given["new"] * 100
    verdict = tracks.judge_stretch(length, new, most=rounded(given["most"], 6), source=TYPED)
    return Result(
        lines=(line("Longer than new", share, "%", 1),),
        said=(judged("Pins and bushes", verdict),),
        keeps=(
            Keep(name="length", label="Length", unit="mm", values=(given["length"],)),
            Keep(name="stretch", label="Longer than new", unit="%", values=(share,)),
        ),
    )


def _gear(given: Given) -> Result:
    turns, speed = given["turns"], given["speed"]
    if (turns is None) == (speed is None):
        raise Trouble("speed", "Give the engine speed or the road speed, and the other is worked out.")
    circle = rolling(float(given["tyre"]), float(given["squash"]) / 100)
    ratios = tuple(float(given[name]) for name in ("gear", "transfer", "axle"))
    overall = ratios[0] * ratios[1] * ratios[2]
    lines = [
        line("Rolls in one turn", circle, "m", 3),
        line("Engine turns for one of the wheel", overall, "", 2),
    ]
    if turns is not None:
        road = speed_kmh(float(turns), circle, *ratios)
        lines.insert(0, line("Road speed", road, "km/h", 1))
        keep = Keep(name="speed", label="Road speed", unit="km/h", values=(frac(road),))
    else:
        engine = engine_rpm(float(speed), circle, *ratios) if speed else 0.0
        lines.insert(0, line("Engine speed", engine, "rev/min", 0))
        keep = Keep(name="turns", label="Engine speed", unit="rev/min", values=(frac(engine),))
    return Result(lines=tuple(lines), keeps=(keep,))


PAGES = (
    Reckoning(
        slug="track-sag",
        name="Track sag",
        short="Both sides against the manual and against each other, and the slack behind it.",
        inputs=(
            Input(name="left", label="Sag, left", unit="mm", low=0, symbol="s", help="Straight edge over the run, rule down to the track.", system="TRK"),
            Input(name="right", label="Sag, right", unit="mm", low=0, help="The same, as seated facing forward."),
            Input(name="low", label="Least", unit="mm", low=0, help="The vehicle's manual."),
            Input(name="high", label="Most", unit="mm", low=0, help="The vehicle's manual."),
            Input(name="apart", label="Sides may differ by", unit="mm", low=0, start="10", help="The manual; 10 mm is a house figure."),
            Input(name="span", label="Span between the two supports", unit="mm", needed=False, low=0, above=True, symbol="W", help="Tape. Tells how much longer than straight the run is."),
        ),
        work=_sag,
        formula=("slack = 8 s² / (3 W), for a shallow sag",),
        source="The manual's range; the slack: geometry of a parabola",
        cautions=tracks.CAUTIONS,
        drawing="sag",
    ),
    Reckoning(
        slug="track-stretch",
        name="Track stretch",
        short="How far pins and bushes are worn, from the length over some links.",
        inputs=(
            Input(name="length", label="Length over the links, pulled tight", unit="mm", low=0, above=True, help="Tape over ten links, pin to pin."),
            Input(name="new", label="Length when new", unit="mm", low=0, above=True, help="Pitch from the manual, times the links."),
            Input(name="most", label="May be longer by", unit="%", low=0, start="3", help="The manual; 3% is a house figure."),
        ),
        work=_stretch,
        formula=("stretch = (length - new) / new",),
        source="3%: house figure, common practice",
        cautions=tracks.CAUTIONS,
        drawing="links",
    ),
    Reckoning(
        slug="gear",
        name="Gear and speed",
        short="Road speed from engine speed, gears and tyre, and back.",
        inputs=(
            Input(name="turns", label="Engine speed", unit="rev/min", needed=False, low=0, help="Give this or the road speed."),
            Input(name="speed", label="Road speed", unit="km/h", needed=False, low=0, help="mph may be typed."),
            Input(name="tyre", label="Diameter of tyre or sprocket circle", unit="mm", low=0, above=True, symbol="D", help="Tape, wheel off the ground; or the tyre maker's table."),
            Input(name="squash", label="Rolls shorter by", unit="%", low=0, high=20, start="3", help="0 for steel and solid rubber, about 3 for an air-filled tyre (common practice): roll one turn and measure."),
            Input(name="gear", label="Gearbox, turns in for one out", low=0, above=True, start="1", help="Manual or plate."),
            Input(name="transfer", label="Transfer box", low=0, above=True, start="1"),
            Input(name="axle", label="Axle or final drive", low=0, above=True, help="Manual, or teeth of crown wheel over teeth of pinion."),
        ),
        work=_gear,
        formula=("speed = engine turns / (gear × transfer × axle) × π D (1 - squash)",),
        source="Geometry",
        drawing="wheel",
    ),
)  # fmt: skip
