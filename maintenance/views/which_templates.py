"""The sheets to start from: copied, changed under a live check, played with a known fault."""

from __future__ import annotations

import secrets
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from fleet.errors import Conflict
from fleet.views.access import needs, page_or_act, person_of
from maintenance.models import WhichTemplate
from maintenance.queries.which_editor import editor_rows, played
from maintenance.services.which_templates import rehearsal_ask, template_copy, template_save
from maintenance.tasks import play_sheet
from maintenance.which_sheet import Check, check
from maintenance.which_typing import definition_of


@require_POST
@needs("which.edit")
def copy(request: HttpRequest) -> HttpResponse:
    try:
        row = template_copy(
            by=person_of(request),
            based_on=request.POST.get("based_on", ""),
            kind=request.POST.get("kind", ""),
        )
    except ValidationError as trouble:
        messages.warning(request, " ".join(trouble.messages))
        return redirect("maintenance:which_parts")
    messages.success(request, "Copied. What you change here is offered from now on; open sheets keep theirs.")
    return redirect("maintenance:which_template", row.pk)


def _typed(request: HttpRequest, row: WhichTemplate) -> tuple[dict[str, Any], Check]:
    definition, unread = definition_of(row.definition, request.POST.dict())
    looked = check(definition)
    return definition, Check(wrong=(*unread, *looked.wrong), weak=looked.weak)


def _shown(
    request: HttpRequest, row: WhichTemplate, definition: Any, looked: Check, refused: tuple[str, ...] = ()
) -> HttpResponse:
    words = {
        "template": row, "rows": editor_rows(definition), "definition": definition, "looked": looked, "refused": refused,
        "rehearsal": played(row), "version": row.version, "mark": secrets.token_hex(4), "here": "workshop",
    }  # fmt: skip
    return render(request, "maintenance/which_template.html", words, status=422 if refused else 200)


@page_or_act
@needs("which.edit")
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(WhichTemplate.objects.select_related("changed_by"), pk=pk)
    if request.method != "POST":
        return _shown(request, row, row.definition, check(row.definition))
    definition, looked = _typed(request, row)
    if looked.wrong:
        return _shown(request, row, definition, looked, looked.wrong)
    version = request.POST.get("version", "")
    try:
        template_save(
            by=person_of(request), template=row, definition=definition, retired=request.POST.get("retired") == "on",
            expected_version=int(version) if version.isdecimal() else None,
        )  # fmt: skip
    except Conflict as trouble:
        row.refresh_from_db()
        return _shown(request, row, definition, looked, (str(trouble),))
    messages.success(request, "The sheet is changed.")
    return redirect("maintenance:which_template", pk)


@require_POST
@needs("which.edit")
def look(request: HttpRequest, pk: int) -> HttpResponse:
    """The live check: what is typed, looked over, and nothing written."""
    row = get_object_or_404(WhichTemplate, pk=pk)
    return render(request, "maintenance/which_check.html", {"looked": _typed(request, row)[1]})


@require_POST
@needs("which.edit")
def play(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(WhichTemplate, pk=pk)
    asked = rehearsal_ask(by=person_of(request), template=row)
    # A queue that is down costs nothing: the sweep finds the request.
    transaction.on_commit(lambda: play_sheet.delay(asked.pk), robust=True)
    messages.success(request, "It is being played in the background. Look again in a minute.")
    return redirect("maintenance:which_template", pk)
