"""Torque with an extension on the spanner's head. Lever arithmetic; lengths from the centre of the grip."""

from __future__ import annotations

import math

CAUTIONS = (
    "CAUTION. A dry figure on an oiled thread overtightens it. Use the figure for the thread as it is.",
)


def setting(wanted: float, spanner: float, extension: float, degrees: float = 0.0) -> float:
    """What to set on the wrench so that the nut gets ``wanted``.

    wanted x L / (L + E cos(angle)): an extension straight ahead asks for less, one folded back for more, one
    square to the spanner changes nothing.

    Args:
        wanted: torque at the nut.
        spanner: L, square drive to the middle of the grip.
        extension: E, square drive to the nut.
        degrees: angle between extension and the line of the spanner; 0 is straight ahead.

    Returns:
        The setting, in the unit of ``wanted``.

    Raises:
        ValueError: figures out of range, or an extension folded back as far as the grip.
    """
    if not (wanted > 0 and spanner > 0 and extension >= 0 and math.isfinite(wanted + spanner + extension)):
        raise ValueError("Torque and spanner must be above nought, the extension nought or more.")
    arm = spanner + extension * math.cos(math.radians(degrees))
    if arm <= 1e-9 * spanner:
        raise ValueError("The extension is folded back to the grip: no torque reaches the nut.")
    return wanted * spanner / arm


def at_the_nut(shown: float, spanner: float, extension: float, degrees: float = 0.0) -> float:
    """What the nut gets when the wrench shows ``shown``: the reverse of ``setting``."""
    return shown / setting(1.0, spanner, extension, degrees)
