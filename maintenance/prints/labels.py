"""What hangs on a vehicle: the code for fault slips, and the red do-not-run label."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.http import HttpRequest
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe

from fleet.http import museum
from fleet.models import Vehicle
from fleet.printing import qr_svg, render_page
from maintenance.models import Tag
from maintenance.tags_link import link_of

COPIES = 6
ACROSS = 2
CODE_MM = 42
WIDTH, HEIGHT, EDGE, GAP = 198.0, 136.0, 9.0, 6.0
"""Of the red label, in millimetres: the sheet inside its margins, the hatched edge, one stripe and its gap."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TagCard:
    vehicle: Vehicle
    code: SafeString


def tag_sheet(vehicles: Sequence[Vehicle], request: HttpRequest | None = None) -> bytes:
    """Tags to cut out: one of each vehicle, or several of the only one."""
    cards = [TagCard(vehicle=one, code=_code(one)) for one in vehicles]
    if len(cards) == 1:
        cards *= COPIES
    rows = [cards[at : at + ACROSS] for at in range(0, len(cards), ACROSS)]
    words = {"rows": rows, "printed_at": timezone.localtime(), "house": museum()}
    return render_page("print/tag_sheet.html", words, request)


def _code(vehicle: Vehicle) -> SafeString:
    return qr_svg(link_of(vehicle), label=f"Fault slip of {vehicle.number} {vehicle.name}", mm=CODE_MM)


def do_not_run(tag: Tag, request: HttpRequest | None = None) -> bytes:
    return render_page(
        "print/label.html", {"tag": tag, "vehicle": tag.vehicle, "edge": hatched_edge()}, request
    )


def hatched_edge() -> SafeString:
    """The label's edge: red where there is colour, slanted bars everywhere; drawn with attributes alone."""
    inner = f"M{EDGE} {EDGE}H{WIDTH - EDGE}V{HEIGHT - EDGE}H{EDGE}Z"
    bars = []
    at = -HEIGHT
    while at < WIDTH:
        bars.append(f"M{at:.1f} {HEIGHT}L{at + HEIGHT:.1f} 0h{GAP}L{at + GAP:.1f} {HEIGHT}z")
        at += 2 * GAP
    return mark_safe(
        f'<svg class="edge" width="{WIDTH}mm" height="{HEIGHT}mm" viewBox="0 0 {WIDTH} {HEIGHT}" aria-hidden="true">'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/><path d="{"".join(bars)}" fill="#b3261a"/>'
        f'<path d="{inner}" fill="#fff" stroke="#b3261a" stroke-width="3"/>'
        f'<rect x="1" y="1" width="{WIDTH - 2}" height="{HEIGHT - 2}" fill="none" stroke="#000" stroke-width="1.2"/>'
        f'<circle cx="{WIDTH / 2}" cy="{EDGE + 8}" r="3.5" fill="#fff" stroke="#000" stroke-width=".6"/></svg>'
    )
