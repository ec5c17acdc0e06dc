"""The job card on paper: two sides of A4, cautions first, lines to write on where there is no phone."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.conf import settings
from django.urls import NoReverseMatch, reverse

from fleet.hazards import ABOVE_ALL
from fleet.printing import qr_svg, render_page
from maintenance.models import JobCard
from maintenance.queries.cards import shares_opening
from maintenance.waits import card_hazards, tests_missing

STRIP_LINES = 10
WORK_LINES = 6
LEFT_SAFE_LINES = 4


def _address(card: JobCard) -> str:
    try:
        path = reverse("maintenance:card", args=[card.pk])
    except NoReverseMatch:
        path = reverse("maintenance:card_change", args=[card.pk])
    return f"{settings.SITE_ADDRESS}{path}"


def _readings(card: JobCard) -> list[dict[str, Any]]:
    """What is wanted, with its limit and what was found; blank where it is still to be read."""
    found = {one.measure_id: one for one in card.readings.all() if one.moment == "as found"}
    left = {one.measure_id: one for one in card.readings.all() if one.moment == "as left"}
    rows = {measure.pk: measure for measure in card.measures.all()}
    rows |= {one.measure_id: one.measure for one in card.readings.all()}
    return [
        {
            "name": measure.name, "unit": measure.unit, "limit": _limit(measure), "source": measure.source,
            "found": ", ".join(found[pk].values) if pk in found else "", "left": ", ".join(left[pk].values) if pk in left else "",
        }
        for pk, measure in rows.items()
    ]  # fmt: skip


def _limit(measure: Any) -> str:
    low = f"{measure.low.normalize():f}" if measure.low is not None else ""
    high = f"{measure.high.normalize():f}" if measure.high is not None else ""
    return (
        f"{low} to {high}" if low and high else f"{low} least" if low else f"{high} most" if high else "look"
    )


def context(card: JobCard, printed_at: dt.datetime) -> dict[str, Any]:
    """Everything on the card. `card` comes from `queries.cards.card_detail`."""
    hazards = card_hazards(card)
    strip = list(card.strip_items.all())
    defects = list(card.defects.all())
    steps = list(card.steps.all())
    return {
        "card": card, "vehicle": card.vehicle, "printed_at": printed_at, "above_all": ABOVE_ALL, "defects": defects,
        "warnings": [(one.title, line) for one in hazards for line in one.warnings],
        "cautions": [(one.title, line) for one in hazards for line in (*one.cautions, *one.notes)],
        "limits": [limit.words for defect in defects for row in defect.deferrals.all() for limit in row.limits.all()],
        "shares": list(shares_opening(card)), "readings": _readings(card), "steps": steps, "strip": strip,
        "strip_blank": range(len(strip) + 1, len(strip) + 1 + max(STRIP_LINES - len(strip), 2)),
        "work_lines": range(WORK_LINES), "safe_lines": range(LEFT_SAFE_LINES), "tests": tests_missing(card),
        "tags": [tag for tag in card.tags.all() if tag.lifted_at is None], "hours": list(card.hours.all()),
        "qr": qr_svg(_address(card), label=f"Code that opens job {card.serial}"),
    }  # fmt: skip


def job_card_pdf(card: JobCard, printed_at: dt.datetime) -> bytes:
    """Render both sides. Nothing is written: asking for a paper changes nothing."""
    return render_page("print/job_card.html", context(card, printed_at))
