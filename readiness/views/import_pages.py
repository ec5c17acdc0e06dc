"""Tables handed in: first what they would do, then bringing them in; templates to fill; everything out again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.contrib import messages
from django.core.files.base import File
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet import rules
from fleet.exchange.report import Problem
from fleet.views.access import needs, page_or_act, person_of
from readiness import import_shelf
from readiness.exchange import TABLES, Report, export_workbook, import_folder, template

SHUT = {"museum": "museum.change", "people": "person.change", "competences": "competence.set"}
"""Tables that decide who may do what: bringing them in asks for the same role as writing them by hand."""
MOST_BYTES = 25 * 1024 * 1024
MOST_FILES = 80
SHOWN = 300


class Several(forms.ClearableFileInput):
    allow_multiple_selected = True


class TablesField(forms.FileField):
    """Several files at once, as one list."""

    widget = Several(attrs={"accept": ".csv,.xlsx", "multiple": True})

    def clean(self, data: Any, initial: Any = None) -> list[File[bytes]]:
        files: Sequence[Any] = data if isinstance(data, (list, tuple)) and data else [data or None]
        if len(files) > MOST_FILES:
            raise forms.ValidationError(f"At most {MOST_FILES} files at once.")
        if sum(getattr(file, "size", 0) or 0 for file in files) > MOST_BYTES:
            raise forms.ValidationError(
                f"More than {MOST_BYTES // 1_048_576} MB. Hand them in one after the other."
            )
        return [super(TablesField, self).clean(file, initial) for file in files]


class ImportForm(forms.Form):
    tables = TablesField(
        label="Tables",
        help_text="CSV files named like their table, such as vehicles.csv, or one XLSX with a sheet for each.",
    )


def _look(request: HttpRequest, files: Mapping[str, bytes]) -> Report:
    """The dry run, with what this reader may not bring in told beside what is wrong."""
    report = import_folder(files, by=person_of(request), dry_run=True)
    for name, act in SHUT.items():
        count = report.counts.get(name)
        if count is not None and (count.new or count.changed) and not rules.may(request.user, act):
            report.errors.append(Problem(table=name, words=rules.refusal(act)))
    return report


def _page(
    request: HttpRequest, form: ImportForm, report: Report | None = None, mark: str = ""
) -> HttpResponse:
    """The page, with what the tables would do, if any were handed in."""
    words = {
        "form": form, "report": report, "mark": mark, "shown": SHOWN, "may_export": rules.may(request.user, "data.export"),
        "tables": [table for table in TABLES.values() if not table.hidden],
        "errors": report.errors[:SHOWN] if report else [], "warnings": report.warnings[:SHOWN] if report else [],
        "changes": report.changes[:SHOWN] if report else [],
        "counts": [(name, count) for name, count in report.counts.items() if count.new or count.changed or count.alike] if report else [],
    }  # fmt: skip
    wrong = bool(form.errors) or (report is not None and not report.ok)
    return render(request, "readiness/import.html", words, status=422 if wrong else 200)


@page_or_act
@needs("data.import")
def tables_in(request: HttpRequest) -> HttpResponse:
    """A dry run of what is handed in; nothing is written by it."""
    if request.method != "POST":
        return _page(request, ImportForm())
    form, by = ImportForm(request.POST, request.FILES), person_of(request)
    if not form.is_valid():
        return _page(request, form)
    mark = import_shelf.lay_down(form.cleaned_data["tables"], by)
    report = _look(request, import_shelf.fetch(mark, by) or {})
    if not report.ok or not (report.total.new or report.total.changed):
        import_shelf.take_away(mark, by)
        mark = ""
    return _page(request, ImportForm(), report, mark)


@require_POST
@needs("data.import")
def bring_in(request: HttpRequest) -> HttpResponse:
    """Everything is looked at once more, because the museum may have moved on since the dry run."""
    by, mark = person_of(request), request.POST.get("mark", "")
    files = import_shelf.fetch(mark, by)
    if files is None:
        messages.error(
            request, "These tables are not here any more. Hand them in again; nothing was written."
        )
        return redirect("readiness:import")
    report = _look(request, files)
    if report.ok:
        report = import_folder(files, by=by)
    if not report.written:
        return _page(request, ImportForm(), report)
    import_shelf.take_away(mark, by)
    messages.success(request, f"Brought in. {report.total}.")
    return redirect("readiness:import")


@require_safe
@needs("data.import")
def import_template(request: HttpRequest, name: str) -> HttpResponse:
    try:
        data = template(name)
    except KeyError as trouble:
        raise Http404 from trouble
    return _file(data, "text/csv; charset=utf-8", f"{name}.csv")


@require_safe
@needs("data.export")
def tables_out(request: HttpRequest) -> HttpResponse:
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    return _file(export_workbook(), kind, f"museum-{timezone.localdate():%Y-%m-%d}.xlsx")


def _file(data: bytes, kind: str, name: str) -> HttpResponse:
    answer = HttpResponse(data, content_type=kind)
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    answer["Cache-Control"] = "private, no-store"
    return answer
