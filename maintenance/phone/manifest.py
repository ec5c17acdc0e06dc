"""What a phone keeps for a day without signal: the shell for everybody, the pages for one person."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from functools import lru_cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.db.models import Max
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone

from fleet.models import Act, Person
from fleet.version import version
from maintenance.models import JobCard, JobPhoto
from maintenance.phone.mine import my_jobs

WORKER, OUTBOX = "phone/sw.js", "phone/outbox.js"
SHELL = (
    "css/tokens.css", "css/base.css", "css/parts.css", "css/forms.css", "css/phone.css", "css/job.css", "css/fault.css", "css/which.css", "css/reckoning.css",
    "js/app.js", "js/phone.js", "js/which.js", "js/reckoning.js", OUTBOX, "phone/offline.js", "django_htmx/htmx-2.min.js",
    "fonts/atkinson-hyperlegible-next-latin-wght-normal.woff2", "fonts/big-shoulders-latin-opsz-normal.woff2",
    "fonts/big-shoulders-stencil-latin-opsz-normal.woff2", "icons/mark.svg", "icons/mark-32.png",
)  # fmt: skip

Pages = Callable[[Person], Iterable[tuple[str, str]]]
"""Gives (address, mark) of pages for one person. Another mark, and the phone fetches the page anew."""

_more: list[Pages] = []


def also_keep(pages: Pages) -> Pages:
    """Join pages to what a phone keeps. They must stand on `layouts/phone.html` or `base.html`, whose body names the person."""
    if pages not in _more:
        _more.append(pages)
    return pages


def source(name: str) -> bytes:
    """A script or style as it lies in the project, or in the collected folder of a server that has only that."""
    found = finders.find(name)
    if found:
        return Path(found).read_bytes()
    with staticfiles_storage.open(name) as file:
        found_there: bytes = file.read()
        return found_there


def shell() -> tuple[str, list[str]]:
    """(version, addresses) of what every page needs. Another content is another version, and a phone takes it whole."""
    return _shell() if not settings.DEBUG else _shell.__wrapped__()


@lru_cache(maxsize=1)
def _shell() -> tuple[str, list[str]]:
    seal = hashlib.sha256(version().encode())
    for name in (*SHELL, WORKER):
        seal.update(name.encode() + b"\0" + source(name))
    return seal.hexdigest()[:16], [*(static(name) for name in SHELL), reverse("maintenance:kept")]


def worker() -> str:
    """The service worker with its version and list: changed content changes its bytes, which is how a browser sees it."""
    mark, urls = shell()
    head = {"VERSION": mark, "SHELL": urls, "KEPT": reverse("maintenance:kept")}
    lines = [f"const {name} = {json.dumps(value)};" for name, value in head.items()]
    return "\n".join([*lines, f"importScripts({json.dumps(static(OUTBOX))});", source(WORKER).decode()])


def pages_of(person: Person) -> dict[str, Any]:
    """The pages and pictures for this person, each page with a mark that changes when it should be fetched anew.

    A page's mark holds the day, the app's version and the last act on its vehicle or on nothing in particular.
    """
    mine = my_jobs(person)
    cards = {
        row.card.pk: row.card for rows in (mine.have, mine.to_sign, mine.free, mine.held, mine.after) for row in rows
    }  # fmt: skip
    mark = f"{timezone.localdate():%j}-{shell()[0]}"
    lasts = dict(
        Act.objects.filter(vehicle__in={card.vehicle_id for card in cards.values()})
        .values_list("vehicle").annotate(last=Max("pk")).order_by()
    )  # fmt: skip
    pages = {reverse("maintenance:my_jobs"): f"{mark}-{max(lasts.values(), default=0)}-{len(cards)}"}
    for card in cards.values():
        pages[reverse("maintenance:card", args=[card.pk])] = f"{mark}-{lasts.get(card.vehicle_id, 0)}"
    for code in sorted({card.vehicle.code for card in cards.values()}):
        pages |= dict.fromkeys(vehicle_pages(code), mark)
    for more in _more:
        pages |= {address: f"{mark}-{of_page}" for address, of_page in more(person)}
    return {"person": person.pk, "pages": pages, "pictures": _pictures(cards)}


def vehicle_pages(code: str) -> tuple[str, str]:
    """What a driver needs at a vehicle: the fault slip and the checks of use."""
    return reverse("maintenance:report", args=[code]), reverse("maintenance:use_check", args=[code])


def _pictures(cards: dict[int, JobCard]) -> list[str]:
    rows = (
        JobPhoto.objects.filter(card__in=cards)
        .order_by("photo_id")
        .values_list("photo_id", flat=True)
        .distinct()
    )
    return [reverse("fleet:photo", args=[pk, "small"]) for pk in rows]
