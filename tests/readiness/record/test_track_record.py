"""What ran, written down after the slots; forecasts held against what came; what moved a chance from evening to evening."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse

from fleet.models import Act
from fleet.services import acts
from readiness.models import DayRecord, Outcome
from readiness.queries.track_record import track_record
from readiness.services import events
from readiness.services.entries import entry_add
from readiness.services.evening import evening_keep
from readiness.services.outcomes import Said, outcomes_write
from tests.factories import DefectFactory, VehicleFactory
from tests.readiness.programme.stage import FREEZE, SATURDAY, at, slot_of

pytestmark = pytest.mark.django_db
AFTER = at(SATURDAY, 13)


@pytest.fixture
def entries(event, coordinator):
    """Three vehicles in the arena, Saturday 11:00 to 12:00."""
    slot = slot_of(coordinator, event)
    return [entry_add(by=coordinator, slot=slot, vehicle=VehicleFactory()) for _ in range(3)]


def keep(entry, day: int, percent: int | None, came: bool | None, standing: str = "doubtful") -> DayRecord:
    return DayRecord.objects.create(
        event=entry.slot.event, entry=entry, vehicle_code=entry.vehicle.code, slot_code=entry.slot.code,
        day=dt.date(2027, 5, day), standing=standing, percent=percent, came_true=came,
    )  # fmt: skip


def test_only_the_lead_and_the_coordinator_write_it_down_and_the_book_says_so(
    event, entries, clock, lead, coordinator, manager, mechanic
) -> None:
    clock.move_to(AFTER)
    for nobody in (manager, mechanic):
        with pytest.raises(PermissionDenied):
            outcomes_write(by=nobody, event=event, said={entries[0].pk: Said("as entered")})
    outcomes_write(by=lead, event=event, said={entries[0].pk: Said("as entered")})
    outcomes_write(by=coordinator, event=event, said={entries[0].pk: Said("not", "clutch slipped")})
    act = Act.objects.filter(act="entry.ran").order_by("-pk")[0]
    assert (act.by, act.vehicle, act.detail["ran"], act.detail["why"]) == (
        coordinator, entries[0].vehicle, ["as entered", "not"], "clutch slipped",
    )  # fmt: skip


def test_a_slot_that_has_not_ended_has_no_outcome(event, entries, clock, lead) -> None:
    clock.move_to(at(SATURDAY, 11, 59))
    with pytest.raises(ValidationError, match="not known yet"):
        outcomes_write(by=lead, event=event, said={entries[0].pk: Said("as entered")})
    clock.move_to(at(SATURDAY, 12))
    assert len(outcomes_write(by=lead, event=event, said={entries[0].pk: Said("as entered")})) == 1


def test_not_as_entered_wants_a_reason_and_nothing_is_written_until_all_is_right(
    event, entries, clock, lead
) -> None:
    clock.move_to(AFTER)
    said = {entries[0].pk: Said("as entered"), entries[1].pk: Said("standby", " ")}
    with pytest.raises(ValidationError) as refused:
        outcomes_write(by=lead, event=event, said=said)
    assert list(refused.value.message_dict) == [f"entry-{entries[1].pk}"]
    assert not Outcome.objects.exists()


def test_writing_the_same_again_writes_nothing_and_emptying_takes_it_back(
    event, entries, clock, lead
) -> None:
    clock.move_to(AFTER)
    said = {entries[0].pk: Said("not", "wet"), entries[1].pk: Said("")}
    outcomes_write(by=lead, event=event, said=said)
    assert outcomes_write(by=lead, event=event, said=said) == []
    assert Act.objects.filter(act="entry.ran").count() == 1
    outcomes_write(by=lead, event=event, said={entries[0].pk: Said("")})
    assert not Outcome.objects.exists()
    assert Act.objects.filter(act="entry.ran").count() == 2


def test_nothing_ran_at_an_event_that_was_called_off(event, entries, clock, lead, coordinator) -> None:
    events.event_call_off(by=coordinator, event=event, reason="storm")
    event.refresh_from_db()
    clock.move_to(AFTER)
    with pytest.raises(ValidationError, match="called off"):
        outcomes_write(by=lead, event=event, said={entries[0].pk: Said("as entered")})


def test_an_entry_of_another_event_is_refused(event, entries, clock, lead) -> None:
    clock.move_to(AFTER)
    with pytest.raises(ValidationError, match="not on this programme"):
        outcomes_write(by=lead, event=event, said={entries[2].pk + 99: Said("as entered")})


def test_the_form_is_reached_from_the_programme_after_the_slot(
    event, entries, clock, login, lead, driver
) -> None:
    programme, form = (reverse(f"readiness:{name}", args=[event.code]) for name in ("event", "ran"))
    assert form not in login(lead).get(programme).content.decode()
    clock.move_to(AFTER)
    assert form in login(lead).get(programme).content.decode()
    assert form not in login(driver).get(programme).content.decode()
    assert login(driver).get(form).status_code == 403
    browser = login(lead)
    first, second, _ = entries
    wrong = browser.post(
        form, {f"ran-{first.pk}": "not", f"words-{first.pk}": "", f"ran-{second.pk}": "as entered"}
    )
    page = wrong.content.decode()
    assert wrong.status_code == 422
    assert "Say in a few words why." in page
    assert page.count("selected") == 2  # what was chosen is kept
    assert not Outcome.objects.exists()
    done = browser.post(
        form,
        {f"ran-{first.pk}": "not", f"words-{first.pk}": "no <b>spark</b>", f"ran-{second.pk}": "as entered"},
    )
    assert done.status_code == 302
    assert {o.entry_id: o.ran for o in Outcome.objects.all()} == {first.pk: "not", second.pk: "as entered"}
    keep(first, 3, 60, False)
    track = browser.get(reverse("readiness:track", args=[event.code])).content.decode()
    assert "Did not run: no &lt;b&gt;spark" in track
    assert browser.post(form, {f"ran-{first.pk}": "walked"}).status_code == 422


def test_one_forecast_an_entry_is_the_last_evening_before_the_freeze(
    entries, django_assert_num_queries
) -> None:
    """Last: 90 true, 20 false: ((.1)^2 + (.2)^2) / 2 = .025. All: also 10 true, 50 true, 40 false: (.81 + .25 + .16 + .05) / 5."""
    one, two, three = entries
    for day, percent in ((3, 10), (4, 50), (5, 90)):
        keep(one, day, percent, True)
    for day, percent in ((3, 40), (4, 20)):
        keep(two, day, percent, False)
    keep(three, 5, None, True, standing="fit")  # no chance was shown: nothing to compare
    keep(three, 6, 70, None)  # after the freeze
    with django_assert_num_queries(2):
        last = track_record()
    assert (last.cases, last.entries, last.events, last.brier) == (2, 2, 1, "0.025")
    assert [(line.said, line.cases, line.came_true) for line in last.lines] == [
        ("20 to 30", 1, 0),
        ("90 to 100", 1, 100),
    ]
    assert last.plain.startswith("Too few to tell: 2 entries at 1 event")
    every = track_record(all_evenings=True)
    assert (every.cases, every.entries, every.brier) == (5, 2, "0.254")
    assert "5 evening forecasts of 2 entries at 1 event" in every.plain


def test_what_became_of_them_by_their_last_standing(entries, lead, login) -> None:
    one, two, three = entries
    keep(one, 3, 10, True, standing="unlikely")
    keep(one, 4, None, True, standing="fit")
    keep(two, 4, None, True, standing="fit")
    keep(three, 4, 80, True, standing="likely")
    Outcome.objects.create(entry=one, ran="as entered", by=lead)
    Outcome.objects.create(entry=two, ran="standby", words="flat tyre", by=lead)
    found = track_record()
    assert [(d.word, d.entries, d.as_entered, d.standby, d.not_run, d.few) for d in found.on_the_day] == [
        ("Fit", 2, 1, 1, 0, True)
    ]
    assert found.unsaid == 1
    browser, address = login(lead), reverse("readiness:track_record")
    page = browser.get(address).content.decode()
    assert "Of 1 more nobody has written down" in page
    assert "too few to tell" in page
    assert "evening forecast" in browser.get(address, {"evenings": "all"}).content.decode()


def test_no_chance_to_compare_is_said(entries) -> None:
    keep(entries[0], 3, None, True, standing="fit")
    assert track_record().plain.startswith("No entry had a chance to compare")


def test_evenings_after_the_freeze_are_no_forecasts_of_it(event, entries, clock) -> None:
    defect = DefectFactory(vehicle=entries[0].vehicle, state="assessed", severity=2, probability="C")
    defect.effects.create(function="STOP", effect="lost")
    for moment in (
        FREEZE - dt.timedelta(days=1),
        FREEZE + dt.timedelta(hours=3),
        FREEZE + dt.timedelta(hours=27),
    ):
        clock.move_to(moment)
        evening_keep()
    assert [r.came_true for r in DayRecord.objects.filter(entry=entries[0]).order_by("day")] == [
        False,
        None,
        None,
    ]


def test_a_freeze_that_moves_on_opens_again_what_was_settled(event, entries, clock, coordinator) -> None:
    clock.move_to(FREEZE - dt.timedelta(days=1))
    evening_keep()
    clock.move_to(FREEZE + dt.timedelta(hours=3))
    evening_keep()
    assert set(DayRecord.objects.filter(day=dt.date(2027, 6, 2)).values_list("came_true", flat=True)) == {
        True
    }
    events.freeze_move(
        by=coordinator,
        event=event,
        freeze_at=FREEZE + dt.timedelta(days=1, hours=6),
        reason="parts on the way",
    )
    clock.move_to(FREEZE + dt.timedelta(days=1))
    evening_keep()
    assert set(DayRecord.objects.values_list("came_true", flat=True)) == {None}


def _two_evenings(clock, between) -> dict[int, str]:
    evening_keep()
    clock.shift(dt.timedelta(days=1))
    between()
    evening_keep()
    newest = DayRecord.objects.order_by("-day").values_list("day", flat=True)[0]
    return dict(DayRecord.objects.filter(day=newest).values_list("entry_id", "why"))


def _fault(vehicle) -> None:
    DefectFactory(vehicle=vehicle, state="assessed", severity=1, probability="C").effects.create(
        function="STOP", effect="lost"
    )


def test_an_act_that_can_move_nothing_is_not_named(entries, clock, lead) -> None:
    vehicle = entries[0].vehicle

    def between() -> None:
        _fault(vehicle)
        acts.record(act="print.paper", by=lead, subject=vehicle, vehicle=vehicle)

    assert _two_evenings(clock, between)[entries[0].pk].startswith("Nothing was done on it: the days")


def test_what_is_everybodys_is_named_where_nothing_was_done_on_the_vehicle(entries, clock, lead) -> None:
    def between() -> None:
        _fault(entries[0].vehicle)
        acts.record(act="days.pattern", by=lead, subject=lead)

    why = _two_evenings(clock, between)
    assert why[entries[0].pk].startswith(f"Nothing was done on it. Elsewhere: {lead.name}")
    assert why[entries[1].pk] == ""  # it did not move, so nothing moved it
