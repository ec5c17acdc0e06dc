import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.utils import timezone

from maintenance.enums import CardState
from maintenance.judging import limit_row, look_words
from maintenance.models import Reading
from maintenance.services.cards import card_close
from maintenance.services.readings import (
    measure_add,
    measure_change,
    measures_for,
    reading_add,
    reading_replace,
)
from tests.factories import CardFactory, MeasureFactory, VehicleFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def play(vehicle, museum):
    return MeasureFactory(vehicle=vehicle)


@pytest.mark.parametrize(
    ("value", "verdict", "words"),
    [
        ("20", "within", "10 mm to spare"),
        ("27", "near", "Near the limit: 3 mm to spare"),
        ("30", "near", "At the limit, which passes"),
        ("30.4", "past", "Past the limit by 0.4 mm"),
    ],
)
def test_a_reading_is_judged_and_keeps_its_limit(value, verdict, words, mechanic, play):
    row = reading_add(by=mechanic, measure=play, values=[value])
    assert (row.verdict, row.verdict_words) == (verdict, words)
    assert row.limit_used == {"kind": "max", "source": "house rule", "unit": "mm", "high": "30", "near": "3"}


def test_a_later_limit_bends_no_old_verdict(mechanic, lead, play):
    old = reading_add(by=mechanic, measure=play, values=["27"])
    with pytest.raises(PermissionDenied, match="change the limit"):
        measure_change(by=mechanic, measure=play, high="20")
    measure_change(by=lead, measure=play, high="20", source="manual, section 4")
    new = reading_add(by=mechanic, measure=play, values=["27"])
    old.refresh_from_db()
    assert (old.verdict, old.limit_used["high"], new.verdict, new.limit_used["source"]) == (
        "near", "30", "past", "manual, section 4",
    )  # fmt: skip


def test_a_limit_has_its_source_and_its_figure(mechanic, lead, vehicle):
    with pytest.raises(ValidationError) as no_source:
        measure_add(by=mechanic, vehicle=vehicle, system="BRK", name="Lining", judgement="min", low="3")
    assert "source" in no_source.value.message_dict
    with pytest.raises(ValidationError) as no_figure:
        measure_add(
            by=mechanic, vehicle=vehicle, system="BRK", name="Lining", judgement="min", source="house rule"
        )
    assert "low" in no_figure.value.message_dict
    with pytest.raises(ValidationError) as kind:
        measure_add(
            by=mechanic, vehicle=vehicle, system="BRK", name="Lining", judgement="guess", source="house rule"
        )
    assert "judgement" in kind.value.message_dict
    row = measure_add(
        by=mechanic,
        vehicle=vehicle,
        system="BRK",
        name="Lining",
        judgement="min",
        low="3",
        unit="mm",
        source="house rule",
    )
    with pytest.raises(ValidationError) as half:
        measure_change(by=lead, measure=row, judgement="range")
    assert "needs its high figure" in str(half.value)
    with pytest.raises(ValidationError, match="from low to high"):
        measure_change(by=lead, measure=row, judgement="range", high="2")


def test_the_unit_stays_once_something_was_read(mechanic, lead, play):
    measure_change(by=lead, measure=play, unit="cm")
    reading_add(by=mechanic, measure=play, values=["2"])
    with pytest.raises(ValidationError, match="old unit"):
        measure_change(by=lead, measure=play, unit="mm")


@pytest.mark.parametrize("values", [[], ["1", "2"], [None], [""], ["abc"], ["nan"]])
def test_values_that_are_none(values, mechanic, play):
    with pytest.raises(ValidationError) as caught:
        reading_add(by=mechanic, measure=play, values=values)
    assert "values" in caught.value.message_dict
    assert not Reading.objects.exists()


def test_a_binary_float_is_no_reading(mechanic, play):
    """0.1 + 0.2 would be past a limit of 0.3."""
    measure = MeasureFactory(vehicle=play.vehicle, high=Decimal("0.3"))
    assert (
        reading_add(by=mechanic, measure=measure, values=[Decimal("0.1") + Decimal("0.2")]).verdict == "near"
    )


def test_a_spread_between_cylinders_names_the_low_one(mechanic, vehicle):
    measure = MeasureFactory(
        vehicle=vehicle, name="Compression", unit="bar", judgement="spread", basis="lowest of highest", low=Decimal(75), high=None,
        positions=["cylinder 1", "cylinder 2", "cylinder 3"],
    )  # fmt: skip
    row = reading_add(by=mechanic, measure=measure, values=["7.0", "5.1", "6.8"])
    assert row.verdict == "past"
    assert row.verdict_words.startswith("Cylinder 2: past the limit")
    assert reading_add(by=mechanic, measure=measure, values=["7.0", None, "6.8"]).verdict == "not sure"


