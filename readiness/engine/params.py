"""Figures that the forecast assumes where the museum has none of its own.

Each is a default which a museum may replace; none of them is a measurement. Where no source is given the
figure is experience of such workshops (*common practice*), to be replaced by the museum's own record.
"""

from __future__ import annotations

from dataclasses import dataclass

SLOT_MINUTES = 15
SLOTS_PER_HOUR = 60 // SLOT_MINUTES
MAX_CREW = 8

# A work day of 10:00 to 16:00 with 16 of its 24 quarter hours at the bench: tea, setting up and clearing
# away take the rest.
DAY_START_HOUR = 10
DAY_END_HOUR = 16
DAY_WORKED_SLOTS = 16
DAY_SLOTS = (DAY_END_HOUR - DAY_START_HOUR) * SLOTS_PER_HOUR

TURN_UP_VOLUNTEER = 0.75
TURN_UP_STAFF = 0.97

# Actual / promised lead time of a supplier without a record, as (ratio, probability).
LEAD_RATIOS: tuple[tuple[float, float], ...] = ((1.0, 0.5), (1.3, 0.3), (2.0, 0.2))

# Chance that opening shows more, by kind of access.
DISCOVERY_DEFAULT = 0.10
DISCOVERY_IN_GROUP = 0.35
DISCOVERY_PACK_LIFT = 0.60
DISCOVERY_TIMBER_FRAME = 0.70


@dataclass(frozen=True, slots=True, kw_only=True)
class Params:
    """Settings of one forecast.

    Attributes:
        common_sigma: scatter of the one factor per sample that multiplies all hours (log scale), so that the
            whole fleet's errors move together. The factor has mean one.
        guess_sigma: scatter of a job without an estimate around the median of its category.
        expert_sigma: scatter of a job with one figure from somebody who knows the work.
        signature_hours: hours of a second inspection.
        overdue_share: a delivery that is later than any delay on record is taken to need this further share
            of its promised lead time, counted from now.
    """

    common_sigma: float = 0.2
    guess_sigma: float = 0.6
    expert_sigma: float = 0.5
    signature_hours: float = 0.5
    overdue_share: float = 0.5
