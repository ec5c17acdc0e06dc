"""What each act in the book is called after a person's name: "Asta Finch took the job"."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

ACT_WORDS: Mapping[str, str] = MappingProxyType({})
