"""The job at the desk: opened once, every field of its plan, and the acts beside it by role."""

import pytest
from django.urls import reverse

from maintenance.models import JobCard, Place
from tests.factories import CardFactory, MeasureFactory
from tests.maintenance.desk.conftest import system, tomorrow
from tests.maintenance.desk.handing_in import page_form, text, typed

NEW = "/jobs/new/?vehicle=V01"


def test_without_a_vehicle_it_asks_for_one(shed, cast, login):
    assert "Which vehicle is it on?" in text(login(cast.lead).get("/jobs/new/"))
    assert "Which vehicle is it on?" in text(login(cast.lead).get("/jobs/new/?vehicle=none-such"))


def test_a_job_is_opened_once_with_its_steps(shed, cast, login):
    client = login(cast.mechanic)
    data = typed(
        page_form(client, NEW),
        title="Renew the fan belt",
        subsystem=str(system(shed.vehicle, "COL").pk),
        steps="Slacken the dynamo | manual, page 9\n\nRenew the belt\n",
        hours_usual="1.5",
    )
    assert [client.post(NEW, data).status_code for _ in range(2)] == [302, 302]
    card = JobCard.objects.get(title="Renew the fan belt")
    assert [(step.order, step.text, step.source) for step in card.steps.all()] == [
        (1, "Slacken the dynamo", "manual, page 9"),
        (2, "Renew the belt", ""),
    ]
    assert (card.state, str(card.hours_usual)) == ("booked in", "1.50")


def test_made_from_a_fault_it_begins_with_what_the_fault_says(shed, cast, login):
    form = page_form(login(cast.lead), f"{NEW}&defect={shed.reported.pk}")
    assert (form["title"].value(), form["why"].value(), form["defects"].value()) == (
        "Pulls to the left",
        "pulls left, hot",
        [shed.reported.pk],
    )
    assert page_form(login(cast.lead), f"{NEW}&defect=99999")["title"].value() is None


def test_a_brake_job_asks_a_second_signature_by_itself(shed, cast, login):
    client = login(cast.mechanic)
    client.post(
        NEW, typed(page_form(client, NEW), title="Shoes", subsystem=str(system(shed.vehicle, "BRK").pk))
    )
    assert JobCard.objects.get(title="Shoes").second_area == "brakes"


def test_a_mechanic_cannot_leave_the_second_signature_away(shed, cast, login):
    client = login(cast.mechanic)
    answer = client.post(
        NEW,
        typed(
            page_form(client, NEW),
            title="Shoes",
            subsystem=str(system(shed.vehicle, "BRK").pk),
            second_area="",
        ),
    )
    assert answer.status_code == 422
    assert not JobCard.objects.filter(title="Shoes").exists()


def test_the_curator_opens_a_fabric_job_and_no_other(shed, cast, login):
    client = login(cast.curator)
    form = page_form(client, NEW)
    assert form["kind"].value() == "fabric"
    assert client.post(NEW, typed(form, title="Clean the crest")).status_code == 302
    assert JobCard.objects.get(title="Clean the crest").needs_consent
    assert client.post(NEW, typed(page_form(client, NEW), title="Weld it", kind="defect")).status_code == 403


@pytest.fixture
def change(shed):
    return reverse("maintenance:card_change", args=[shed.card.pk])


