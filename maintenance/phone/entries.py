"""A form as it stands on the page: its act, what it is about, and the key that makes it count once."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from typing import Any

from django import forms


def new_key() -> str:
    return str(uuid.uuid4())


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    act: str
    form: forms.Form | None = None
    target: int | None = None
    key: str = field(default_factory=new_key)

    @property
    def id(self) -> str:
        return entry_id(self.act, self.target)

    @property
    def refused(self) -> bool:
        return bool(self.form is not None and self.form.errors)

    @property
    def has_file(self) -> bool:
        return bool(self.form is not None and self.form.is_multipart())


def entry_id(act: str, target: int | None) -> str:
    return f"f-{act}-{target}" if target is not None else f"f-{act}"


def auto_id(act: str, target: int | None) -> str:
    """Ids of controls: unique though one field name stands in many forms of the page."""
    return f"{entry_id(act, target)}-%s"


def build(kind: type[forms.Form], act: str, target: int | None = None, **words: Any) -> Entry:
    return Entry(act=act, target=target, form=kind(auto_id=auto_id(act, target), **words))
