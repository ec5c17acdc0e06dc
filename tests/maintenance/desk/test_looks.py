"""Inspections, tags, readings and use checks at the desk."""

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.models import Meter, MeterReading
from maintenance.models import Defect, Inspection, JobCard, Measure, Reading, Tag, UseCheck
from maintenance.queries.inspections_page import inspections_page
from tests.factories import InspectionFactory, MeterFactory
from tests.maintenance.desk.conftest import system, tomorrow
from tests.maintenance.desk.handing_in import page_form, text, typed

ROLES = ("driver", "mechanic", "lead", "coordinator", "manager", "curator", "administrator")


# ---- inspections ----


def act(row, name):
    return reverse("maintenance:inspection_act", args=[row.pk, name])


@pytest.mark.parametrize(
    ("name", "may", "data"),
    [
        ("record", {"mechanic", "lead", "coordinator"}, {"done_on": "2026-01-05", "passed": "yes"}),
        ("book", {"lead", "coordinator"}, {"day": ""}),
        ("void", {"mechanic", "lead", "coordinator"}, {"why": "Shoes were changed."}),
        ("card", {"mechanic", "lead"}, {}),
    ],
)
def test_acts_on_an_inspection_by_role(shed, cast, login, name, may, data):
    answers = {}
    for role in ROLES:
        row = InspectionFactory(vehicle=shed.vehicle, booked_on=tomorrow(3))
        answers[role] = login(getattr(cast, role)).post(act(row, name), data).status_code
    assert answers == {role: 302 if role in may else 403 for role in ROLES}


def test_a_pass_renews_it_once(shed, cast, login):
    client, page = login(cast.mechanic), reverse("maintenance:inspection", args=[shed.inspection.pk])
    form = next(form for name, _, form in client.get(page).context["acts"] if name == "record")
    data = typed(form, passed="yes", words_="Even on both sides.", valid_through=tomorrow(400).isoformat())
    assert [client.post(act(shed.inspection, "record"), data).status_code for _ in range(2)] == [302, 302]
    shed.inspection.refresh_from_db()
    assert (shed.inspection.due_on, shed.inspection.results.count()) == (tomorrow(400), 1)
    assert "Even on both sides." in text(client.get(page))


def test_a_fail_makes_it_void_and_says_why(shed, cast, login):
    client, page = login(cast.mechanic), reverse("maintenance:inspection", args=[shed.inspection.pk])
    today = timezone.localdate().isoformat()
    assert client.post(act(shed.inspection, "record"), {"done_on": today, "passed": "no"}).status_code == 422
    assert (
        client.post(
            act(shed.inspection, "record"), {"done_on": today, "passed": "no", "words_": "Offside weak."}
        ).status_code
        == 302
    )
    said = text(client.get(page))
    assert "Void since" in said
    assert "Offside weak." in said


def test_an_outside_pass_wants_examiner_and_certificate(shed, cast, login):
    row = InspectionFactory(vehicle=shed.vehicle, outside=True)
    client, data = login(cast.coordinator), {"done_on": timezone.localdate().isoformat(), "passed": "yes"}
    answer = client.post(act(row, "record"), data)
    assert answer.status_code == 422
    assert "number of the certificate" in text(answer)
    assert (
        client.post(act(row, "record"), {**data, "by_name": "B. Thorne", "reference": "TH 41"}).status_code
        == 302
    )


def test_neither_result_is_chosen_for_them(shed, cast, login):
    answer = login(cast.mechanic).post(
        act(shed.inspection, "record"), {"done_on": timezone.localdate().isoformat()}
    )
    assert answer.status_code == 422


def test_booked_and_taken_off_again(shed, cast, login):
    client = login(cast.coordinator)
    assert client.post(act(shed.inspection, "book"), {"day": tomorrow(-1).isoformat()}).status_code == 422
    client.post(act(shed.inspection, "book"), {"day": tomorrow(4).isoformat()})
    shed.inspection.refresh_from_db()
    assert shed.inspection.booked_on == tomorrow(4)
    client.post(act(shed.inspection, "book"), {"day": ""})
    shed.inspection.refresh_from_db()
    assert shed.inspection.booked_on is None


def test_a_job_is_made_of_it_and_no_second_one(shed, cast, login):
    client = login(cast.lead)
    assert client.post(act(shed.inspection, "card"), {}).status_code == 302
    card = JobCard.objects.get(inspection=shed.inspection)
    assert (card.kind, card.state, card.title, card.hours_usual) == (
        "periodic",
        "booked in",
        shed.inspection.name,
        Decimal(1),
    )
    answer = client.post(act(shed.inspection, "card"), {})
    assert answer.status_code == 422
    assert "stands for it already" in text(answer)
    site = InspectionFactory(vehicle=None)
    assert client.post(act(site, "card"), {}).status_code == 422


