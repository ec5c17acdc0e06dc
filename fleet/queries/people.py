"""Reading people."""

from __future__ import annotations

import datetime as dt

from django.db.models import Prefetch, QuerySet

from fleet.models import Competence, Person
from fleet.models.people import ROLES


def people_list(*, who: str = "in", role: str = "") -> QuerySet[Person]:
    """Those who are here, those who have left, or all; of one role. Three queries, however many people."""
    rows = Person.objects.prefetch_related("skills", "patterns")
    if who != "all":
        rows = rows.filter(left_on__isnull=who != "left")
    if role in ROLES:
        rows = rows.filter(**{f"is_{role}": True})
    return rows


def person_with_parts(pk: int) -> QuerySet[Person]:
    checked = Competence.objects.select_related("vehicle", "with_person")
    return Person.objects.filter(pk=pk).prefetch_related(
        "skills", "patterns", Prefetch("competences", checked, to_attr="checked_for")
    )


def is_over(valid_through: dt.date | None, today: dt.date) -> bool:
    """A competence or paper holds through its last day."""
    return valid_through is not None and valid_through < today
