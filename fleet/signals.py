"""What the fleet tells the apps above it, which it never imports."""

from __future__ import annotations

from django.dispatch import Signal

fleet_changed = Signal()
"""Sent on commit with `vehicle_id` (None: people, days or settings) and `act`."""

person_left = Signal()
"""Sent inside the transaction with `person`, `by` and `day`, so that their jobs are let go in the same breath."""
