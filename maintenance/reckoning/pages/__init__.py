"""Every reckoning as a page: what it asks, how it is worked out, what it says. Pure, like the sums behind it."""

from __future__ import annotations

from maintenance.reckoning.pages import bench, brakes, engine, ignition, running, timing
from maintenance.reckoning.pages.base import Reckoning

GROUPS: tuple[tuple[str, tuple[Reckoning, ...]], ...] = (
    ("Ignition", (*ignition.PAGES, *timing.PAGES)),
    ("Engine and battery", engine.PAGES),
    ("Brakes", brakes.PAGES),
    ("Tracks, gears and tyres", running.PAGES),
    ("At the bench", bench.PAGES),
)
# static/js/reckoning.js works these out without a signal; one table of cases binds both.
OFFLINE = ("firing-order", "magneto", "degrees", "timing", "oil-in-fuel", "coolant", "torque")
RECKONINGS: dict[str, Reckoning] = {page.slug: page for _, pages in GROUPS for page in pages}
