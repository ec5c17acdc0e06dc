"""Numbers in the job book for rows that bring none: one reservation a table, not one a row."""

from __future__ import annotations

from django.db.models import F
from django.utils import timezone

from fleet.exchange.rows import Batch
from fleet.models import Serial
from maintenance.models import Defect, JobCard


def give_serials(batch: Batch) -> None:
    """Rows with a number of their own keep it, and the book goes on behind the highest."""
    rows = [row.instance for row in batch.new if isinstance(row.instance, (Defect, JobCard))]
    highest: dict[int, int] = {}
    for one in rows:
        year, _, number = one.serial.partition("/")
        if len(year) == 2 and year.isdigit() and number.isdigit():
            highest[2000 + int(year)] = max(highest.get(2000 + int(year), 0), int(number))
    for year_of, last in highest.items():
        Serial.objects.get_or_create(year=year_of)
        Serial.objects.filter(year=year_of, last__lt=last).update(last=last)
    bare = [one for one in rows if not one.serial]
    if not bare:
        return
    this_year = timezone.localdate().year
    Serial.objects.get_or_create(year=this_year)
    # The update takes the row's lock until the transaction ends, so nobody is given the same numbers.
    Serial.objects.filter(year=this_year).update(last=F("last") + len(bare))
    book = Serial.objects.get(year=this_year)
    for place, one in enumerate(bare, start=1):
        one.serial = str(Serial(year=this_year, last=book.last - len(bare) + place))
