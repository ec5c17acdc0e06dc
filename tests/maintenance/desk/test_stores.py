"""Parts: counted back from the freeze, ordered, promised, taken in, kept, settled, robbed; and the tools."""

import datetime as dt
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse
from django.utils import timezone

from fleet.models import WorkPattern
from maintenance.models import Defect, PartNeed, SpecialTool
from maintenance.queries.stores import need_day, part_dates
from tests.factories import CardFactory, PartNeedFactory, PersonFactory, VehicleFactory
from tests.maintenance.desk.conftest import tomorrow
from tests.maintenance.desk.handing_in import page_form, text, typed

TODAY = dt.date(2026, 5, 11)  # a Monday
FREEZE = timezone.make_aware(dt.datetime(2026, 6, 11, 18))  # Thursday, a month on


def fitter():
    """In on Tuesdays and Saturdays, four hours at the bench."""
    person = PersonFactory(name="Hild Gorse", is_mechanic=True)
    for weekday in (1, 5):
        WorkPattern.objects.create(person=person, weekday=weekday)
    return person


def dates(person, today=TODAY, **part):
    card = CardFactory(suits=person, hours_best=Decimal(3), hours_usual=Decimal(4), hours_bad=Decimal(6))
    need = PartNeedFactory(card=card, **{"lead_days": 21, **part})
    return part_dates(need, {person.pk: person}, today, timezone.localtime(FREEZE))


@pytest.mark.parametrize(
    ("hours", "wanted"),
    [("0.5", 4), ("4", 4), ("4.01", 3), ("8", 3), ("12", 2), ("16", 1), ("16.5", None)],
)
def test_whole_work_days_are_counted_back(hours, wanted):
    days = [dt.date(2026, 6, day) for day in (1, 2, 3, 4)]
    assert need_day(days, Decimal(4), Decimal(hours)) == (dt.date(2026, 6, wanted) if wanted else None)


def test_the_last_order_date_is_the_need_less_the_lead(db):
    # 25/6 hours are two days of four: the Tuesday before the freeze and the Saturday before that.
    found = dates(fitter())
    assert (found.need, found.order) == (dt.date(2026, 6, 6), dt.date(2026, 5, 16))
    assert (found.code, found.words) == ("soon", "Order within 5 days")


@pytest.mark.parametrize(
    ("lead", "code", "words"),
    [
        (11, "ok", "15 days left to order it"),
        (12, "soon", "Order within 14 days"),
        (26, "soon", "Order today or it is too late"),
        (27, "late", "Too late by 1 day"),
        (40, "late", "Too late by 14 days"),
    ],
)
def test_the_warning_comes_fourteen_days_before(db, lead, code, words):
    found = dates(fitter(), lead_days=lead)
    assert (found.code, found.words) == (code, words)


def test_a_part_on_order_is_held_against_the_day_it_is_needed(db):
    late = dates(fitter(), state="on order", promised_on=dt.date(2026, 6, 7))
    assert (late.code, late.words) == ("late", "Promised 1 day after it is needed")
    assert dates(fitter(), state="on order", promised_on=dt.date(2026, 6, 6)).code == "ok"


def test_the_day_of_the_freeze_counts_where_the_day_begins_before_it(db):
    person = PersonFactory(is_mechanic=True)
    WorkPattern.objects.create(person=person, weekday=3)  # Thursdays, the freeze at 18:00 among them
    card = CardFactory(suits=person, hours_usual=Decimal(1))
    need = PartNeedFactory(card=card, lead_days=1)
    at = timezone.localtime(FREEZE)
    assert part_dates(need, {person.pk: person}, TODAY, at).need == dt.date(2026, 6, 11)
    assert part_dates(need, {person.pk: person}, TODAY, at.replace(hour=10)).need == dt.date(2026, 6, 4)


def test_work_for_after_the_event_and_no_freeze_count_nothing(db):
    person = fitter()
    card = CardFactory(suits=person, hours_usual=Decimal(1), timing="post")
    need = PartNeedFactory(card=card, lead_days=1)
    assert part_dates(need, {person.pk: person}, TODAY, timezone.localtime(FREEZE)).code == "none"
    assert part_dates(PartNeedFactory(lead_days=1), {person.pk: person}, TODAY, None).code == "none"


def test_without_a_lead_time_it_says_so(db):
    found = dates(fitter(), lead_days=None)
    assert (found.order, found.words) == (None, "Lead time not on file: ask the supplier")


