"""Papers that were printed: each has a code, so that what it said can be looked up again."""

from __future__ import annotations

import secrets

from django.db import transaction

from fleet.models import Person, Vehicle
from fleet.services import acts
from fleet.services.fields import save_clean
from fleet.services.permit import permit
from readiness.models import Event, Printout

LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""No 0 and O, no 1, I and L: the code is typed from paper."""
CODE_LENGTH = 6


@transaction.atomic
def printout_record(
    *, by: Person, kind: str, event: Event | None = None, vehicle: Vehicle | None = None
) -> Printout:
    """Write down that a paper is printed, and give it its code and version (the how-manieth of its kind)."""
    permit(by, "print.papers")
    before = Printout.objects.filter(kind=kind, event=event, vehicle=vehicle).count()
    row = Printout(
        code=_new_code(), kind=kind, event=event, vehicle=vehicle, printed_by=by, version=before + 1
    )
    save_clean(row)
    acts.record(
        act="print.paper", by=by, subject=event or vehicle or row, vehicle=vehicle,
        detail={"paper": kind, "code": row.code, "number": row.version},
    )  # fmt: skip
    return row


def _new_code() -> str:
    while True:
        code = "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
        if not Printout.objects.filter(code=code).exists():
            return code
