"""The workshop: who is in, the load by name, what speaks up, what is put off."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet import rules
from fleet.errors import Conflict
from fleet.http import museum
from fleet.views.access import needs, person_of
from maintenance.forms.desk_acts import share_opening
from maintenance.held import held_now
from maintenance.models import JobCard
from maintenance.queries.deferrals import standing
from maintenance.queries.hand_ins import cards_to_settle
from maintenance.queries.outside import outside_page
from maintenance.queries.workshop_page import workshop_page
from maintenance.services.copying import papers_open
from maintenance.views.deferrals import line_of


@require_safe
def workshop(request: HttpRequest) -> HttpResponse:
    return render(request, "maintenance/workshop.html", page_words(request))


def page_words(request: HttpRequest) -> dict[str, Any]:
    person, page = person_of(request), workshop_page(timezone.now(), museum())
    return {
        "page": page, "put_off": [line_of(row, page.today, person) for row in standing()], "here": "workshop",
        "twice": JobCard.objects.filter(pk__in=cards_to_settle()).select_related("vehicle").order_by("serial"),
        "papers": papers_open(), "held_as_found": held_now(), "outside": outside_page(page.today),
        "may_plan": rules.may(person, "card.plan"), "may_open": rules.may(person, "card.open"),
        "wanted": sum(row.wanted for row in page.rows), "there": sum(row.there for row in page.rows),
    }  # fmt: skip


@require_POST
@needs("card.plan")
def share(request: HttpRequest) -> HttpResponse:
    """Put the jobs that were shown into one group."""
    ids = [int(pk) for pk in request.POST.getlist("card") if pk.isdecimal() and len(pk) < 19]
    cards = list(JobCard.objects.filter(pk__in=ids).select_related("vehicle", "access").order_by("serial"))
    try:
        word = f"{cards[0].access} {cards[0].serial}"[:40] if cards else ""
        share_opening(by=person_of(request), cards=cards, word=word)
    except (ValidationError, Conflict) as trouble:
        messages.error(
            request, " ".join(trouble.messages) if isinstance(trouble, ValidationError) else str(trouble)
        )
    else:
        messages.success(request, f"{len(cards)} jobs share one opening now.")
    return redirect("maintenance:workshop")
