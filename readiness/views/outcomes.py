"""Did it run: after the slots, what became of each entry."""

from __future__ import annotations

import re

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.views.access import needs, page_or_act, person_of
from readiness.models import Event, Ran
from readiness.services.outcomes import Said, entries_to_answer, outcomes_write


def _typed(request: HttpRequest) -> dict[int, Said]:
    found = {}
    for name, value in request.POST.items():
        match = re.fullmatch(r"ran-(\d{1,9})", name)
        if match:
            words = str(request.POST.get(f"words-{match[1]}", ""))[:200]
            found[int(match[1])] = Said(str(value), words)
    return found


@page_or_act
@needs("entry.ran")
def ran(request: HttpRequest, code: str) -> HttpResponse:
    """One line an entry whose slot has ended; all are handed in together."""
    event = get_object_or_404(Event, code=code)
    typed, wrong, trouble = _typed(request), {}, []
    if request.method == "POST":
        try:
            changed = outcomes_write(by=person_of(request), event=event, said=typed)
        except ValidationError as error:
            if hasattr(error, "error_dict"):
                wrong = {name: " ".join(words) for name, words in error.message_dict.items()}
            trouble = error.messages
        else:
            messages.success(request, f"{len(changed)} written down. The day by day page shows them.")
            return redirect("readiness:event", code)
    now = timezone.now()
    lines = [
        {
            "entry": e,
            "ended": e.slot.ends_at <= now,
            "said": typed.get(e.pk) or getattr(e, "outcome", None),
            "kept": getattr(e, "outcome", None),
            "wrong": wrong.get(f"entry-{e.pk}", ""),
        }
        for e in entries_to_answer(event)
    ]
    context = {
        "event": event,
        "lines": lines,
        "trouble": trouble,
        "choices": Ran.choices,
        "here": "programme",
    }
    return render(request, "readiness/ran.html", context, status=422 if trouble else 200)
