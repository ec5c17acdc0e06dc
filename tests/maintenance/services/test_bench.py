import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import connection
from django.utils import timezone

from fleet.errors import Conflict
from fleet.services.photos import photo_add
from maintenance.enums import CardState
from maintenance.models import Access, JobCard, JobPhoto, Supplier
from maintenance.queries.cards import card_detail, shares_opening
from maintenance.services import cards
from maintenance.waits import cautions_needed, waits_for
from tests.factories import CardFactory, DefectFactory, DeferralFactory, MeasureFactory, PartNeedFactory
from tests.fleet.test_photos import picture

pytestmark = pytest.mark.django_db


@pytest.fixture
def card(vehicle, mechanic):
    return CardFactory(vehicle=vehicle, taken_by=mechanic, state=CardState.IN_HAND)


def test_cautions_come_once_a_person_and_day(card, mechanic, lead, vehicle):
    card.subsystem = vehicle.subsystems.get(code="BRK")
    card.access = Access.objects.create(name="pit", hazards=["H13", "H8"])
    card.save()
    today = timezone.localdate()
    assert [h.code for h in cautions_needed(card, mechanic, today)] == ["H8", "H9", "H10", "H13"]
    first = cards.cautions_read(card=card, by=mechanic)
    assert cards.cautions_read(card=card, by=mechanic) == first
    assert cautions_needed(card, mechanic, today) == []
    assert len(cautions_needed(card, mechanic, today + dt.timedelta(days=1))) == 4
    assert len(cautions_needed(card, lead, today)) == 4


def test_steps_are_ticked_and_unticked(card, mechanic, driver):
    one, two = cards.card_steps_set(card=card, by=mechanic, steps=["Chock", ("Drain", "manual p. 3")])
    assert cards.step_done(step=one, by=mechanic).done_by == mechanic
    with pytest.raises(PermissionDenied):
        cards.step_done(step=two, by=driver)
    kept = cards.card_steps_set(card=card, by=mechanic, steps=["Chock", "Refill"])
    assert [(s.text, s.done_at is not None) for s in kept] == [("Chock", True), ("Refill", False)]
    assert cards.step_undo(step=one, by=mechanic).done_at is None


def test_hours_are_ones_own(card, mechanic, lead, driver):
    cards.hours_add(card=card, by=mechanic, hours="1.25")
    cards.hours_add(card=card, by=lead, person=mechanic, hours=2, day=dt.date(2026, 1, 5))
    assert sorted(log.hours for log in card.hours.all()) == [Decimal("1.25"), Decimal(2)]
    with pytest.raises(PermissionDenied, match="Write your own hours"):
        cards.hours_add(card=card, by=mechanic, person=lead, hours=1)
    with pytest.raises(PermissionDenied):
        cards.hours_add(card=card, by=driver, hours=1)
    for wrong in ("0", "-1", "25", "x"):
        with pytest.raises(ValidationError) as caught:
            cards.hours_add(card=card, by=mechanic, hours=wrong)
        assert "hours" in caught.value.message_dict
    with pytest.raises(ValidationError, match="not come yet"):
        cards.hours_add(card=card, by=mechanic, hours=1, day=timezone.localdate() + dt.timedelta(days=1))


def test_hours_begin_a_job_but_not_one_that_is_put_off(mechanic):
    for before, after in [
        (CardState.BOOKED_IN, CardState.IN_HAND), (CardState.CARRIED_FORWARD, CardState.CARRIED_FORWARD),
        (CardState.HELD, CardState.HELD), (CardState.PASSED, CardState.PASSED),
    ]:  # fmt: skip
        card = CardFactory(state=before, held_for="part" if before == CardState.HELD else "")
        cards.hours_add(card=card, by=mechanic, hours=1)
        card.refresh_from_db()
        assert card.state == after


