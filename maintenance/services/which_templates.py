"""The sheets to start from: copied into the museum, changed, played with a known fault."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify

from fleet.errors import Conflict
from fleet.models import Person, VehicleKind
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from maintenance.fault_finding import STOP_AT
from maintenance.models import WhichRehearsal, WhichTemplate
from maintenance.rehearsal import rehearse
from maintenance.sheets import SHEETS
from maintenance.which_sheet import check, sheet_of
from maintenance.which_shipped import shipped

PLAYS = 2000


@transaction.atomic
def template_copy(*, by: Person, based_on: str, kind: str = "") -> WhichTemplate:
    """Copy a shipped sheet into the museum, for every vehicle or for one kind of them."""
    permit(by, "which.edit")
    if based_on not in SHEETS:
        raise ValidationError("There is no such sheet to copy.")
    if kind and kind not in VehicleKind.values:
        raise ValidationError({"kind": "There is no such kind of vehicle."})
    key = slugify(f"{based_on}-{kind}") if kind else based_on
    if WhichTemplate.objects.filter(key=key).exists():
        raise ValidationError("That copy is here already. Change it instead.")
    definition = shipped(based_on)
    row = WhichTemplate(
        key=key, based_on=based_on, name=definition["name"], kind=kind, definition=definition, changed_by=by
    )
    save_clean(row)
    acts.record(act="which.copy", by=by, subject=row)
    return row


def _locked(template: WhichTemplate, by: Person, expected_version: int | None) -> WhichTemplate:
    permit(by, "which.edit")
    row = WhichTemplate.objects.select_for_update(of=("self",)).get(pk=template.pk)
    if expected_version is not None and row.version != expected_version:
        raise Conflict(f"{row} was changed by another while you had it open. Look, then do it again.")
    return row


@transaction.atomic
def template_save(
    *,
    by: Person,
    template: WhichTemplate,
    definition: Mapping[str, Any],
    retired: bool | None = None,
    expected_version: int | None = None,
) -> WhichTemplate:
    """Keep a changed sheet. Refused while its chances do not add up; open sheets keep the copy that they have."""
    row = _locked(template, by, expected_version)
    wrong = check(definition).wrong
    if wrong:
        raise ValidationError(list(wrong))
    before = row.definition
    row.definition, row.name = copy.deepcopy(dict(definition)), str(definition["name"])
    row.retired = row.retired if retired is None else retired
    row.version += 1
    row.changed_at, row.changed_by = timezone.now(), by
    save_clean(row)
    acts.record(
        act="which.edit",
        by=by,
        subject=row,
        detail={"causes": [len(before["causes"]), len(row.definition["causes"])], "version": row.version},
    )
    return row


@transaction.atomic
def rehearsal_ask(*, by: Person, template: WhichTemplate, plays: int = PLAYS) -> WhichRehearsal:
    """Ask for a sheet to be played. One that is asked for and not done yet stands for both."""
    permit(by, "which.edit")
    waiting = template.rehearsals.filter(done_at=None, template_version=template.version).first()
    if waiting is not None:
        return waiting
    row = WhichRehearsal(template=template, template_version=template.version, plays=plays, asked_by=by)
    save_clean(row)
    acts.record(act="which.play", by=by, subject=template)
    return row


def rehearsal_run(*, pk: int) -> bool:
    """Play a sheet and keep what came of it. Done twice, it comes out the same."""
    row = WhichRehearsal.objects.select_related("template").filter(pk=pk, done_at=None).first()
    if row is None:
        return False
    sheet = sheet_of(row.template.definition)
    stop = float(row.template.definition.get("stop_at", STOP_AT))
    found = rehearse(sheet, plays=row.plays, seed=row.seed, stop_at=stop)
    usual = [test.key for test in sheet.tests]
    fixed = rehearse(sheet, plays=row.plays, seed=row.seed, order=usual, stop_at=stop)
    row.template_version = row.template.version
    row.result = {
        "found": found.found,
        "minutes": found.minutes,
        "fixed_found": fixed.found,
        "fixed_minutes": fixed.minutes,
        "causes": [{**asdict(one), "reached": one.reached} for one in found.causes],
    }
    row.done_at = timezone.now()
    row.save(update_fields=["template_version", "result", "done_at"])
    return True


def rehearsals_left() -> int:
    """Play what was asked for and never done: its message was lost."""
    return sum(
        rehearsal_run(pk=pk)
        for pk in WhichRehearsal.objects.filter(done_at=None).values_list("pk", flat=True)
    )