def test_the_list_stands_by_what_falls_due_first(shed, cast):
    Inspection.objects.all().delete()
    today = timezone.localdate()
    meter = MeterFactory(vehicle=shed.vehicle, kind="km")
    for days, total in ((100, 1000), (0, 2000)):  # ten a day
        MeterReading.objects.create(
            meter=meter, shown=total, total=total, read_at=timezone.now() - dt.timedelta(days=days)
        )
    rows = {
        "by date": InspectionFactory(vehicle=shed.vehicle, name="by date", due_on=tomorrow(50)),
        "by meter": InspectionFactory(
            vehicle=shed.vehicle,
            name="by meter",
            due_on=tomorrow(90),
            interval_meter="km",
            interval_amount=500,
            due_at_meter=2400,
        ),
        "over by meter": InspectionFactory(
            vehicle=shed.vehicle,
            name="over by meter",
            due_on=tomorrow(90),
            interval_meter="km",
            interval_amount=500,
            due_at_meter=1999,
        ),
        "void": InspectionFactory(
            vehicle=shed.vehicle, name="void", voided_at=timezone.now(), voided_why="Shoes"
        ),
        "never": InspectionFactory(vehicle=shed.vehicle, name="never", due_on=None, never_done=True),
        "over": InspectionFactory(vehicle=shed.vehicle, name="over", due_on=tomorrow(-1)),
        "soon": InspectionFactory(vehicle=shed.vehicle, name="soon", due_on=tomorrow(30)),
        "today": InspectionFactory(vehicle=shed.vehicle, name="today", due_on=today),
    }
    found = inspections_page(today)
    assert [(due.inspection.name, due.code) for due in found] == [
        ("void", "void"),
        ("never", "never"),
        ("over", "over"),
        ("over by meter", "over"),
        ("today", "soon"),
        ("soon", "soon"),
        ("by meter", "ok"),
        ("by date", "ok"),
    ]
    due = next(due for due in found if due.inspection == rows["by meter"])
    assert (due.meter_left, due.by_meter) == (Decimal(400), today + dt.timedelta(days=40))


def test_equal_to_the_meter_is_still_valid(shed, cast):
    meter = Meter.objects.create(vehicle=shed.vehicle, kind="km")
    MeterReading.objects.create(meter=meter, shown=500, total=500, read_at=timezone.now())
    row = InspectionFactory(
        vehicle=shed.vehicle, name="edge", interval_meter="km", interval_amount=500, due_at_meter=500
    )
    due = next(due for due in inspections_page(timezone.localdate()) if due.inspection == row)
    assert (due.code, due.meter_left) == ("soon", 0)


def test_set_up_and_changed(shed, cast, login):
    client, url = login(cast.lead), "/inspections/new/?vehicle=V01"
    data = typed(
        page_form(client, url),
        kind="service",
        name="Oil",
        interval_days="365",
        last_on=tomorrow(-5).isoformat(),
        skills="engines\nfitting",
    )
    assert [client.post(url, data).status_code for _ in range(2)] == [302, 302]
    row = Inspection.objects.get(name="Oil")
    assert (row.vehicle, row.due_on) == (shed.vehicle, tomorrow(360))
    assert sorted(row.skills.values_list("name", flat=True)) == ["engines", "fitting"]
    change = reverse("maintenance:inspection_change", args=[row.pk])
    assert (
        client.post(change, typed(page_form(client, change), name="Oil and filter", hours="2,5")).status_code
        == 302
    )
    row.refresh_from_db()
    assert (row.name, row.hours, row.interval_days, row.due_on) == (
        "Oil and filter",
        Decimal("2.50"),
        365,
        tomorrow(360),
    )


# ---- tags ----


def test_a_tag_is_hung_once_with_its_number(shed, cast, login):
    client, url = login(cast.driver), reverse("maintenance:tag_hang", args=[shed.vehicle.code])
    assert "hangs on it already" in text(client.get(url))
    data = typed(page_form(client, url), reason="Fuel on the exhaust", card=str(shed.card.pk))
    assert [client.post(url, data).status_code for _ in range(2)] == [302, 302]
    tag = Tag.objects.get(reason="Fuel on the exhaust")
    assert (tag.placed_by, tag.card) == (cast.driver, shed.card)
    assert tag.stub
    assert client.post(url, typed(page_form(client, url), reason="")).status_code == 422


def test_the_same_stub_is_not_hung_twice(shed, cast, login):
    client, url = login(cast.driver), reverse("maintenance:tag_hang", args=[shed.vehicle.code])
    assert (
        client.post(url, typed(page_form(client, url), reason="Brakes", stub=shed.tag.stub)).status_code
        == 422
    )