def test_off_and_on_again(card, mechanic):
    first = cards.strip_add(card=card, by=mechanic, what="drum", tray="A1", marks="dab of paint at top")
    second = cards.strip_add(card=card, by=mechanic, what="split pin", renew="split pin")
    card.refresh_from_db()
    assert ([first.number, second.number], card.is_stripped) == ([1, 2], True)
    with pytest.raises(ValidationError) as caught:
        cards.refit_done(card=card, by=mechanic)
    assert caught.value.message_dict["refit"] == [
        "Not back on yet: 1 drum; 2 split pin. Tick each one, or say why it stays off."
    ]
    cards.strip_back(item=first, by=mechanic)
    cards.strip_back(item=second, by=mechanic, not_back_reason="scrapped, a new one went in")
    row = cards.refit_done(card=card, by=mechanic)
    assert row.refit_at is not None
    assert row.state == CardState.TESTED  # this job asks for no test
    cards.strip_add(card=card, by=mechanic, what="drum again")
    row.refresh_from_db()
    assert (row.refit_at, row.state, row.is_stripped) == (None, CardState.IN_HAND, True)


def test_two_phones_give_the_same_number(card, mechanic):
    cards.strip_add(card=card, by=mechanic, what="drum", number=1)
    with pytest.raises(Conflict, match=r"Number 1 is drum already\. The next free number is 2"):
        cards.strip_add(card=card, by=mechanic, what="pin", number=1)


def test_leaving_it_safe_says_all_three(card, mechanic):
    said = {"state_of_strip": "drum off", "parts_where": "tray A1", "next_step": "measure"}
    for missing in said:
        with pytest.raises(ValidationError) as caught:
            cards.left_safe(card=card, by=mechanic, **{**said, missing: " "})
        assert missing in caught.value.message_dict
    assert cards.left_safe(card=card, by=mechanic, **said).next_step == "measure"


def test_an_original_part_is_kept(card, mechanic):
    card.removes_original = True
    card.save()
    assert [wait.code for wait in waits_for(card)] == ["original"]
    with pytest.raises(ValidationError):
        cards.original_kept(card=card, by=mechanic, label="R-118", shelf="")
    row = cards.original_kept(card=card, by=mechanic, label="R-118", shelf="D3")
    assert waits_for(row) == []


def test_a_photograph_goes_with_a_job_once(card, mechanic, vehicle):
    photo = photo_add(by=mechanic, upload=picture(), vehicle=vehicle)
    first = cards.card_photo_add(card=card, by=mechanic, photo=photo, moment_of="as found")
    assert cards.card_photo_add(card=card, by=mechanic, photo=photo, moment_of="as found") == first
    item = cards.strip_add(card=CardFactory(), by=mechanic, what="x")
    with pytest.raises(ValidationError, match="another job"):
        cards.card_photo_add(card=card, by=mechanic, photo=photo, item=item)
    assert JobPhoto.objects.count() == 1


def test_what_shares_the_opening(vehicle):
    lift = Access.objects.create(name="pack lift")
    card, same = CardFactory(vehicle=vehicle, access=lift), CardFactory(vehicle=vehicle, access=lift)
    CardFactory(vehicle=vehicle)
    CardFactory(access=lift)
    CardFactory(vehicle=vehicle, access=lift, state=CardState.PASSED)
    assert list(shares_opening(card)) == [same]
    assert list(shares_opening(CardFactory())) == []


