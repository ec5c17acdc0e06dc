"""Every page opens for whoever may see it, asks nobody's leave by GET to write, and is closed to a stranger."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.models import Act
from maintenance.urls_desk import urlpatterns
from tests.factories import DefectFactory, InspectionFactory, PartNeedFactory

ALL = {"driver", "mechanic", "lead", "coordinator", "manager", "curator", "administrator"}
POST_ONLY = {
    "defect_note",
    "defect_join",
    "defect_reopen",
    "workshop_share",
    "card_act",
    "part_act",
    "inspection_act",
}
OPEN_TO = {
    "defects": ALL,
    "defect": ALL,
    "assess": {"lead"},
    "set_aside": {"lead"},
    "put_off": {"lead"},
    "put_off_renew": {"lead"},
    "put_off_sign": {"lead"},
    "put_off_withdraw": {"lead", "manager"},
    "workshop": ALL,
    "card_new": {"mechanic", "lead", "curator"},
    "card_change": ALL,
    "card_print": ALL,
    "stores": ALL,
    "part": ALL,
    "part_new": {"mechanic", "lead", "coordinator"},
    "part_rob": {"lead"},
    "tool": {"lead", "coordinator"},
    "tool_new": {"lead", "coordinator"},
    "inspections": ALL,
    "inspection": ALL,
    "inspection_new": {"lead", "coordinator"},
    "inspection_change": {"lead", "coordinator"},
    "tag": ALL,
    "tag_hang": ALL,
    "reading_add": ALL,
    "measure_new": {"mechanic", "lead"},
    "reading_history": ALL,
    "measure_change": {"lead"},
    "reading_replace": {"mechanic", "lead", "curator"},
    "use_check": ALL,
}


def address(name, shed):
    rows = {
        "defect": shed.reported,
        "assess": shed.reported,
        "set_aside": shed.reported,
        "put_off": shed.assessed,
        "put_off_renew": shed.put_off,
        "put_off_sign": shed.put_off,
        "put_off_withdraw": shed.put_off,
        "card_change": shed.card,
        "card_print": shed.card,
        "part": shed.part,
        "tool": shed.tool,
        "inspection": shed.inspection,
        "inspection_change": shed.inspection,
        "tag": shed.tag,
        "reading_history": shed.measure,
        "measure_change": shed.measure,
        "reading_replace": shed.reading,
    }
    if name in {"tag_hang", "reading_add", "measure_new", "use_check"}:
        return reverse(f"maintenance:{name}", args=[shed.vehicle.code])
    return reverse(f"maintenance:{name}", args=[rows[name].pk] if name in rows else [])


def test_every_address_is_in_the_table():
    assert {pattern.name for pattern in urlpatterns} == POST_ONLY | set(OPEN_TO)


@pytest.mark.parametrize("name", sorted(OPEN_TO))
def test_page_opens_for_its_roles_and_writes_nothing(name, shed, cast, login):
    url, acts = address(name, shed), Act.objects.count()
    answers = {role: login(getattr(cast, role)).get(url).status_code for role in sorted(ALL)}
    assert answers == {role: 200 if role in OPEN_TO[name] else 403 for role in sorted(ALL)}
    assert Act.objects.count() == acts


@pytest.mark.parametrize("name", sorted(OPEN_TO))
def test_a_stranger_is_sent_to_sign_in(name, shed, stranger):
    answer = stranger.get(address(name, shed))
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith(reverse("fleet:sign_in"))


POSTS = {
    "defect_note": lambda s: [s.reported.pk],
    "defect_join": lambda s: [s.reported.pk],
    "defect_reopen": lambda s: [s.reported.pk],
    "workshop_share": lambda s: [],
    "card_act": lambda s: [s.card.pk, "drop"],
    "part_act": lambda s: [s.part.pk, "receive"],
    "inspection_act": lambda s: [s.inspection.pk, "void"],
}


@pytest.mark.parametrize("name", sorted(POST_ONLY))
def test_acts_are_not_asked_by_get(name, shed, cast, login, stranger):
    url = reverse(f"maintenance:{name}", args=POSTS[name](shed))
    assert login(cast.lead).get(url).status_code == 405
    assert stranger.post(url).status_code == 302


@pytest.mark.parametrize("act", ["card_act", "part_act", "inspection_act"])
def test_an_act_that_is_not_there_is_not_found(act, shed, cast, login):
    pk = {"card_act": shed.card, "part_act": shed.part, "inspection_act": shed.inspection}[act].pk
    assert login(cast.lead).post(reverse(f"maintenance:{act}", args=[pk, "paint-it"])).status_code == 404


@pytest.mark.parametrize(
    "name",
    [
        "defect",
        "assess",
        "put_off",
        "card_change",
        "card_print",
        "part",
        "tool",
        "inspection",
        "tag",
        "reading_history",
    ],
)
def test_a_row_that_is_not_there_is_not_found(name, shed, cast, login):
    assert login(cast.lead).get(reverse(f"maintenance:{name}", args=[987654])).status_code == 404


def queries(client, url):
    with CaptureQueriesContext(
        connection,
    ) as asked:
        assert client.get(url).status_code == 200
    return len(asked)


def add_rows(shed, number):
    for n in range(number):
        defect = DefectFactory(vehicle=shed.vehicle, title=f"Fault {n}", effects={"COOL": "watch"})
        DefectFactory(vehicle=shed.vehicle, title=f"Report {n}")
        card = type(shed.card).objects.create(
            serial=f"95/{number}{n}",
            vehicle=shed.vehicle,
            title=f"Job {n}",
            suits=shed.card.suits,
            access=shed.access,
            hours_usual=2,
            state="held",
            held_for="part",
            needs_functional_test=False,
        )
        card.defects.add(defect)
        card.tools.add(shed.tool)
        PartNeedFactory(card=card, name=f"Part {n}")
        PartNeedFactory(card=card, name=f"Shelf {n}", state="on shelf")
        InspectionFactory(vehicle=shed.vehicle, name=f"Look {n}")
        type(shed.measure).objects.create(
            vehicle=shed.vehicle, system="ENG", name=f"Read {n}", judgement="max", high=3, source="house rule"
        )


@pytest.mark.parametrize("name", ["defects", "workshop", "stores", "inspections", "reading_add"])
def test_lists_ask_as_often_for_three_rows_as_for_one(name, shed, cast, login):
    client, url = login(cast.lead), address(name, shed)
    add_rows(shed, 1)
    client.get(url)
    one = queries(client, url)
    add_rows(shed, 3)
    assert queries(client, url) == one


HUGE = "9" * 30


@pytest.mark.parametrize(
    "url",
    [
        f"/defects/{HUGE}/",
        f"/jobs/new/?vehicle=V01&defect={HUGE}",
        "/jobs/new/?vehicle=V01&defect=²",
        f"/stores/parts/new/?card={HUGE}",
        "/stores/parts/new/?card=²",
        f"/vehicles/V01/readings/?measure={HUGE}",
        "/vehicles/V01/readings/?measure=²",
        "/vehicles/V01/tag/?card=²",
        f"/vehicles/V01/tag/?card={HUGE}",
        "/vehicles/none/tag/",
        "/vehicles/none/readings/",
        "/vehicles/none/checks/",
        "/inspections/new/?vehicle=none",
    ],
)
def test_odd_addresses_are_answered(url, shed, cast, login):
    assert login(cast.lead).get(url).status_code in {200, 404}


@pytest.mark.parametrize("card", [HUGE, "²", "'; drop", ""])
def test_odd_jobs_are_not_shared(card, shed, cast, login):
    assert login(cast.lead).post("/workshop/share/", {"card": [card, card]}).status_code == 302


@pytest.mark.parametrize(
    ("url", "data"),
    [
        ("/jobs/new/?vehicle=V01", {"title": "x", "skills": [HUGE], "tools": [HUGE], "suits": HUGE, "persons": HUGE, "drying_hours": HUGE}),
        ("/jobs/new/?vehicle=V01", {"title": "x\x00", "hours_usual": "1e999", "version": HUGE, "key": "k" * 90}),
        ("/stores/parts/new/", {"name": "x", "card": HUGE, "quantity": HUGE, "lead_days": HUGE, "state": "on shelf"}),
        ("/stores/parts/rob/", {"name": "x", "donor": HUGE, "card": "²", "bin": "y", "reason": "z z"}),
        ("/vehicles/V01/checks/", {"kind": "after use", "for_day": "99999-01-01", "found-0-subsystem": HUGE}),
        ("/vehicles/V01/tag/", {"reason": "x", "card": HUGE, "stub": "s" * 90}),
        ("/inspections/new/", {"kind": "other", "name": "x", "vehicle": HUGE, "interval_days": HUGE, "interval_amount": "9e99", "persons": "2"}),
    ],
)  # fmt: skip
def test_odd_posts_are_refused_and_not_broken(url, data, shed, cast, login):
    assert login(cast.lead).post(url, data).status_code == 422


@pytest.mark.parametrize("figure", ["1e30", "9" * 20, "NaN", "-1", "Infinity"])
def test_odd_figures_are_refused(figure, shed, cast, login):
    client, url = login(cast.lead), address("reading_add", shed) + f"?measure={shed.measure.pk}"
    assert client.post(url, {"value-0": figure, "moment_of": "check"}).status_code in {302, 422}
    assert (
        client.post(
            "/jobs/new/?vehicle=V01",
            {
                "title": "x",
                "hours_usual": figure,
                "kind": "defect",
                "state": "assessed",
                "timing": "pre",
                "persons": "1",
                "second_area": "asked",
                "drying_hours": "0",
            },
        ).status_code
        == 422
    )