def test_the_page_shows_parts_by_state_with_the_last_day(shed, cast, login, freeze):
    freeze(timezone.now() + dt.timedelta(days=30))
    WorkPattern.objects.create(person=cast.mechanic, weekday=tomorrow(5).weekday())
    for state, more in [
        ("on order", {"promised_on": tomorrow(3)}),
        ("on shelf", {"bin": "C4"}),
        ("need unknown", {}),
        ("fitted", {}),
    ]:
        PartNeedFactory(card=shed.card, name=f"Thing {state}", state=state, **more)
    answer = login(cast.driver).get(reverse("maintenance:stores"))
    assert {
        section.code: [line.part.name for line in section.lines] for section in answer.context["sections"]
    } == {
        "order": ["Lining set"],
        "unknown": ["Thing need unknown"],
        "coming": ["Thing on order"],
        "shelf": ["Thing on shelf"],
    }
    assert "the yard next door has it" in text(answer)
    assert "overdue" in text(answer)
    assert "Tarn Brake Stores" in text(answer)


def act(part, name):
    return reverse("maintenance:part_act", args=[part.pk, name])


ROLES = {
    "order": {"lead", "coordinator"},
    "promise": {"lead", "coordinator"},
    "receive": {"mechanic", "lead", "coordinator"},
    "reserve": {"mechanic", "lead", "coordinator"},
    "settle": {"mechanic", "lead", "coordinator"},
}


@pytest.mark.parametrize("name", sorted(ROLES))
@pytest.mark.parametrize(
    "role", ["driver", "mechanic", "lead", "coordinator", "manager", "curator", "administrator"]
)
def test_acts_on_a_part_by_role(shed, cast, login, name, role):
    state = {"promise": "on order", "reserve": "on shelf"}.get(name, "not ordered")
    part = PartNeedFactory(
        card=shed.card, state=state, promised_on=tomorrow(9) if state == "on order" else None
    )
    data = {
        "order": {"promised_on": tomorrow(9).isoformat()},
        "promise": {"promised_on": tomorrow(12).isoformat()},
        "receive": {"bin": "C4"},
        "reserve": {"card": str(shed.card.pk)},
        "settle": {"answer": "unknown"},
    }[name]
    before = PartNeed.objects.filter(pk=part.pk).values().get()
    answer = login(getattr(cast, role)).post(act(part, name), data)
    assert answer.status_code == (302 if role in ROLES[name] else 403)
    assert (PartNeed.objects.filter(pk=part.pk).values().get() != before) == (role in ROLES[name])


def test_ordered_promised_again_and_laid_on_the_shelf(shed, cast, login):
    client, page = login(cast.coordinator), reverse("maintenance:part", args=[shed.part.pk])

    def form(name):
        return next(form for one, _, form in client.get(page).context["acts"] if one == name)

    assert (
        client.post(
            act(shed.part, "order"),
            typed(form("order"), supplier="Fell End Drums", promised_on=tomorrow(9).isoformat()),
        ).status_code
        == 302
    )
    shed.part.refresh_from_db()
    assert (shed.part.state, shed.part.supplier.name, shed.part.ordered_on) == (
        "on order",
        "Fell End Drums",
        timezone.localdate(),
    )
    assert (
        client.post(
            act(shed.part, "promise"),
            typed(form("promise"), promised_on=tomorrow(15).isoformat(), note="rang them"),
        ).status_code
        == 302
    )
    assert client.post(act(shed.part, "receive"), typed(form("receive"), bin="")).status_code == 422
    assert client.post(act(shed.part, "receive"), typed(form("receive"), bin="C4")).status_code == 302
    shed.part.refresh_from_db()
    assert (shed.part.state, shed.part.bin, shed.part.promised_on, shed.part.note) == (
        "on shelf",
        "C4",
        tomorrow(15),
        "rang them",
    )


def test_goods_in_lets_the_job_go_on_that_waited_for_it(shed, cast, login):
    type(shed.card).objects.filter(pk=shed.card.pk).update(state="held", held_for="part")
    login(cast.mechanic).post(act(shed.part, "receive"), {"bin": "C4"})
    shed.card.refresh_from_db()
    assert shed.card.state == "booked in"


def test_an_act_that_no_longer_fits_tells_how_the_part_stands(shed, cast, login):
    client = login(cast.lead)
    client.post(act(shed.part, "receive"), {"bin": "C4"})
    answer = client.post(act(shed.part, "order"), {"promised_on": tomorrow(9).isoformat()}, follow=True)
    assert "Nothing was changed" in text(answer)
    shed.part.refresh_from_db()
    assert shed.part.state == "on shelf"