def test_every_field_of_the_plan_is_changed(shed, change, cast, login):
    client, other = login(cast.lead), CardFactory(vehicle=shed.vehicle, title="First this")
    place = Place.objects.create(name="pit")
    over = {
        "title": "Fit oversize linings",
        "why": "Drum is worn",
        "code": "J9",
        "timing": "post",
        "hours_best": "2",
        "hours_usual": "3",
        "hours_bad": "9",
        "persons": "2",
        "suits": str(cast.lead.pk),
        "access_group": "A1",
        "place": str(place.pk),
        "after": [str(other.pk)],
        "measures": [str(shed.measure.pk)],
        "steps": "Chock it\nJack it",
        "needs_functional_test": "on",
        "needs_road_test": "on",
        "second_area": "brakes",
        "needs_consent": "on",
        "removes_original": "on",
        "drying_hours": "12",
        "inspection": str(shed.inspection.pk),
        "outside_on": tomorrow(5).isoformat(),
        "outside_who": "Fell End Drums",
        "subsystem": str(system(shed.vehicle, "BRK").pk),
    }
    assert client.post(change, typed(page_form(client, change), **over)).status_code == 302
    card = JobCard.objects.get(pk=shed.card.pk)
    assert (card.title, card.why, card.code, card.timing, card.access_group) == (
        "Fit oversize linings",
        "Drum is worn",
        "J9",
        "post",
        "A1",
    )
    assert [str(hours) for hours in (card.hours_best, card.hours_usual, card.hours_bad)] == [
        "2.00",
        "3.00",
        "9.00",
    ]
    assert (card.persons, card.suits, card.place, card.inspection) == (2, cast.lead, place, shed.inspection)
    assert (list(card.after.all()), list(card.measures.all()), list(card.defects.all())) == (
        [other],
        [shed.measure],
        [shed.assessed],
    )
    assert (card.needs_functional_test, card.needs_road_test, card.second_area, card.needs_consent) == (
        True,
        True,
        "brakes",
        True,
    )
    assert (card.removes_original, card.drying_hours, card.outside_on, card.outside_who) == (
        True,
        12,
        tomorrow(5),
        "Fell End Drums",
    )
    assert [step.text for step in card.steps.all()] == ["Chock it", "Jack it"]


def test_handed_in_as_it_stands_nothing_moves(shed, change, cast, login):
    client = login(cast.lead)
    plain = {
        name: value
        for name, value in JobCard.objects.filter(pk=shed.card.pk).values().get().items()
        if name not in {"version", "touched_at"}
    }
    lists = [
        list(getattr(shed.card, name).all())
        for name in ("defects", "skills", "tools", "after", "measures", "steps")
    ]
    assert client.post(change, typed(page_form(client, change))).status_code == 302
    card = JobCard.objects.filter(pk=shed.card.pk).values().get()
    assert {name: value for name, value in card.items() if name in plain} == plain
    assert [
        list(getattr(shed.card, name).all())
        for name in ("defects", "skills", "tools", "after", "measures", "steps")
    ] == lists


def test_hours_that_do_not_rise_are_refused_and_kept_on_the_page(change, cast, login):
    client = login(cast.lead)
    answer = client.post(change, typed(page_form(client, change), hours_best="9"))
    assert answer.status_code == 422
    assert "must rise" in text(answer)
    assert 'value="9"' in answer.content.decode()


def test_a_job_after_itself_is_refused(shed, change, cast, login):
    other = CardFactory(vehicle=shed.vehicle, title="First this")
    other.after.add(shed.card)
    client = login(cast.lead)
    answer = client.post(change, typed(page_form(client, change), after=[str(other.pk)]))
    assert answer.status_code == 422
    assert "done before itself" in text(answer)


def test_the_second_of_two_is_told(change, cast, login):
    one, two = login(cast.lead), login(cast.coordinator)
    first, second = page_form(one, change), page_form(two, change)
    assert one.post(change, typed(first, title="Mine")).status_code == 302
    answer = two.post(change, typed(second, title="Yours"))
    assert answer.status_code == 422
    assert "changed by another" in text(answer)
    assert "Berit Holm changed the plan of the job" in text(answer)


def test_the_coordinator_plans_and_leaves_the_steps(shed, change, cast, login):
    client = login(cast.coordinator)
    form = page_form(client, change)
    assert "steps" not in form.fields
    assert client.post(change, typed(form, timing="post", steps="Paint it")).status_code == 302
    shed.card.refresh_from_db()
    assert (shed.card.timing, shed.card.steps.count()) == ("post", 0)


@pytest.mark.parametrize("role", ["driver", "manager", "curator", "administrator"])
def test_others_read_the_plan_and_may_not_change_it(change, cast, login, role):
    client = login(getattr(cast, role))
    assert client.get(change).context["form"] is None
    assert client.post(change, {"title": "Pink"}).status_code == 403


ACT_ROLES = {
    "hold": {"mechanic", "lead", "coordinator"},
    "book": {"mechanic", "lead", "coordinator"},
    "drop": {"lead"},
    "consent": {"curator"},
}
DATA = {
    "hold": {"reason": "part", "note": "linings"},
    "book": {},
    "drop": {"reason": "Done by another job."},
    "consent": {"answer": "no", "words_": "Original linings stay."},
}


