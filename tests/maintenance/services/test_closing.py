"""The end of a job: nothing handed in is lost, whoever did the work does not pass it, passing changes the vehicle."""

import datetime as dt

import pytest
from django.core.cache import cache
from django.core.exceptions import PermissionDenied, ValidationError
from django.utils import timezone

from fleet.services.people import pin_set
from maintenance.enums import CardState, DefectState, InspectionKind, NeedState, Timing
from maintenance.models import Inspection, JobSignature, WorkLog
from maintenance.queries.cards import to_sign
from maintenance.rules import may_second_sign
from maintenance.services import cards
from maintenance.waits import doers, waits_for
from tests.factories import (
    CardFactory,
    CompetenceFactory,
    DefectFactory,
    DeferralFactory,
    InspectionFactory,
    MeterFactory,
    PartNeedFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def empty_cache():
    cache.clear()


@pytest.fixture
def defect(vehicle):
    return DefectFactory(vehicle=vehicle, severity=2, effects={"STOP": "reduced"})


@pytest.fixture
def card(mechanic, vehicle, defect):
    """A brake job in the mechanic's hands: functional and road test, second signature for brakes."""
    card = cards.card_open(
        by=mechanic,
        vehicle=vehicle,
        title="Clevis pins",
        subsystem=vehicle.subsystems.get(code="BRK"),
        defects=[defect],
    )
    cards.card_take(card=card, by=mechanic)
    cards.cautions_read(card=card, by=mechanic)
    return card


def codes(waits) -> list[str]:
    return [wait.code for wait in waits]


def state(card) -> str:
    card.refresh_from_db()
    return card.state


def hand_in(card, by, outcome="done"):
    return cards.card_close(card=card, by=by, outcome=outcome, words="pins renewed")


def finish(card, mechanic, inspector, password):
    """Everything up to passed, in the order of the workshop."""
    item = cards.strip_add(card=card, by=mechanic, what="pins")
    cards.strip_back(item=item, by=mechanic)
    cards.refit_done(card=card, by=mechanic)
    cards.test_record(card=card, by=mechanic, kind="functional", passed=True)
    cards.test_record(card=card, by=inspector, kind="road", passed=True)
    cards.second_sign(card=card, by=inspector, proof=password)
    return hand_in(card, mechanic)


def test_the_whole_way(card, defect, mechanic, inspector, password):
    cards.strip_add(card=card, by=mechanic, what="pins")
    assert codes(hand_in(card, mechanic)) == ["refit", "test functional", "test road", "second signature"]
    assert state(card) == CardState.IN_HAND
    cards.strip_back(item=card.strip_items.get(), by=mechanic)
    assert cards.refit_done(card=card, by=mechanic).state == CardState.REFIT_DONE
    cards.test_record(card=card, by=mechanic, kind="functional", passed=True)
    assert state(card) == CardState.REFIT_DONE
    cards.test_record(card=card, by=inspector, kind="road", passed=True)
    assert state(card) == CardState.TESTED
    assert list(to_sign(inspector, timezone.localdate())) == [card]
    assert list(to_sign(mechanic, timezone.localdate())) == []
    signature = cards.second_sign(card=card, by=inspector, proof=password)
    assert (signature.area, signature.proof, signature.person) == ("brakes", "password", inspector)
    assert state(card) == CardState.PASSED
    defect.refresh_from_db()
    assert (defect.state, defect.end_reason) == (DefectState.CLEARED, f"Done on job {card.serial}.")
    assert card.ended_at is not None


def test_handing_in_last_passes_at_once(card, mechanic, inspector, password):
    assert finish(card, mechanic, inspector, password) == []
    assert state(card) == CardState.PASSED


@pytest.mark.parametrize("outcome", ["", "maybe", "passed"])
def test_an_outcome_off_the_list(card, mechanic, outcome):
    with pytest.raises(ValidationError) as caught:
        hand_in(card, mechanic, outcome)
    assert "outcome" in caught.value.message_dict


def test_words_are_wanted_and_the_right_person(card, mechanic, driver, lead):
    with pytest.raises(ValidationError) as caught:
        cards.card_close(card=card, by=mechanic, outcome="done", words=" ")
    assert "words" in caught.value.message_dict
    with pytest.raises(PermissionDenied):
        hand_in(card, driver)
    mechanic.is_trainee = True
    with pytest.raises(PermissionDenied, match="does not hand in a job alone"):
        hand_in(card, mechanic)


class TestSecondSignature:
    def test_the_doer_never_passes_it(self, card, mechanic, password):
        CompetenceFactory(person=mechanic, area="brakes")
        with pytest.raises(PermissionDenied, match="Whoever did safety work does not pass it"):
            cards.second_sign(card=card, by=mechanic, proof=password)

    @pytest.mark.parametrize("how", ["hours", "hand in", "step", "off", "on"])
    def test_every_way_of_doing_counts(self, how, card, mechanic, inspector, lead, password):
        inspector.is_mechanic = True
        inspector.save()
        if how == "hours":
            WorkLog.objects.create(card=card, person=inspector, day=timezone.localdate(), hours=1)
        elif how == "hand in":
            cards.card_close(card=card, by=inspector, outcome="limit", words="x")
        elif how == "step":
            (step,) = cards.card_steps_set(card=card, by=mechanic, steps=["x"])
            cards.step_done(step=step, by=inspector)
        else:
            item = cards.strip_add(card=card, by=inspector if how == "off" else mechanic, what="x")
            cards.strip_back(item=item, by=inspector if how == "on" else mechanic)
            cards.refit_done(card=card, by=mechanic)
        card.refresh_from_db()
        assert inspector.pk in doers(card)
        with pytest.raises(PermissionDenied, match="does not pass it"):
            cards.second_sign(card=card, by=inspector, proof=password)

    def test_the_rule_alone(self, card, mechanic, inspector, curator):
        """What a page asks before it offers the button, without the service behind it."""
        card.refresh_from_db()
        today, held = timezone.localdate(), [CompetenceFactory.build(person=None, area="brakes")]
        assert may_second_sign(inspector, card, held, today)
        assert not may_second_sign(inspector, card, [], today)
        assert not may_second_sign(mechanic, card, held, today)
        assert not may_second_sign(curator, card, held, today)
        assert not may_second_sign(None, card, held, today)
        inspector.is_trainee = True
        assert not may_second_sign(inspector, card, held, today)

    def test_only_in_ones_area_and_time(self, card, lead, inspector, password):
        with pytest.raises(PermissionDenied, match="not authorised to pass brakes"):
            cards.second_sign(card=card, by=lead, proof=password)
        yesterday = timezone.localdate() - dt.timedelta(days=1)
        inspector.competences.filter(area="brakes").update(valid_through=yesterday)
        with pytest.raises(PermissionDenied, match="not authorised"):
            cards.second_sign(card=card, by=inspector, proof=password)
        inspector.competences.filter(area="brakes").update(valid_through=timezone.localdate())
        assert cards.second_sign(card=card, by=inspector, proof=password).area == "brakes"

    def test_any_area_is_every_area(self, card, lead, password):
        CompetenceFactory(person=lead, area="any")
        assert cards.second_sign(card=card, by=lead, proof=password).person == lead

    def test_on_anothers_phone_by_pin(self, card, mechanic, inspector, password):
        pin_set(by=inspector, pin="271828")
        for wrong in ("", "000000", "111112"):
            with pytest.raises(ValidationError, match="not the password or PIN of Gudrun Ash"):
                cards.second_sign(card=card, by=mechanic, person=inspector, proof=wrong)
        assert not JobSignature.objects.filter(kind="inspector").exists()
        signature = cards.second_sign(card=card, by=mechanic, person=inspector, proof="271828")
        assert (signature.person, signature.proof) == (inspector, "PIN")

    def test_ones_own_password_even_when_signed_in(self, card, inspector):
        with pytest.raises(ValidationError):
            cards.second_sign(card=card, by=inspector, proof="")

    def test_not_in_pieces_and_not_where_none_is_asked(self, card, mechanic, inspector, password):
        cards.strip_add(card=card, by=mechanic, what="pins")
        with pytest.raises(ValidationError, match="not put together"):
            cards.second_sign(card=card, by=inspector, proof=password)
        with pytest.raises(ValidationError, match="asks for no second signature"):
            cards.second_sign(card=CardFactory(), by=inspector, proof=password)

    def test_one_from_before_the_refit_says_nothing(self, card, mechanic, inspector, password):
        cards.second_sign(card=card, by=inspector, proof=password)
        card.refresh_from_db()
        assert "second signature" not in codes(waits_for(card))
        item = cards.strip_add(card=card, by=mechanic, what="pins")
        cards.strip_back(item=item, by=mechanic)
        cards.refit_done(card=card, by=mechanic)
        card.refresh_from_db()
        assert "second signature" in codes(waits_for(card))

    def test_one_who_works_on_it_afterwards_has_not_passed_it(self, card, inspector, password):
        cards.second_sign(card=card, by=inspector, proof=password)
        WorkLog.objects.create(card=card, person=inspector, day=timezone.localdate(), hours=1)
        card.refresh_from_db()
        assert "second signature" in codes(waits_for(card))


class TestTests:
    def test_the_last_one_counts(self, card, mechanic):
        cards.test_record(card=card, by=mechanic, kind="functional", passed=True)
        cards.test_record(card=card, by=mechanic, kind="functional", passed=False, words="pulls left")
        assert "test functional" in codes(waits_for(card))
        cards.test_record(card=card, by=mechanic, kind="functional", passed=True)
        assert "test functional" not in codes(waits_for(card))

    def test_a_failed_one_says_why_and_goes_back_to_the_bench(self, card, mechanic):
        cards.refit_done(card=card, by=mechanic)
        with pytest.raises(ValidationError) as caught:
            cards.test_record(card=card, by=mechanic, kind="road", passed=False)
        assert "words" in caught.value.message_dict
        cards.test_record(card=card, by=mechanic, kind="road", passed=False, words="pulls left")
        assert state(card) == CardState.IN_HAND

    def test_not_in_pieces_but_on_the_bench(self, card, mechanic):
        cards.strip_add(card=card, by=mechanic, what="cylinder")
        with pytest.raises(ValidationError, match="not put together"):
            cards.test_record(card=card, by=mechanic, kind="functional", passed=True)
        assert cards.test_record(card=card, by=mechanic, kind="bench", passed=True).passed

    def test_one_from_before_the_refit_says_nothing(self, card, mechanic):
        cards.test_record(card=card, by=mechanic, kind="functional", passed=True)
        cards.refit_done(card=card, by=mechanic)
        card.refresh_from_db()
        assert "test functional" in codes(waits_for(card))

    def test_a_driver_tests_and_a_curator_does_not(self, card, driver, curator):
        cards.test_record(card=card, by=driver, kind="road", passed=True)
        with pytest.raises(PermissionDenied):
            cards.test_record(card=card, by=curator, kind="road", passed=True)


class TestWaits:
    def test_each_in_the_order_of_the_work(self, card, mechanic, vehicle):
        card.cautions_read.all().delete()
        card.needs_consent, card.removes_original = True, True
        card.save()
        cards.card_steps_set(card=card, by=mechanic, steps=["Chock"])
        card.strip_items.create(number=1, what="pin")
        card.strip_items.create(number=3, what="rod")
        assert codes(waits_for(card)) == [
            "cautions", "consent", "steps", "strip gap", "original", "refit", "test functional", "test road",
            "second signature",
        ]  # fmt: skip
        words = {wait.code: wait.words for wait in waits_for(card)}
        assert words["strip gap"].startswith("Number 2 is missing")
        assert words["refit"] == "Not back on yet: 1 pin; 3 rod."
        assert words["steps"] == "Not done yet: Chock."

    def test_the_one_who_hands_in_has_read_the_cautions(self, card, lead, mechanic):
        assert "cautions" not in codes(waits_for(card, person=mechanic))
        assert "cautions" in codes(waits_for(card, person=lead))

    def test_no_means_no(self, card, curator):
        cards.consent_answer(card=card, by=curator, answer="no", words="not that paint")
        card.refresh_from_db()
        assert waits_for(card)[0].words.startswith("The curator said no.")

    def test_it_passes_when_the_last_thing_is_done_whatever_that_is(self, mechanic, vehicle):
        card = CardFactory(vehicle=vehicle, taken_by=mechanic, state=CardState.IN_HAND)
        (step,) = cards.card_steps_set(card=card, by=mechanic, steps=["Wipe down"])
        assert codes(hand_in(card, mechanic)) == ["steps"]
        cards.step_done(step=step, by=mechanic)
        assert state(card) == CardState.PASSED

    def test_a_job_that_is_not_handed_in_never_passes_by_itself(self, mechanic):
        card = CardFactory(taken_by=mechanic, state=CardState.IN_HAND)
        cards.refit_done(card=card, by=mechanic)
        assert state(card) == CardState.TESTED


class TestOutcomes:
    def test_a_limit_is_needed_leaves_the_fault_open(self, mechanic, vehicle, defect):
        card = CardFactory(vehicle=vehicle, taken_by=mechanic, defects=[defect])
        assert hand_in(card, mechanic, "limit") == []
        defect.refresh_from_db()
        assert (state(card), defect.state) == (CardState.PASSED, DefectState.ASSESSED)

    def test_must_not_run_hangs_a_tag_once(self, card, mechanic, defect):
        assert hand_in(card, mechanic, "not run") == []
        assert (state(card), card.taken_by) == (CardState.ASSESSED, None)
        tag = card.tags.get()
        assert (tag.vehicle, tag.reason, tag.placed_by, tag.stub) == (
            card.vehicle,
            "pins renewed",
            mechanic,
            "0001",
        )
        hand_in(card, mechanic, "not run")
        assert card.tags.count() == 1
        defect.refresh_from_db()
        assert defect.state == DefectState.ASSESSED

    def test_put_back_as_found_is_done_after_the_event_and_keeps_what_was_learnt(self, card, mechanic):
        item = cards.strip_add(card=card, by=mechanic, what="cover")
        with pytest.raises(ValidationError, match=r"not as it was found\. Not back on yet: 1 cover"):
            cards.put_back_as_found(card=card, by=mechanic, words="seized, needs heat")
        cards.strip_back(item=item, by=mechanic)
        cards.refit_done(card=card, by=mechanic)
        row = cards.put_back_as_found(card=card, by=mechanic, words="seized, needs heat")
        assert (row.state, row.timing, row.taken_by) == (CardState.ASSESSED, Timing.AFTER, None)
        assert row.outcome_words == "seized, needs heat"

    def test_put_back_as_found_never_passes_by_itself(self, mechanic):
        card = CardFactory(taken_by=mechanic, state=CardState.IN_HAND)
        cards.put_back_as_found(card=card, by=mechanic, words="no time")
        cards.hours_add(card=card, by=mechanic, hours=1)
        assert state(card) == CardState.IN_HAND


class TestWhatPassingDoes:
    def test_a_brake_repair_voids_the_brake_reading_and_nothing_else(
        self, card, mechanic, inspector, password, vehicle
    ):
        kinds = (InspectionKind.BRAKE_READING, InspectionKind.RUNNING_GEAR, InspectionKind.ANNUAL)
        rows = {kind: InspectionFactory(vehicle=vehicle, kind=kind) for kind in kinds}
        elsewhere = InspectionFactory(kind=InspectionKind.BRAKE_READING)
        finish(card, mechanic, inspector, password)
        void = set(Inspection.objects.exclude(voided_at=None))
        assert void == {rows[InspectionKind.BRAKE_READING]}
        assert elsewhere not in void
        assert void.pop().voided_why == f"Repair on brakes: job {card.serial}. To be done again."

    def test_a_repair_that_is_no_repair_voids_nothing(self, card, mechanic, inspector, password, vehicle):
        InspectionFactory(vehicle=vehicle)
        card.voids_readings = False
        card.save()
        finish(card, mechanic, inspector, password)
        assert not Inspection.objects.exclude(voided_at=None).exists()

    def test_the_job_that_carries_out_an_inspection_renews_it(self, mechanic, vehicle):
        inspection = InspectionFactory(
            vehicle=vehicle, kind=InspectionKind.RUNNING_GEAR, due_on=timezone.localdate(), interval_days=180
        )
        card = CardFactory(
            vehicle=vehicle,
            taken_by=mechanic,
            inspection=inspection,
            kind="defect",
            subsystem=vehicle.subsystems.get(code="STE"),
        )
        cards.cautions_read(card=card, by=mechanic)
        assert hand_in(card, mechanic) == []
        inspection.refresh_from_db()
        assert inspection.due_on == timezone.localdate() + dt.timedelta(days=180)
        assert inspection.voided_at is None
        assert inspection.results.get().words.startswith(f"Job {card.serial}.")

    def test_an_outside_examination_needs_its_certificate(self, mechanic, vehicle):
        inspection = InspectionFactory(vehicle=vehicle, kind=InspectionKind.LIFTING, outside=True)
        card = CardFactory(vehicle=vehicle, taken_by=mechanic, inspection=inspection, kind="periodic")
        hand_in(card, mechanic)
        assert state(card) == CardState.PASSED
        assert not inspection.results.exists()

    def test_an_inspection_by_meter_wants_the_meter_read(self, mechanic, vehicle):
        inspection = InspectionFactory(
            vehicle=vehicle, kind="service", interval_meter="hours", interval_amount=50
        )
        card = CardFactory(vehicle=vehicle, taken_by=mechanic, inspection=inspection, kind="periodic")
        with pytest.raises(ValidationError, match="Read the meter"):
            hand_in(card, mechanic)
        assert state(card) != CardState.PASSED
        MeterFactory(vehicle=vehicle).readings.create(shown=100, total=4100, read_at=timezone.now())
        hand_in(card, mechanic)
        inspection.refresh_from_db()
        assert inspection.due_at_meter == 4150

    def test_parts(self, mechanic, vehicle):
        card = CardFactory(vehicle=vehicle, taken_by=mechanic)
        states = {
            NeedState.ON_SHELF: NeedState.FITTED,
            NeedState.NOT_ORDERED: NeedState.NOT_NEEDED,
            NeedState.UNKNOWN: NeedState.NOT_NEEDED,
            NeedState.FITTED: NeedState.FITTED,
        }
        parts = {before: PartNeedFactory(card=card, state=before) for before in states}
        coming = PartNeedFactory(card=card, state=NeedState.ON_ORDER, promised_on=timezone.localdate())
        hand_in(card, mechanic)
        for before, part in parts.items():
            part.refresh_from_db()
            assert part.state == states[before]
        coming.refresh_from_db()
        assert coming.state == NeedState.ON_ORDER

    def test_a_fault_waits_for_the_last_of_its_jobs(self, mechanic, lead, vehicle, defect):
        one, two = (CardFactory(vehicle=vehicle, taken_by=mechanic, defects=[defect]) for _ in range(2))
        hand_in(one, mechanic)
        defect.refresh_from_db()
        assert defect.state == DefectState.ASSESSED
        cards.card_not_needed(card=two, by=lead, reason="the same lamp, opened twice")
        defect.refresh_from_db()
        assert defect.state == DefectState.CLEARED

    def test_what_was_put_off_ends_with_the_fault(self, mechanic, vehicle, defect):
        deferral = DeferralFactory(defect=defect)
        hand_in(CardFactory(vehicle=vehicle, taken_by=mechanic, defects=[defect]), mechanic)
        deferral.refresh_from_db()
        assert deferral.withdrawn_reason.startswith("Done on job")


class TestAfterwards:
    def test_return_to_service_by_the_lead_once_passed(self, card, mechanic, lead, inspector, password):
        with pytest.raises(ValidationError, match="not passed yet"):
            cards.return_to_service(card=card, by=lead)
        finish(card, mechanic, inspector, password)
        with pytest.raises(PermissionDenied):
            cards.return_to_service(card=card, by=mechanic)
        assert cards.return_to_service(card=card, by=lead, words="all roles").kind == "return to service"

    def test_opened_again_nothing_of_before_counts(self, card, defect, mechanic, inspector, password):
        finish(card, mechanic, inspector, password)
        with pytest.raises(ValidationError):
            cards.card_reopen(card=card, by=mechanic, reason="")
        row = cards.card_reopen(card=card, by=mechanic, reason="pin worked out")
        assert (row.state, row.outcome, row.ended_at, row.taken_by) == (CardState.BOOKED_IN, "", None, None)
        row.refresh_from_db()
        assert codes(waits_for(row)) == ["test functional", "test road", "second signature"]
        defect.refresh_from_db()
        assert defect.state == DefectState.ASSESSED
        with pytest.raises(ValidationError, match="open already"):
            cards.card_reopen(card=card, by=mechanic, reason="x")

    def test_dropped_by_the_lead_and_not_in_pieces(self, card, mechanic, lead, defect):
        with pytest.raises(PermissionDenied):
            cards.card_not_needed(card=card, by=mechanic, reason="x")
        cards.strip_add(card=card, by=mechanic, what="pin")
        with pytest.raises(ValidationError, match="not put together"):
            cards.card_not_needed(card=card, by=lead, reason="x")
        cards.strip_back(item=card.strip_items.get(), by=mechanic)
        cards.refit_done(card=card, by=mechanic)
        cards.card_not_needed(card=card, by=lead, reason="done on another")
        defect.refresh_from_db()
        assert (state(card), defect.state) == (CardState.NOT_NEEDED, DefectState.ASSESSED)

    def test_no_fault_found_clears_only_by_the_lead(self, mechanic, lead, vehicle):
        for person, expected in ((mechanic, DefectState.ASSESSED), (lead, DefectState.CLEARED)):
            defect = DefectFactory(vehicle=vehicle, effects={"SHOW": "watch"})
            card = CardFactory(vehicle=vehicle, defects=[defect])
            cards.no_fault_found(card=card, by=person, words="drove ten miles, dry")
            defect.refresh_from_db()
            assert (state(card), defect.state) == (CardState.NO_FAULT_FOUND, expected)
