"""The job card on a phone: one address, shown by GET, acted on by POST."""

from __future__ import annotations

import json
from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from fleet.http import museum
from fleet.models import Person
from maintenance.enums import Judgement
from maintenance.models import JobCard, Measure
from maintenance.phone import loading
from maintenance.phone.acts import EVERYWHERE
from maintenance.phone.applying import Outcome, apply
from maintenance.phone.page import Page, card_page, held_words
from maintenance.phone.sync import marks_of, told, wants_answer
from maintenance.phone.verdicts import NOT_READ, answer_of, judged
from maintenance.typed import figure_in

PAGE = "maintenance/job.html"
PARTS = "phone/parts.html"


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def card(request: HttpRequest, pk: int) -> HttpResponse:
    if request.method != "POST":
        return _shown(request, pk)
    row = get_object_or_404(
        JobCard.objects.select_related("vehicle", "subsystem", "access", "taken_by"), pk=pk
    )
    outcome = apply(request, row)
    if wants_answer(request):
        return _told(outcome)
    return (
        _part(request, row, outcome) if request.headers.get("HX-Request") else _whole(request, row, outcome)
    )


def _shown(request: HttpRequest, pk: int) -> HttpResponse:
    try:
        page = card_page(pk, cast("Person", request.user))
    except JobCard.DoesNotExist as missing:
        raise Http404 from missing
    return render(request, PAGE, _context(request, page))


def _context(request: HttpRequest, page: Page, outcome: Outcome | None = None) -> dict[str, Any]:
    return {
        "page": page, "card": page.card, "can": page.can, "entries": page.entries, "outcome": outcome,
        "number": page.card.vehicle.number, "serial": f"Job {page.card.serial}", "held": held_words(page.card),
        "card_url": reverse("maintenance:card", args=[page.card.pk]), "here": "jobs",
    }  # fmt: skip


def _told(outcome: Outcome) -> HttpResponse:
    """For a phone's outbox: taken or not, in words, and the version from which its next entry goes on."""
    kept = {name: outcome.kept[name] for name in ("version", "clean") if name in outcome.kept}
    if outcome.entry is not None and outcome.entry.form is not None:
        kept["fields"] = marks_of(outcome.entry.form)
    return told(
        taken=outcome.status == 200, words=outcome.said, others=outcome.others, status=outcome.status, **kept
    )


def _page(request: HttpRequest, row: JobCard, outcome: Outcome) -> Page:
    kept = {outcome.entry.id: outcome.entry} if outcome.entry is not None else None
    return card_page(row.pk, cast("Person", request.user), kept)


def _whole(request: HttpRequest, row: JobCard, outcome: Outcome) -> HttpResponse:
    """Without script: done is followed by a fresh page, refused comes back as it was typed."""
    if outcome.status == 200:
        for line in (outcome.said, *outcome.others):
            messages.success(request, line)
        return redirect(
            f"{reverse('maintenance:card', args=[row.pk])}?taken={outcome.key}#sec-{outcome.act.section}"
        )
    page = _page(request, row, outcome)
    return render(request, PAGE, _context(request, page, outcome), status=outcome.status)


def _part(request: HttpRequest, row: JobCard, outcome: Outcome) -> HttpResponse:
    """With script: the part that changed, and whatever else changed with it."""
    if outcome.status == 403:
        return HttpResponse(outcome.said, status=403, content_type="text/plain")
    page = _page(request, row, outcome)
    told: dict[str, Any] = {"say": outcome.said}
    if outcome.status == 200:
        if outcome.act.whole or page.card.state != row.state:
            messages.success(request, outcome.said)
            url = (
                f"{reverse('maintenance:card', args=[row.pk])}?taken={outcome.key}#sec-{outcome.act.section}"
            )
            return HttpResponse(status=204, headers={"HX-Redirect": url})
        told["taken"] = outcome.key
        if not outcome.others:
            told["card-version"] = page.card.version
    context = _context(request, page, outcome)
    also = (*outcome.act.also, *EVERYWHERE) if outcome.status == 200 else outcome.act.also
    context["parts"] = [_template(outcome.act.section, first=True), *[_template(name) for name in also]]
    answer = render(request, PARTS, context, status=outcome.status)
    answer.headers["HX-Trigger"] = json.dumps(told)
    return answer


def _template(name: str, *, first: bool = False) -> dict[str, Any]:
    return {"template": f"phone/card/{name}.html", "oob": not first}


def _in_unit(text: str, symbol: str) -> str:
    """As the service will take it: 30 psi into a reading in bar, converted exactly; nothing stays nothing."""
    return figure_in(text, symbol)[0] if text else ""


@never_cache
@require_safe
def verdict(request: HttpRequest, pk: int, measure: int) -> HttpResponse:
    """What a reading would be judged as; nothing is written down."""
    row = get_object_or_404(Measure, pk=measure, vehicle__cards=pk)
    values = [request.GET.get(f"value_{place}", "").strip() for place in range(max(1, len(row.positions)))]
    house = museum()
    answer = NOT_READ
    if any(values):
        try:
            found = judged(
                row,
                values if row.judgement == Judgement.LOOK else [_in_unit(one, row.unit) for one in values],
                loading.history_of([row]).get(row.pk, []),
                house.near_share if house else loading.NOUGHT,
            )
            answer = answer_of(found.word, found.sentence)
        except ValueError as trouble:
            answer = answer_of("not sure", f"Not sure: {trouble}")
    return render(request, "phone/verdict.html", {"answer": answer, "answer_id": f"v-{row.pk}"})
