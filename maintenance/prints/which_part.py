"""A which-part sheet on paper: as it stands, cautions first, boxes to fill in where a phone will not go."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.conf import settings
from django.urls import reverse

from fleet.hazards import ABOVE_ALL
from fleet.printing import qr_svg, render_page
from maintenance.models import WhichSheet
from maintenance.queries.which_part_page import SheetPage, which_page


def _warnings(page: SheetPage) -> list[tuple[str, list[int]]]:
    """Each warning once, with the numbers of the tests that it belongs to."""
    told: dict[str, list[int]] = {}
    for test in page.tests:
        for title, line in test.warnings:
            told.setdefault(f"{title}: {line}" if title else line, []).append(test.number)
        for line in test.cautions:
            told.setdefault(f"CAUTION: {line}", []).append(test.number)
    return list(told.items())


def context(row: WhichSheet, printed_at: dt.datetime) -> dict[str, Any]:
    """Everything on the paper. `row` comes from `queries.which_part.which_detail`."""
    page = which_page(row)
    path = reverse("maintenance:which_paper", args=[row.pk])
    return {
        "page": page, "sheet": row, "vehicle": row.vehicle, "printed_at": printed_at, "above_all": ABOVE_ALL,
        "warnings": _warnings(page), "qr": qr_svg(f"{settings.SITE_ADDRESS}{path}", label="Code to type this paper back"),
    }  # fmt: skip


def which_pdf(row: WhichSheet, printed_at: dt.datetime) -> bytes:
    """Render it. Nothing is written: asking for a paper changes nothing."""
    return render_page("print/which_part.html", context(row, printed_at))
