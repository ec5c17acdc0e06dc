"""Where each vehicle stands for the next event, for lists that only need the word."""

from __future__ import annotations

from fleet.models import Vehicle
from readiness.models import Assessment
from readiness.services.assessing import coming_events


def standings() -> dict[int, tuple[str, str]]:
    """Vehicle key to standing code and words, from the newest assessment of the nearest event."""
    events = coming_events()
    latest = Assessment.objects.filter(event=events[0], is_latest=True).first() if events else None
    if latest is None:
        return {}
    keys = dict(Vehicle.objects.values_list("code", "pk"))
    found = {}
    for row in latest.result["vehicles"]:
        if row["vehicle"] in keys and row["standing"] != "open":
            chance = f", {row['percent']} in 100" if row["percent"] is not None else ""
            found[keys[row["vehicle"]]] = (row["standing"], f"{row['word']}{chance}")
    return found