@pytest.mark.parametrize("act", sorted(ACT_ROLES))
@pytest.mark.parametrize(
    "role", ["driver", "mechanic", "lead", "coordinator", "manager", "curator", "administrator"]
)
def test_acts_by_role(shed, cast, login, act, role):
    card = CardFactory(vehicle=shed.vehicle, state="assessed")
    answer = login(getattr(cast, role)).post(reverse("maintenance:card_act", args=[card.pk, act]), DATA[act])
    assert answer.status_code == (302 if role in ACT_ROLES[act] else 403)
    before = ("assessed", "")
    card.refresh_from_db()
    assert ((card.state, card.consent_answer) != before) == (role in ACT_ROLES[act])


def test_held_says_why_and_goes_on(shed, change, cast, login):
    client = login(cast.mechanic)
    act = lambda name: reverse("maintenance:card_act", args=[shed.card.pk, name])  # noqa: E731
    assert (
        client.post(
            act("hold"), {"reason": "tool", "note": "the puller", "until": tomorrow(3).isoformat()}
        ).status_code
        == 302
    )
    shed.card.refresh_from_db()
    assert (shed.card.state, shed.card.held_for, shed.card.held_note, shed.card.held_until) == (
        "held",
        "tool",
        "the puller",
        tomorrow(3),
    )
    assert "the puller" in text(client.get(change))
    assert client.post(act("release"), {}).status_code == 302
    shed.card.refresh_from_db()
    assert shed.card.state == "booked in"
    # Pressed again, it is told and nothing moves.
    assert "Nothing was changed" in text(client.post(act("release"), {}, follow=True))


def test_a_hold_without_its_reason_is_refused(shed, cast, login):
    answer = login(cast.mechanic).post(
        reverse("maintenance:card_act", args=[shed.card.pk, "hold"]), {"reason": ""}
    )
    assert answer.status_code == 422
    assert answer.context["acts"]["hold"].errors


def test_dropped_and_opened_again_with_reasons(shed, cast, login):
    lead = login(cast.lead)
    act = lambda name: reverse("maintenance:card_act", args=[shed.card.pk, name])  # noqa: E731
    assert lead.post(act("drop"), {"reason": ""}).status_code == 422
    assert lead.post(act("drop"), {"reason": "Done by another job."}).status_code == 302
    shed.card.refresh_from_db()
    assert shed.card.state == "not needed"
    assert login(cast.driver).post(act("reopen"), {"reason": "No."}).status_code == 403
    assert login(cast.mechanic).post(act("reopen"), {"reason": "It was not done."}).status_code == 302
    shed.card.refresh_from_db()
    assert shed.card.is_open


def test_an_ended_job_has_no_form_and_refuses_the_plan(shed, change, cast, login):
    JobCard.objects.filter(pk=shed.card.pk).update(state="passed")
    client = login(cast.lead)
    assert client.get(change).context["form"] is None
    assert client.post(change, {"title": "More"}).status_code == 403


def test_a_job_in_ones_own_name_may_be_held_without_being_a_mechanic(shed, cast, login):
    card = CardFactory(vehicle=shed.vehicle, suits=cast.driver, state="booked in")
    answer = login(cast.driver).post(
        reverse("maintenance:card_act", args=[card.pk, "hold"]), {"reason": "person"}
    )
    assert answer.status_code == 302


def test_the_page_of_a_job_names_what_shares_its_opening(shed, change, cast, login):
    CardFactory(vehicle=shed.vehicle, title="Mounts", access=shed.access)
    assert "Mounts" in text(login(cast.lead).get(change))


def test_measures_of_other_vehicles_are_not_offered(shed, change, cast, login):
    other = MeasureFactory()
    form = page_form(login(cast.lead), change)
    assert list(form.fields["measures"].queryset) == [shed.measure]
    client = login(cast.lead)
    assert client.post(change, typed(form, measures=[str(other.pk)])).status_code == 422


def test_dates_come_as_days(change, cast, login):
    client = login(cast.lead)
    assert client.post(change, typed(page_form(client, change), outside_on="tomorrow")).status_code == 422


def test_a_fault_that_has_ended_since_does_not_stop_the_plan(shed, change, cast, login):
    type(shed.assessed).objects.filter(pk=shed.assessed.pk).update(state="cleared")
    client = login(cast.lead)
    assert (
        client.post(change, typed(page_form(client, change), title="Linings, both sides")).status_code == 302
    )
    assert list(shed.card.defects.all()) == [shed.assessed]
