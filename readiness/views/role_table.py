"""The role table on one page: a cell a role and requirement."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from fleet.enums import Function
from fleet.rules import may
from fleet.views.access import must, person_of
from maintenance.enums import InspectionKind
from readiness.enums import Duty, Role, RuleSubject
from readiness.services.role_table import DEMANDS, Table, current_table, role_table_restore, role_table_set

LABELS = dict(Function.choices) | dict(InspectionKind.choices) | dict(Duty.choices)
MEANINGS = (
    ("!", "wholly fit, no limit accepted"),
    ("R", "fit, or reduced under a signed limit"),
    ("n", "noted, never blocks"),
    ("-", "not asked"),
)


def _key(role: str, subject: str, code: str) -> str:
    return f"{role}|{subject}|{code}"


def _cell(table: Table, typed: Any, role: Role, subject: str, code: str) -> dict[str, Any] | None:
    found = table.get((role, subject, code))
    if found is None:
        return None
    key = _key(role, subject, code)
    return {"role": role.label, "key": key, "demand": typed.get(key, found[0]), "count": found[1]}


def _tables(typed: Any) -> list[dict[str, Any]]:
    """The rows of each subject with a cell for every role that has one."""
    table = current_table()
    tables = []
    for subject in RuleSubject:
        codes = dict.fromkeys(code for _, of, code in table if of == subject)
        roles = [role for role in Role if any(r == role and of == subject for r, of, _ in table)]
        rows = [
            {
                "code": code,
                "label": LABELS.get(code, code),
                "cells": [_cell(table, typed, role, subject, code) for role in roles],
            }
            for code in codes
        ]
        if rows:
            tables.append(
                {
                    "title": subject.label,
                    "subject": subject.value,
                    "roles": [r.label for r in roles],
                    "rows": rows,
                }
            )
    return tables


def _typed(request: HttpRequest) -> tuple[dict[tuple[str, str, str], str], dict[tuple[str, str, str], int]]:
    demands, counts = {}, {}
    for name, value in request.POST.items():
        cell = tuple(name.removeprefix("count:").split("|"))
        if len(cell) != 3:
            continue
        if not name.startswith("count:"):
            demands[cell] = str(value)
        elif str(value).isdecimal():
            counts[cell] = int(str(value))
    return demands, counts


@require_http_methods(["GET", "HEAD", "POST"])
def role_table(request: HttpRequest) -> HttpResponse:
    must(request, "rules.change")
    wrong = ""
    if request.method == "POST":
        try:
            demands, counts = _typed(request)
            changed = (
                role_table_restore(by=person_of(request))
                if "restore" in request.POST
                else role_table_set(by=person_of(request), demands=demands, counts=counts)
            )
        except ValidationError as error:
            wrong = " ".join(error.messages)
        else:
            messages.success(request, f"{changed} cells changed." if changed else "Nothing changed.")
            return redirect("readiness:role_table")
    context = {
        "tables": _tables(request.POST if wrong else {}),
        "demands": DEMANDS,
        "meanings": MEANINGS,
        "wrong": wrong,
        "may_change": may(request.user, "rules.change"),
        "here": "programme",
    }
    return render(request, "readiness/role_table.html", context, status=422 if wrong else 200)