@pytest.mark.parametrize("count", [1, 3])
def test_one_job_whole_costs_the_same_however_full(
    count, card, mechanic, lead, vehicle, django_assert_num_queries
):
    from maintenance.services.readings import reading_add

    card.subsystem = vehicle.subsystems.get(code="BRK")
    card.access = Access.objects.create(name="pit", hazards=["H13"])
    card.save()
    for number in range(count):
        cards.strip_add(card=card, by=mechanic, what=f"thing {number}")
        cards.hours_add(card=card, by=lead, hours=1)
        cards.cautions_read(card=card, by=mechanic, day=dt.date(2026, 1, 1 + number))
        defect = DefectFactory(vehicle=vehicle, effects={"STOP": "watch"}, answers={"what": "pulls"})
        DeferralFactory(defect=defect).limits.create(kind="max speed", value="20.50")
        card.defects.add(defect)
        PartNeedFactory(card=card, supplier=Supplier.objects.create(name=f"Kettle and Sons {number}"))
        cards.left_safe(
            card=card, by=mechanic, state_of_strip=f"state {number}", parts_where="tray", next_step="x"
        )
        card.after.add(CardFactory(vehicle=vehicle))
        CardFactory(vehicle=vehicle, found_on=card)
        measure = MeasureFactory(vehicle=vehicle)
        card.measures.add(measure)
        reading_add(by=mechanic, measure=measure, values=["12"], card=card, moment_of="as found")
    cards.card_steps_set(card=card, by=mechanic, steps=[f"step {n}" for n in range(count)])
    assert connection.features.supports_json_field  # asked of the database once a process
    with django_assert_num_queries(3):
        row = card_detail(card.pk)
        waits = [wait.code for wait in waits_for(row, person=mechanic)]
        assert cautions_needed(row, mechanic, timezone.localdate())
        assert [d.effects.all()[0].function for d in row.defects.all()] == ["STOP"] * count
        assert [d.answers for d in row.defects.all()] == [{"what": "pulls"}] * count
        limits = [limit for d in row.defects.all() for one in d.deferrals.all() for limit in one.limits.all()]
        assert [limit.words for limit in limits] == ["not above 20.5 km/h"] * count
        assert [log.person.name for log in row.hours.all()] == ["Berit Holm"] * count
        assert [log.hours for log in row.hours.all()] == [Decimal(1)] * count
        assert [part.supplier.name for part in row.parts.all()] == [
            f"Kettle and Sons {n}" for n in range(count)
        ]
        assert [item.off_by.name for item in row.strip_items.all()] == ["Asta Finch"] * count
        assert [(r.measure.name, r.by.name) for r in row.readings.all()] == [
            ("Free play at the rim", "Asta Finch")
        ] * count
        assert row.left_safe.all()[0].state_of_strip == f"state {count - 1}"
        assert len(row.after.all()) == len(row.spawned.all()) == count
        assert all(str(one) for one in [*row.after.all(), *row.spawned.all()])
    assert waits == ["steps", "refit", "readings"]


def test_one_job_whole_is_what_the_tables_say(card, mechanic, vehicle):
    """Every column of every list, made from JSON, equals the row read plainly."""
    from maintenance.services.readings import reading_add, reading_replace

    card.defects.add(DefectFactory(vehicle=vehicle, effects={"STOP": "watch"}, answers={"what": "pulls"}))
    DeferralFactory(defect=card.defects.get()).limits.create(kind="max speed", value="20.50")
    (step,) = cards.card_steps_set(card=card, by=mechanic, steps=[("Drain", "manual p. 3")])
    cards.step_done(step=step, by=mechanic)
    item = cards.strip_add(card=card, by=mechanic, what="drum", marks="dab of paint, 30\u00b0 past top")
    cards.strip_back(item=item, by=mechanic)
    cards.refit_done(card=card, by=mechanic)
    cards.hours_add(card=card, by=mechanic, hours="1.25")
    cards.cautions_read(card=card, by=mechanic)
    cards.left_safe(card=card, by=mechanic, state_of_strip="x", parts_where="x", next_step="x")
    cards.test_record(card=card, by=mechanic, kind="functional", passed=False, words="binds")
    card.signatures.create(kind="doer", person=mechanic)
    card.tags.create(vehicle=vehicle, reason="x", stub="0001")
    PartNeedFactory(card=card, promised_on=dt.date(2026, 5, 1))
    measure = MeasureFactory(vehicle=vehicle, positions=["left", "right"], high=Decimal("30.1250"))
    card.measures.add(measure)
    wrong = reading_add(by=mechanic, measure=measure, values=["1", "2.50"], card=card)
    reading_replace(by=mechanic, reading=wrong, values=["1", "3"], note="misread")
    cards.card_photo_add(
        card=card, by=mechanic, photo=photo_add(by=mechanic, upload=picture(), vehicle=vehicle), item=item
    )
    cards.card_plan(card=card, by=mechanic, skills=["brakes"], tools=["puller"])
    whole, plain = card_detail(card.pk), JobCard.objects.get(pk=card.pk)
    for name in (
        "steps", "strip_items", "tests", "signatures", "hours", "cautions_read", "left_safe", "tags", "parts",
        "card_photos", "readings", "measures", "defects", "skills", "tools",
    ):  # fmt: skip
        seen, stored = list(getattr(whole, name).all()), list(getattr(plain, name).all())
        assert stored, name
        assert seen == stored, name
        for one, other in zip(seen, stored, strict=True):
            for field in one._meta.concrete_fields:
                got, want = getattr(one, field.attname), getattr(other, field.attname)
                assert (type(got), got) == (type(want), want), f"{name}.{field.name}"
    assert [hasattr(reading, "replaced_by") for reading in whole.readings.all()] == [True, False]
    assert waits_for(whole) == waits_for(plain)