def test_the_lead_alone_lifts_it_with_the_number_and_a_reason(shed, cast, login):
    url = reverse("maintenance:tag", args=[shed.tag.pk])
    for role in set(ROLES) - {"lead"}:
        assert (
            login(getattr(cast, role))
            .post(url, {"stub": shed.tag.stub, "reason": "It is mended."})
            .status_code
            == 403
        )
    lead = login(cast.lead)
    wrong = lead.post(url, {"stub": "9999", "reason": "It is mended."})
    assert wrong.status_code == 422
    assert "not the number on the stub" in text(wrong)
    assert lead.post(url, {"stub": shed.tag.stub, "reason": ""}).status_code == 422  # its job is open
    assert lead.post(url, {"stub": shed.tag.stub, "reason": "Moved on a bar only."}).status_code == 302
    shed.tag.refresh_from_db()
    assert (shed.tag.lifted_by, shed.tag.lifted_stub) == (cast.lead, shed.tag.stub)
    assert "Not started" not in text(lead.get(url))


# ---- readings ----


@pytest.fixture
def reading_url(shed):
    return f"/vehicles/{shed.vehicle.code}/readings/?measure={shed.measure.pk}"


def test_a_reading_is_judged_and_kept_once(shed, reading_url, cast, login):
    client = login(cast.mechanic)
    data = typed(page_form(client, reading_url), **{"value-0": "34,5", "note": "cold"})
    assert [client.post(reading_url, data).status_code for _ in range(2)] == [302, 302]
    row = Reading.objects.latest("pk")
    assert (row.values, row.verdict, row.note) == (["34.5"], "past", "cold")
    assert Reading.objects.filter(measure=shed.measure).count() == 2
    said = text(client.get(reverse("maintenance:reading_history", args=[shed.measure.pk])))
    assert "workshop manual, page 12" in said
    assert "Past" in said


@pytest.mark.parametrize(("typed_in", "said"), [("", "No value"), ("thick", "thick is not a number")])
def test_a_reading_that_is_none_is_refused(reading_url, cast, login, typed_in, said):
    client = login(cast.mechanic)
    answer = client.post(reading_url, typed(page_form(client, reading_url), **{"value-0": typed_in}))
    assert answer.status_code == 422
    assert said in text(answer)


def test_readings_are_for_those_who_take_them(shed, reading_url, cast, login):
    for role in ROLES:
        answer = login(getattr(cast, role)).post(reading_url, {"value-0": "20", "moment_of": "check"})
        assert answer.status_code == (302 if role in {"mechanic", "lead", "curator"} else 403), role


def test_one_field_for_each_position_and_named_choices_for_a_look(shed, cast, login):
    spread = Measure.objects.create(
        vehicle=shed.vehicle,
        system="BRK",
        name="Lining left",
        unit="mm",
        positions=["nearside", "offside"],
        judgement="min",
        low=3,
        source="manual",
    )
    look = Measure.objects.create(
        vehicle=shed.vehicle,
        system="BRK",
        name="Hoses",
        judgement="look",
        choices=["sound", "dull?", "|", "cracked"],
        source="manual",
    )
    client = login(cast.mechanic)
    form = page_form(client, f"/vehicles/V01/readings/?measure={spread.pk}")
    assert [bound.label for bound in form.value_fields()] == ["Nearside, mm", "Offside, mm"]
    assert (
        client.post(
            f"/vehicles/V01/readings/?measure={spread.pk}", typed(form, **{"value-0": "4", "value-1": "2"})
        ).status_code
        == 302
    )
    assert Reading.objects.latest("pk").verdict == "past"
    seen = page_form(client, f"/vehicles/V01/readings/?measure={look.pk}")
    assert [value for value, _ in seen.fields["value-0"].choices] == ["", "sound", "dull", "cracked"]
    client.post(f"/vehicles/V01/readings/?measure={look.pk}", typed(seen, **{"value-0": "dull"}))
    assert Reading.objects.latest("pk").verdict == "near"


def test_another_vehicles_measure_is_not_read_here(shed, cast, login):
    from tests.factories import MeasureFactory

    other = MeasureFactory()
    assert login(cast.mechanic).get(f"/vehicles/V01/readings/?measure={other.pk}").status_code == 404


def test_a_wrong_reading_is_replaced_and_stays_readable(shed, cast, login):
    client, url = login(cast.mechanic), reverse("maintenance:reading_replace", args=[shed.reading.pk])
    assert client.post(url, typed(page_form(client, url), **{"value-0": "26", "note": ""})).status_code == 422
    data = typed(page_form(client, url), **{"value-0": "26", "note": "Read on the wrong side."})
    assert [client.post(url, data).status_code for _ in range(2)] == [302, 302]
    said = text(client.get(reverse("maintenance:reading_history", args=[shed.measure.pk])))
    assert "was: 24" in said
    assert Reading.objects.filter(measure=shed.measure).count() == 2


