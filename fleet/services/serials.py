"""Numbers of the job book: one series a year for cards and faults, as in a paper book."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import F

from fleet.models import Serial


def next_serial(day: dt.date) -> str:
    """The next number of that day's year, such as "26/041"; unique however many ask at once."""
    with transaction.atomic():
        Serial.objects.get_or_create(year=day.year)
        # The update takes the row's lock until the transaction ends, so nobody reads the same number.
        Serial.objects.filter(year=day.year).update(last=F("last") + 1)
        return str(Serial.objects.get(year=day.year))


STUBS = 0  # the row that counts the stubs of tags, which run on through the years


def next_stub() -> int:
    """The next number of the tag pad; unique however many ask at once."""
    with transaction.atomic():
        Serial.objects.get_or_create(year=STUBS)
        Serial.objects.filter(year=STUBS).update(last=F("last") + 1)
        return Serial.objects.get(year=STUBS).last


def stub_reserve(number: int) -> None:
    """A number that was printed on a tag from the pad is passed over."""
    with transaction.atomic():
        Serial.objects.get_or_create(year=STUBS)
        Serial.objects.filter(year=STUBS, last__lt=number).update(last=number)


def serial_reserve(serial: str) -> None:
    """A number that came from elsewhere (a table, a paper book) is never given out again."""
    year_text, _, last_text = serial.partition("/")
    if not (len(year_text) == 2 and year_text.isdigit() and last_text.isdigit()):
        return
    year, last = 2000 + int(year_text), int(last_text)
    with transaction.atomic():
        Serial.objects.get_or_create(year=year)
        Serial.objects.filter(year=year, last__lt=last).update(last=last)
