"""The fault's page and its assessment: what follows stands as it is chosen, one act, nothing typed is lost."""

import pytest
from django.urls import reverse

from fleet.models import Act
from maintenance.models import Defect, JobCard
from tests.factories import DefectFactory
from tests.maintenance.desk.conftest import system
from tests.maintenance.desk.handing_in import page_form, text, typed


@pytest.fixture
def url(shed):
    return reverse("maintenance:assess", args=[shed.reported.pk])


def assessment(form, **over):
    return typed(form, severity="2", probability="C", effect_STOP="reduced", **over)


@pytest.mark.parametrize(
    ("severity", "probability", "wanted"),
    [
        ("1", "A", "High It may not be put off"),
        ("2", "C", "Serious To put it off, the lead and the manager must sign."),
        ("3", "C", "Medium To put it off, the lead must sign. The longest is 90 days, 180"),
        ("4", "E", "Low To put it off, the mechanic must sign."),
    ],
)
def test_the_level_and_what_follows_stand_as_they_are_chosen(url, cast, login, severity, probability, wanted):
    answer = login(cast.lead).get(
        url,
        {"part": "rated", "severity": severity, "probability": probability},
        headers={"HX-Request": "true"},
    )
    assert wanted in text(answer)
    assert "<html" not in answer.content.decode()


def test_another_system_shows_what_it_serves_and_asks(shed, url, cast, login):
    steering = system(shed.vehicle, "STE")
    answer = login(cast.lead).get(url, {"part": "effects", "subsystem": steering.pk, "effect_STOP": "lost"})
    said = text(answer)
    assert "serves: steer." in said
    assert "functional test, road test, second signature for steering" in said
    # What was chosen for the brakes stays in view.
    assert [bound.name for bound in answer.context["form"].served()] == ["effect_STOP", "effect_STEER"]


def test_assess_with_a_job_makes_both_at_once(shed, url, cast, login):
    client = login(cast.lead)
    data = assessment(
        page_form(client, url),
        then="job",
        job_title="Free the cylinder",
        hours_best="2",
        hours_usual="3,5",
        hours_bad="6",
        persons="2",
        suits=str(cast.mechanic.pk),
        parts="Wheel cylinder\n\nBrake hose",
        title="Pulls left when hot",
    )
    answer = client.post(url, data)
    assert answer.status_code == 302
    shed.reported.refresh_from_db()
    assert (shed.reported.rating, shed.reported.title, shed.reported.state) == (
        "2C",
        "Pulls left when hot",
        "assessed",
    )
    card = JobCard.objects.get(title="Free the cylinder")
    assert list(card.defects.all()) == [shed.reported]
    assert (str(card.hours_usual), card.persons, card.suits) == ("3.50", 2, cast.mechanic)
    # From its system: brakes are tried on the road and looked at by another.
    assert (card.needs_functional_test, card.needs_road_test, card.second_area) == (True, True, "brakes")
    assert sorted(card.parts.values_list("name", "state")) == [
        ("Brake hose", "not ordered"),
        ("Wheel cylinder", "not ordered"),
    ]


def test_the_same_page_sent_twice_makes_one_job(url, cast, login):
    client = login(cast.lead)
    data = assessment(page_form(client, url), then="job", job_title="Free the cylinder")
    assert [client.post(url, data).status_code for _ in range(2)] == [302, 302]
    assert JobCard.objects.filter(title="Free the cylinder").count() == 1
    assert Act.objects.filter(act="defect.assess").count() == 1


def test_the_tests_may_be_said_otherwise(url, cast, login):
    client = login(cast.lead)
    client.post(
        url,
        assessment(
            page_form(client, url),
            then="job",
            job_title="Look only",
            functional="no",
            road="no",
            second="none",
        ),
    )
    card = JobCard.objects.get(title="Look only")
    assert (card.needs_functional_test, card.needs_road_test, card.second_area) == (False, False, "")


def test_put_off_comes_next_where_it_is_chosen(shed, url, cast, login):
    client = login(cast.lead)
    answer = client.post(url, assessment(page_form(client, url), then="put off"))
    assert answer.headers["Location"] == reverse("maintenance:put_off", args=[shed.reported.pk])
    assert not JobCard.objects.filter(defects=shed.reported).exists()


def test_high_and_only_to_be_watched_is_refused_and_keeps_what_was_typed(shed, url, cast, login):
    client = login(cast.lead)
    data = typed(
        page_form(client, url),
        severity="1",
        probability="A",
        effect_STOP="watch",
        then="nothing",
        title="Seen by Asta",
    )
    answer = client.post(url, data)
    assert answer.status_code == 422
    assert "no function is lost or reduced" in text(answer)
    assert 'value="Seen by Asta"' in answer.content.decode()
    shed.reported.refresh_from_db()
    assert (shed.reported.state, shed.reported.rating) == ("reported", "")


def test_a_wrong_figure_stops_the_assessment_with_the_job(shed, url, cast, login):
    client = login(cast.lead)
    answer = client.post(url, assessment(page_form(client, url), then="job", hours_usual="a day"))
    assert answer.status_code == 422
    assert "a day is not a number" in text(answer)
    shed.reported.refresh_from_db()
    assert shed.reported.state == "reported"