def test_a_reading_is_set_up_with_its_source(shed, cast, login):
    client, url = login(cast.mechanic), reverse("maintenance:measure_new", args=["V01"])
    data = typed(
        page_form(client, url),
        name="Pedal travel",
        system="BRK",
        unit="mm",
        judgement="max",
        high="40",
        source="",
    )
    assert client.post(url, data).status_code == 422
    data = typed(
        page_form(client, url),
        name="Pedal travel",
        system="BRK",
        unit="mm",
        judgement="max",
        high="40",
        source="house rule",
    )
    assert [client.post(url, data).status_code for _ in range(2)] == [302, 302]
    assert Measure.objects.get(name="Pedal travel").high == 40


def test_a_new_limit_first_shows_what_differs_and_writes_nothing(shed, cast, login):
    client, url = login(cast.lead), reverse("maintenance:measure_change", args=[shed.measure.pk])
    data = typed(page_form(client, url), high="20", source="workshop manual, page 13")
    answer = client.post(url, {**data, "look": "yes"})
    assert answer.status_code == 200
    assert [(one["row"].pk, one["was"], one["would"]) for one in answer.context["differ"]] == [
        (shed.reading.pk, "within", "past")
    ]
    shed.measure.refresh_from_db()
    assert shed.measure.high == 30
    assert client.post(url, {**data, "do": "yes"}).status_code == 302
    shed.measure.refresh_from_db()
    shed.reading.refresh_from_db()
    assert (shed.measure.high, shed.reading.verdict) == (20, "within")


def test_a_limit_without_its_figure_is_refused_at_both_buttons(shed, cast, login):
    client, url = login(cast.lead), reverse("maintenance:measure_change", args=[shed.measure.pk])
    data = {**typed(page_form(client, url)), "high": ""}
    assert client.post(url, {**data, "look": "yes"}).status_code == 422
    assert client.post(url, {**data, "do": "yes"}).status_code == 422
    shed.measure.refresh_from_db()
    assert shed.measure.high == 30


# ---- use checks ----


@pytest.fixture
def check_url(shed):
    return reverse("maintenance:use_check", args=[shed.vehicle.code])


def test_nil_defect_in_so_many_words_and_once(shed, check_url, cast, login):
    client, today = login(cast.driver), timezone.localdate()
    data = typed(page_form(client, check_url), kind="first parade", nil_defect="on")
    assert [client.post(check_url, data).status_code for _ in range(2)] == [302, 302]
    row = UseCheck.objects.get(vehicle=shed.vehicle, kind="first parade", for_day=today)
    assert (row.nil_defect, row.by) == (True, cast.driver)
    assert "Nil defect." in text(client.get(check_url))


def test_what_was_found_becomes_faults(shed, check_url, cast, login):
    client = login(cast.driver)
    over = {
        "kind": "after use",
        "found-0-words": "Horn is dead",
        "found-0-subsystem": str(system(shed.vehicle, "ELE").pk),
        "found-2-words": "Rattle at the back",
    }
    data = typed(page_form(client, check_url), **over)
    assert [client.post(check_url, data).status_code for _ in range(2)] == [302, 302]
    found = Defect.objects.filter(source="use check").order_by("pk")
    assert [(row.words, row.subsystem and row.subsystem.code) for row in found] == [
        ("Horn is dead", "ELE"),
        ("Rattle at the back", None),
    ]


@pytest.mark.parametrize("over", [{}, {"nil_defect": "on", "found-0-words": "Horn is dead"}])
def test_it_is_one_of_the_two(shed, check_url, cast, login, over):
    client = login(cast.driver)
    answer = client.post(check_url, typed(page_form(client, check_url), kind="after use", **over))
    assert answer.status_code == 422
    assert "One of the two" in text(answer)
    assert not UseCheck.objects.exists()


def test_the_curator_checks_the_condition_and_nothing_else(check_url, cast, login):
    client = login(cast.curator)
    assert [value for value, _ in page_form(client, check_url).fields["kind"].choices] == [
        "condition before",
        "condition after",
    ]
    assert (
        client.post(
            check_url, typed(page_form(client, check_url), kind="after use", nil_defect="on")
        ).status_code
        == 422
    )
    assert login(cast.manager).post(check_url, {"kind": "after use", "nil_defect": "on"}).status_code == 403


def test_an_overdue_check_is_said(shed, check_url, cast, login):
    UseCheck.objects.create(vehicle=shed.vehicle, kind="after use", for_day=tomorrow(-2), due_by=tomorrow(-2))
    assert "Overdue: after-use check" in text(login(cast.driver).get(check_url))