def test_a_part_kept_for_another_job_is_not_free(shed, cast, login):
    part, other = PartNeedFactory(card=shed.card, state="on shelf", bin="C4"), CardFactory()
    answer = login(cast.lead).post(act(part, "reserve"), {"card": str(other.pk)})
    assert answer.status_code == 422
    assert "is kept for" in text(answer)


def test_the_second_of_two_is_told(shed, cast, login):
    client, page = login(cast.lead), reverse("maintenance:part", args=[shed.part.pk])
    forms = {name: form for name, _, form in client.get(page).context["acts"]}
    client.post(act(shed.part, "settle"), typed(forms["settle"], answer="unknown"))
    answer = client.post(act(shed.part, "order"), typed(forms["order"], promised_on=tomorrow(9).isoformat()))
    assert answer.status_code == 422
    assert "was changed by another" in text(answer)


@pytest.mark.parametrize(
    ("answer", "state"),
    [("wanted", "not ordered"), ("unknown", "need unknown"), ("not needed", "not needed")],
)
def test_a_need_in_doubt_is_settled(shed, cast, login, answer, state):
    part = PartNeedFactory(card=shed.card, state="need unknown")
    assert (
        login(cast.mechanic)
        .post(act(part, "settle"), {"answer": answer, "note": "looked in the tray"})
        .status_code
        == 302
    )
    part.refresh_from_db()
    assert (part.state, part.note) == (state, "looked in the tray")


def test_a_new_need_is_written_once(shed, cast, login):
    client, url = login(cast.mechanic), f"/stores/parts/new/?card={shed.card.pk}"
    data = typed(page_form(client, url), name="Split pins", quantity="12")
    assert [client.post(url, data).status_code for _ in range(2)] == [302, 302]
    row = PartNeed.objects.get(name="Split pins")
    assert (row.card, row.vehicle, row.quantity, row.state) == (shed.card, shed.vehicle, 12, "not ordered")


def test_on_order_without_its_day_is_refused(shed, cast, login):
    client, url = login(cast.lead), reverse("maintenance:part_new")
    answer = client.post(url, typed(page_form(client, url), name="Hose", state="on order"))
    assert answer.status_code == 422
    assert "promised date" in text(answer)


def test_robbed_is_written_on_both(shed, cast, login):
    donor = VehicleFactory(name="Sorrel")
    client, url = login(cast.lead), reverse("maintenance:part_rob")
    data = typed(
        page_form(client, url),
        name="Dynamo",
        donor=str(donor.pk),
        card=str(shed.card.pk),
        bin="C4",
        reason="Back after the event.",
    )
    assert [client.post(url, data).status_code for _ in range(2)] == [302, 302]
    need = PartNeed.objects.get(name="Dynamo")
    assert (need.card, need.state) == (shed.card, "on shelf")
    assert [row.title for row in Defect.objects.filter(vehicle=donor)] == [
        f"Dynamo taken for B\u00a002, job {shed.card.serial}"
    ]
    for role in ("mechanic", "coordinator", "driver"):
        assert login(getattr(cast, role)).post(url, data).status_code == 403


def test_a_tool_goes_on_loan_and_comes_back(shed, cast, login):
    client, url = login(cast.coordinator), reverse("maintenance:tool", args=[shed.tool.pk])
    data = typed(
        page_form(client, url),
        keeper=str(cast.mechanic.pk),
        on_loan_to="Sorrel group",
        back_on=tomorrow(4).isoformat(),
    )
    assert client.post(url, data).status_code == 302
    shed.tool.refresh_from_db()
    assert (shed.tool.keeper, shed.tool.on_loan_to, shed.tool.back_on) == (
        cast.mechanic,
        "Sorrel group",
        tomorrow(4),
    )
    assert client.post(url, {**data, "on_loan_to": ""}).status_code == 422
    assert client.post(url, {**data, "on_loan_to": "", "back_on": ""}).status_code == 302
    shed.tool.refresh_from_db()
    assert not shed.tool.is_away(timezone.localdate())
    assert login(cast.mechanic).post(url, data).status_code == 403


def test_a_tool_is_added(shed, cast, login):
    client, url = login(cast.lead), reverse("maintenance:tool_new")
    assert (
        client.post(url, typed(page_form(client, url), name="Hub puller", home="board 3")).status_code == 302
    )
    assert SpecialTool.objects.get(name="Hub puller").home == "board 3"


def test_days_are_counted_in_the_museums_own_zone(shed, cast, login, freeze):
    with time_machine.travel(dt.datetime(2026, 6, 10, 23, 30, tzinfo=dt.UTC), tick=False):
        freeze(FREEZE)
        answer = login(cast.lead).get(reverse("maintenance:stores"))
        assert answer.context["today"] == dt.date(2026, 6, 11)
