"""What the workshop tells, and asks of, the app above it, which it never imports."""

from __future__ import annotations

from django.dispatch import Signal

work_changed = Signal()
"""Sent on commit with `vehicle_id` (None: of the site) and `act`."""

event_end_asked = Signal()
"""Asked with `vehicle_id` and `day`: each receiver answers with the last day of the next event on or after that
day, or None. A deferral of a Serious risk runs no longer."""

freeze_asked = Signal()
"""Asked with `day`: each receiver answers with the freeze (an aware moment) of the next event whose freeze is on or
after that day, or None. The workshop page and the last order dates count back from it."""
