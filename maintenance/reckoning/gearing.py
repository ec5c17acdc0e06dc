"""Road speed from engine speed, ratios and tyre, and back. Geometry only."""

from __future__ import annotations

import math


def rolling(diameter_mm: float, squash: float = 0.0) -> float:
    """Rolling circumference in metres: pi x diameter, less the share by which a loaded tyre rolls shorter.

    Args:
        diameter_mm: unloaded diameter of the tyre, or of the sprocket's pitch circle.
        squash: 0 for steel and solid rubber; about .03 for an air-filled tyre (common practice: measure it
            by rolling one turn).

    Raises:
        ValueError: a diameter not above nought or a squash outside 0 to .2.
    """
    if not (diameter_mm > 0 and 0 <= squash <= 0.2):
        raise ValueError("A diameter above nought and a squash between 0 and .2.")
    return math.pi * diameter_mm / 1000 * (1 - squash)


def _overall(ratios: tuple[float, ...]) -> float:
    if not ratios or any(not ratio > 0 for ratio in ratios):
        raise ValueError("Ratios must be above nought.")
    return math.prod(ratios)


def speed_kmh(engine_rpm: float, circumference_m: float, *ratios: float) -> float:
    """Road speed: engine turns / product of the ratios x circumference x 60 / 1000.

    Args:
        engine_rpm: turns a minute, nought or more.
        circumference_m: rolling circumference, above nought.
        ratios: engine turns for one turn of the next shaft: gearbox, transfer box, axle ...

    Raises:
        ValueError: figures out of range or no ratio.
    """
    if not (engine_rpm >= 0 and circumference_m > 0):
        raise ValueError("Turns cannot be negative and the circumference must be above nought.")
    return engine_rpm / _overall(ratios) * circumference_m * 60 / 1000


def engine_rpm(speed: float, circumference_m: float, *ratios: float) -> float:
    """Engine turns a minute at a road speed in km/h: the reverse of ``speed_kmh``."""
    return speed / speed_kmh(1.0, circumference_m, *ratios)


def true_speed(shown: float, fitted_m: float, meant_m: float) -> float:
    """True speed when the tyre fitted rolls farther, or less far, than the one the instrument was made for."""
    if not (fitted_m > 0 and meant_m > 0):
        raise ValueError("Both circumferences must be above nought.")
    return shown * fitted_m / meant_m
