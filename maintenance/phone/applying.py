"""An act as it comes from a phone: read, applied once, and what becomes of it told."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, cast

from django.core.exceptions import PermissionDenied, ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpRequest
from django.utils import timezone

from fleet.errors import Conflict
from fleet.models import Person, Photo
from fleet.services.photos import photo_add
from maintenance.forms.phone import ReadingForm
from maintenance.models import JobCard, Submission
from maintenance.phone.acts import ACTS, PhoneAct, Press, may_begin, row_of
from maintenance.phone.entries import Entry, auto_id, new_key
from maintenance.phone.loading import signers_of
from maintenance.phone.sync import made_at
from maintenance.services.base import changes_since
from maintenance.services.submissions import once

KEY = re.compile(r"[0-9a-fA-F-]{16,64}")
NOT_CONTENT = frozenset({"csrfmiddlewaretoken", "key", "version", "proof"})
"""What does not make an act another act. A proof is left out so that no trace of it is ever kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of an act: the code of the answer, what to say, the form that came back, what others did, and what is kept of it."""

    status: int
    act: PhoneAct
    key: str
    said: str = ""
    entry: Entry | None = None
    others: tuple[str, ...] = ()
    kept: Mapping[str, Any] = field(default_factory=dict)


def apply(request: HttpRequest, card: JobCard) -> Outcome:
    """Apply the act that a form names. Sent twice with one key it counts once.

    Raises:
        Http404: there is no such act.
    """
    name = request.POST.get("act", "")
    act = ACTS.get(name)
    if act is None:
        raise Http404(f"no act {name}")
    by = cast("Person", request.user)
    key = request.POST.get("key", "")
    key = key if KEY.fullmatch(key) else new_key()
    target = request.POST.get("target", "")
    form: Any = None
    try:
        before = _taken_before(request, act, name, key, card, by)
        if before is not None:
            return before
        row = row_of(act, card, target)
        form = _form(request, act, card, by, row)
        if not form.is_valid():
            return _back(422, act, name, key, form, row)
        return _done(request, act, name, key, form, card, by, row)
    except ValidationError as trouble:
        form.refuse(trouble)
        return _back(422, act, name, key, form, row)
    except Conflict as trouble:
        if form is None:
            row, form = _as_typed(request, act, card, by, target)
        if form is None:
            return Outcome(status=409, act=act, key=key, said=trouble.message, others=trouble.changed)
        form.add_error(None, trouble.message)
        # Another key: what was written anew after looking is another act.
        return _back(409, act, name, new_key(), form, row, trouble.changed)
    except PermissionDenied as trouble:
        return Outcome(status=403, act=act, key=key, said=str(trouble))


def _taken_before(
    request: HttpRequest, act: PhoneAct, name: str, key: str, card: JobCard, by: Person
) -> Outcome | None:
    """The answer of the first time, before anything is looked at that may have changed since then.

    Raises:
        Conflict: the key was used for other content.
    """
    if not Submission.objects.filter(key=key, person=by).exists():
        return None
    photo = _photo(request.FILES.get("photo"), card, by, "")
    answer, _ = once(
        key=key, person=by, act=f"phone.{name}", payload=_content(request, card, photo), do=_gone
    )
    return Outcome(status=200, act=act, key=key, said=answer["said"], kept=answer)


def _as_typed(request: HttpRequest, act: PhoneAct, card: JobCard, by: Person, target: str) -> tuple[Any, Any]:
    """(row, form) with what was typed, so that it goes back to its writer; nothing where its row is gone."""
    try:
        row = row_of(act, card, target)
        form = _form(request, act, card, by, row)
    except Conflict:
        return None, None
    form.is_valid()
    return row, form


def _gone() -> dict[str, Any]:
    raise Conflict("This entry was being taken back just now. Send it again.")


def _form(request: HttpRequest, act: PhoneAct, card: JobCard, by: Person, row: Any) -> Any:
    words: dict[str, Any] = {"card": card, "person": by, "row": row}
    target = row.pk if row is not None else None
    if request.POST.get("act") == "sign":
        words["signers"] = signers_of(card.second_area, timezone.localdate())
    if act.form is ReadingForm and row is None:
        raise Conflict("What this was about is no longer on the job. Look at it again.")
    return act.form(
        request.POST, request.FILES, auto_id=auto_id(request.POST.get("act", ""), target), **words
    )


def _back(
    status: int, act: PhoneAct, name: str, key: str, form: Any, row: Any, others: tuple[str, ...] = ()
) -> Outcome:
    entry = Entry(act=name, target=row.pk if row is not None else None, form=form, key=key)
    first = next((str(error) for errors in form.errors.values() for error in errors), "")
    return Outcome(status=status, act=act, key=key, entry=entry, said=first, others=others)


def _done(
    request: HttpRequest, act: PhoneAct, name: str, key: str, form: Any, card: JobCard, by: Person, row: Any
) -> Outcome:
    may_begin(name, act, card, by)
    upload = form.cleaned_data.get("photo")
    photo = _photo(upload, card, by, form.cleaned_data.get("shows", ""))
    version = request.POST.get("version", "")
    seen = int(version) if version.isdigit() else None
    press = Press(
        card=card,
        by=by,
        data=form.cleaned_data,
        row=row,
        photo=photo,
        seen=seen,
        form=form,
        made=made_at(request),
    )
    others = (
        tuple(changes_since(card, seen))
        if seen is not None and seen != card.version and not act.whole
        else ()
    )
    answer, repeated = once(
        key=key, person=by, act=f"phone.{name}", payload=_content(request, card, photo),
        do=lambda: _do(act, press),
    )  # fmt: skip
    return Outcome(
        status=200, act=act, key=key, said=answer["said"], others=() if repeated else others, kept=answer
    )


def _do(act: PhoneAct, press: Press) -> dict[str, Any]:
    """Do it, and keep with the answer what a phone needs for its next entry on the job: the version, and whose it is."""
    versions = JobCard.objects.filter(pk=press.card.pk).values_list("version", flat=True)
    before = versions.select_for_update().get()
    said = act.do(press)
    return {
        "said": said, "version": versions.get(), "clean": press.seen == before, "made": press.made.isoformat(), **press.rows,
    }  # fmt: skip


def _photo(upload: UploadedFile[bytes] | None, card: JobCard, by: Person, shows: str) -> Photo | None:
    """Decoded and kept before the job is locked; the same picture again is the one on file."""
    if not upload:
        return None
    return photo_add(by=by, upload=upload, vehicle=card.vehicle, shows=shows)


def _content(request: HttpRequest, card: JobCard, photo: Photo | None) -> dict[str, Any]:
    typed = {name: request.POST.getlist(name) for name in request.POST if name not in NOT_CONTENT}
    return {"card": card.pk, "typed": typed, "photo": photo.sha256 if photo is not None else ""}
