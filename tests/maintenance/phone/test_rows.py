"""Lists that come as JSON are the rows that the models would have read, whichever database keeps them."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.db.models import F
from django.utils import timezone

from maintenance.models import JobCard, Measure, Reading, WorkLog
from maintenance.phone.loading import load
from maintenance.phone.rows import Part, fill, parts_of
from maintenance.services import bench, closing, parts, readings

pytestmark = pytest.mark.django_db


def values(row) -> dict:
    return {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields}


def test_each_list_is_what_the_models_read(ready, mechanic, lead):
    card = ready.card
    bench.hours_add(card=card, by=mechanic, hours="1.25", note="“Quoted” \\ é 漢")
    bench.left_safe(card=card, by=mechanic, state_of_strip="line\nline", parts_where="b", next_step="c")
    closing.test_record(card=card, by=mechanic, kind="bench", passed=False, words="No")
    parts.part_need_add(by=lead, card=card, name="Spring", promised_on=dt.date(2027, 1, 2), state="on order")
    readings.measure_add(
        by=lead, vehicle=card.vehicle, system="BRK", name="Balance", judgement="spread", basis="percent of highest", high="30",
        unit="kN", positions=["near", "off"], source="A notice",
    )  # fmt: skip
    loaded = load(card.pk, timezone.now(), timezone.localdate())
    for name in (
        "steps",
        "strip_items",
        "tests",
        "hours",
        "readings",
        "left_safe",
        "parts",
        "cautions_read",
        "measures",
    ):
        got = [values(row) for row in getattr(loaded.card, name).all()]
        own = [values(row) for row in getattr(JobCard.objects.get(pk=card.pk), name).all()]
        assert got == own
        assert got
    balance = next(one for one in loaded.measures if one.name == "Balance")
    assert (balance.positions, balance.high) == (["near", "off"], Decimal(30))
    assert next(iter(loaded.card.hours.all())).person == mechanic


def test_filled_lists_ask_nothing_more(ready, mechanic, django_assert_num_queries):
    loaded = load(ready.card.pk, timezone.now(), timezone.localdate())
    with django_assert_num_queries(0):
        assert [str(step.done_by) for step in loaded.card.steps.all()] == ["Asta Finch", "Asta Finch"]
        assert [hasattr(one, "replaced_by") for one in loaded.card.readings.all()] == [False]
        assert [one.measure.name for one in loaded.card.readings.all()] == ["Lining, leading shoe"]


def test_a_replaced_reading_is_left_out(ready, mechanic):
    first = Reading.objects.get()
    second = readings.reading_replace(by=mechanic, reading=first, values=["3.3"], note="Slip of the pen")
    loaded = load(ready.card.pk, timezone.now(), timezone.localdate())
    assert [one.pk for one in loaded.card.readings.all()] == [second.pk]


def test_an_empty_list_is_empty_and_extras_are_attributes(ready):
    found = parts_of(
        JobCard.objects.filter(pk=ready.card.pk),
        {
            "hours": Part(rows=WorkLog.objects.filter(card=ready.card)),
            "named": Part(rows=Measure.objects.all(), fields=("name",), extras={"of": F("vehicle__name")}),
        },
    )
    assert found["hours"] == []
    assert [(one.name, one.of) for one in found["named"]] == [("Lining, leading shoe", "Thistle")]
    fill(ready.card, "hours", [])
    assert list(ready.card.hours.all()) == []