def test_the_second_of_two_leads_is_told_and_may_write_over_it(shed, url, cast, login):
    client = login(cast.lead)
    first = page_form(client, url)
    second = page_form(client, url)
    client.post(url, assessment(first, then="nothing"))
    answer = client.post(url, assessment(second, then="nothing", title="Mine"))
    assert answer.status_code == 422
    assert "was changed by another while you had it open" in text(answer)
    assert client.post(url, typed(answer.context["form"])).status_code == 302
    shed.reported.refresh_from_db()
    assert shed.reported.title == "Mine"


def test_another_vehicles_system_is_not_taken(shed, url, cast, login):
    from tests.factories import VehicleFactory

    stranger_system = system(VehicleFactory(), "STE")
    client = login(cast.lead)
    answer = client.post(url, assessment(page_form(client, url), subsystem=str(stranger_system.pk)))
    assert answer.status_code == 422


@pytest.mark.parametrize("role", ["driver", "mechanic", "coordinator", "manager", "curator", "administrator"])
def test_only_the_lead_assesses_and_sets_aside(shed, url, cast, login, role):
    client = login(getattr(cast, role))
    assert (
        client.post(url, {"severity": "4", "probability": "E", "title": "x", "then": "nothing"}).status_code
        == 403
    )
    assert (
        client.post(
            reverse("maintenance:set_aside", args=[shed.reported.pk]), {"reason": "nothing in it"}
        ).status_code
        == 403
    )
    shed.reported.refresh_from_db()
    assert shed.reported.state == "reported"


def test_set_aside_needs_its_reason(shed, cast, login):
    client, url = login(cast.lead), reverse("maintenance:set_aside", args=[shed.reported.pk])
    assert client.post(url, typed(page_form(client, url))).status_code == 422
    assert client.post(url, typed(page_form(client, url), reason="A stone in the tread.")).status_code == 302
    shed.reported.refresh_from_db()
    assert (shed.reported.state, shed.reported.end_reason) == ("set aside", "A stone in the tread.")


def test_the_page_says_the_words_and_offers_the_acts_of_the_role(shed, cast, login):
    url = reverse("maintenance:defect", args=[shed.reported.pk])
    said = text(login(cast.lead).get(url))
    assert "pulls left, hot" in said
    assert "Set it aside" in said
    for role in ("driver", "manager", "curator"):
        said = text(login(getattr(cast, role)).get(url))
        assert "Assess it" not in said
        assert "Set it aside" not in said


def test_a_likely_twin_is_shown_and_joined(shed, cast, login):
    twin = DefectFactory(
        vehicle=shed.vehicle,
        subsystem=shed.reported.subsystem,
        title="Drags to one side",
        words="to the left",
    )
    client, url = login(cast.lead), reverse("maintenance:defect", args=[twin.pk])
    answer = client.get(url)
    assert [one.pk for one in answer.context["twins"]] == [shed.reported.pk]
    done = client.post(
        reverse("maintenance:defect_join", args=[twin.pk]),
        typed(answer.context["joining"], into=str(shed.reported.pk)),
    )
    assert done.status_code == 302
    assert Defect.objects.get(pk=twin.pk).joined_to == shed.reported
    assert "It said: to the left" in text(client.get(reverse("maintenance:defect", args=[shed.reported.pk])))


def test_joining_to_another_vehicles_fault_is_refused(shed, cast, login):
    other = DefectFactory()
    client = login(cast.lead)
    answer = client.post(reverse("maintenance:defect_join", args=[shed.reported.pk]), {"into": str(other.pk)})
    assert answer.status_code == 422
    other.refresh_from_db()
    shed.reported.refresh_from_db()
    assert (other.state, shed.reported.state) == ("reported", "reported")


def test_everybody_adds_a_note_and_twice_is_once(shed, cast, login):
    client, page = login(cast.driver), reverse("maintenance:defect", args=[shed.reported.pk])
    data = typed(page_form(client, page, "noting"), text="It was wet that day.")
    for _ in range(2):
        assert (
            client.post(reverse("maintenance:defect_note", args=[shed.reported.pk]), data).status_code == 302
        )
    assert [note.text for note in shed.reported.notes.all()] == ["It was wet that day."]


def test_opened_again_with_what_was_seen(shed, cast, login):
    lead, mechanic = login(cast.lead), login(cast.mechanic)
    lead.post(reverse("maintenance:set_aside", args=[shed.reported.pk]), {"reason": "Nothing in it."})
    url = reverse("maintenance:defect_reopen", args=[shed.reported.pk])
    assert login(cast.driver).post(url, {"reason": "It did it again."}).status_code == 403
    assert mechanic.post(url, {"reason": "It did it again."}).status_code == 302
    shed.reported.refresh_from_db()
    assert shed.reported.is_open


def test_the_list_puts_what_waits_first(shed, cast, login):
    answer = login(cast.lead).get(reverse("maintenance:defects"))
    assert [row.pk for row in answer.context["waiting"]] == [shed.reported.pk]
    assert [row.pk for row, _, _ in answer.context["answered"]] == [shed.assessed.pk]
    assert answer.context["unanswered"] == []