def test_a_drop_since_the_last_and_a_trend_of_its_own(mechanic, vehicle):
    drop = MeasureFactory(
        vehicle=vehicle, name="Best", unit="bar", judgement="drop", basis="percent", high=Decimal(15)
    )
    now = timezone.now()
    first = reading_add(by=mechanic, measure=drop, values=["8"], at=now - dt.timedelta(days=9))
    assert first.verdict == "not sure"
    assert (
        reading_add(by=mechanic, measure=drop, values=["7"], at=now - dt.timedelta(days=5)).verdict
        == "within"
    )
    assert reading_add(by=mechanic, measure=drop, values=["5.9"], at=now).verdict == "past"
    trend = MeasureFactory(
        vehicle=vehicle, name="Oil used", unit="L", judgement="trend", basis="percent", high=Decimal(100)
    )
    verdicts = [
        reading_add(by=mechanic, measure=trend, values=[v], at=now - dt.timedelta(days=9 - n)).verdict
        for n, v in enumerate(["1.0", "1.1", "0.9", "0.4"])
    ]
    assert verdicts == ["not sure", "not sure", "not sure", "within"]


def test_a_look_has_named_answers(mechanic, vehicle):
    measure = MeasureFactory(
        vehicle=vehicle,
        name="Hose",
        unit="",
        judgement="look",
        high=None,
        choices=["sound", "crazed?", "|", "chafed to braid"],
    )
    assert look_words(measure.choices) == {"sound": "within", "crazed": "near", "chafed to braid": "past"}
    for value, verdict in (
        ("sound", "within"),
        ("crazed", "near"),
        ("chafed to braid", "past"),
        ("dark", "not sure"),
    ):
        assert reading_add(by=mechanic, measure=measure, values=[value]).verdict == verdict


def test_a_wrong_one_is_replaced_and_stays_readable(mechanic, play):
    old = reading_add(by=mechanic, measure=play, values=["3"])
    with pytest.raises(ValidationError) as caught:
        reading_replace(by=mechanic, reading=old, values=["33"], note=" ")
    assert "note" in caught.value.message_dict
    new = reading_replace(by=mechanic, reading=old, values=["33"], note="read in centimetres")
    old.refresh_from_db()
    assert (new.replaces, new.at, new.verdict, old.values, old.replaced_by) == (
        old,
        old.at,
        "past",
        ["3"],
        new,
    )
    with pytest.raises(ValidationError, match="replaced already"):
        reading_replace(by=mechanic, reading=old, values=["34"], note="again")


def test_a_job_waits_for_its_readings(mechanic, vehicle, play):
    card = CardFactory(vehicle=vehicle, taken_by=mechanic, state=CardState.IN_HAND)
    card.measures.add(play)
    found = MeasureFactory(vehicle=vehicle, name="Kingpin play")
    reading_add(by=mechanic, measure=found, values=["31"], card=card, moment_of="as found")
    (wait,) = card_close(card=card, by=mechanic, outcome="done", words="shimmed")
    assert wait.words == "Readings wanted as left: Free play at the rim; Kingpin play."
    reading_add(by=mechanic, measure=play, values=["12"], card=card, moment_of="as left")
    card.refresh_from_db()
    assert card.state == CardState.IN_HAND
    reading_add(by=mechanic, measure=found, values=["1"], card=card, moment_of="as left")
    card.refresh_from_db()
    assert card.state == CardState.PASSED


def test_who_reads_and_on_which_vehicle(driver, curator, mechanic, play):
    reading_add(by=curator, measure=play, values=["3"])
    with pytest.raises(PermissionDenied):
        reading_add(by=driver, measure=play, values=["3"])
    with pytest.raises(ValidationError, match="another vehicle"):
        reading_add(by=mechanic, measure=play, values=["3"], card=CardFactory(vehicle=VehicleFactory()))


def test_the_readings_of_a_job_are_those_of_its_system(vehicle, play):
    MeasureFactory(vehicle=vehicle, system="BRK", name="Lining")
    card = CardFactory(vehicle=vehicle, subsystem=vehicle.subsystems.get(code="STE.box"))
    assert list(measures_for(card)) == [play]
    assert len(measures_for(CardFactory(vehicle=vehicle))) == 2


@pytest.mark.parametrize(
    ("fields", "row"),
    [
        ({"judgement": "min", "low": Decimal("1.60"), "high": None}, {"kind": "min", "low": "1.6", "near": "0.16"}),
        ({"judgement": "range", "low": Decimal(5), "high": Decimal(15)}, {"kind": "range", "low": "5", "high": "15", "near": "1"}),
        ({"judgement": "spread", "basis": "percent of highest"}, {"kind": "spread", "high": "30", "measure": "share of highest", "near": "3"}),
        ({"judgement": "spread", "basis": "absolute"}, {"kind": "spread", "high": "30", "measure": "difference", "near": "3"}),
        ({"judgement": "max", "source": ""}, {"kind": "max", "high": "30", "near": "3", "source": "source not on file"}),
    ],
)  # fmt: skip
def test_the_limit_as_it_is_stored(fields, row):
    measure = MeasureFactory.build(vehicle=None, **fields)
    assert limit_row(measure, Decimal("0.1")) == {"source": "house rule", "unit": "mm", **row}
