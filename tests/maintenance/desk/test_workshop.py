"""The workshop page: load by name until the freeze, what speaks up, and openings worth sharing."""

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.models import Act, DayException, WorkPattern
from maintenance.enums import CardState
from maintenance.models import Access, JobCard, WorkLog
from maintenance.queries.workshop_page import (
    days_before_freeze,
    freeze_after,
    hang,
    hours_left,
    mean_hours,
    rows,
    shared_openings,
    turn_up,
    with_days,
)
from tests.factories import CardFactory, PersonFactory
from tests.maintenance.desk.handing_in import text

TODAY = dt.date(2026, 5, 11)  # a Monday
FREEZE = timezone.localtime(timezone.make_aware(dt.datetime(2026, 6, 11, 18)))


def fitter(**fields):
    person = PersonFactory(name="Hild Gorse", is_mechanic=True, **fields)
    for weekday in (3, 5):
        WorkPattern.objects.create(person=person, weekday=weekday)
    return person


def test_the_mean_of_three_points_and_the_usual_alone():
    assert (
        mean_hours(JobCard(hours_best=Decimal(3), hours_usual=Decimal(4), hours_bad=Decimal(6)))
        == Decimal(25) / 6
    )
    assert mean_hours(JobCard(hours_usual=Decimal(4))) == 4
    assert mean_hours(JobCard()) is None


def test_hours_written_down_are_taken_off_and_nothing_is_left_once_it_is_together(db):
    person = PersonFactory()
    card = CardFactory(hours_usual=6, persons=2)
    WorkLog.objects.create(card=card, person=person, day=TODAY, hours=4)
    assert hours_left(card) == 4  # two persons: four hours in all are two of each
    card.refit_at = timezone.now()
    assert hours_left(card) == 0


def test_load_by_name_counts_days_hours_and_turn_up(museum):
    museum.turn_up_volunteer = Decimal("0.80")
    person = fitter()
    DayException.objects.create(person=person, day=dt.date(2026, 5, 14), is_in=False)
    for _ in range(3):
        CardFactory(suits=person, hours_best=6, hours_usual=8, hours_bad=16)
    CardFactory(suits=person, hours_usual=9, timing="post")
    CardFactory(suits=person, hours_usual=9, state=CardState.CARRIED_FORWARD)
    CardFactory(suits=person)
    cards = list(JobCard.objects.select_related("vehicle").prefetch_related("hours"))
    found = next(row for row in rows(cards, TODAY, FREEZE, museum) if row.person == person)
    # Thursdays 14 (away), 21, 28, 4, 11 June; Saturdays 16, 23, 30, 6: eight days of four hours, at 8 in 10.
    assert len(found.pegs) == 8
    assert (found.there, found.wanted, found.without_hours) == (Decimal("25.6"), Decimal(27), 1)
    assert (found.over, found.spare) == (Decimal("1.4"), 0)


def test_a_taken_job_counts_for_whoever_has_it(museum):
    one, two = fitter(), PersonFactory(name="Ivar Dell", is_mechanic=True)
    CardFactory(suits=one, taken_by=two, hours_usual=5)
    cards = list(JobCard.objects.select_related("vehicle").prefetch_related("hours"))
    found = {row.person: row.wanted for row in rows(cards, TODAY, FREEZE, museum)}
    assert found == {one: 0, two: 5}


def test_own_turn_up_goes_before_the_museums_figure(museum):
    assert turn_up(PersonFactory(turn_up=Decimal("0.50")), museum) == Decimal("0.50")
    assert turn_up(PersonFactory(engagement="staff"), museum) == museum.turn_up_staff
    assert turn_up(PersonFactory(), None) == 1


def test_days_run_to_the_freeze_and_no_further(db):
    person = fitter()
    person = with_days(type(person).objects.filter(pk=person.pk)).get()
    days = days_before_freeze(person, dt.date(2026, 6, 5), FREEZE)
    assert days == [dt.date(2026, 6, 6), dt.date(2026, 6, 11)]
    assert days_before_freeze(person, dt.date(2026, 6, 5), FREEZE.replace(hour=10)) == [dt.date(2026, 6, 6)]


def test_jobs_are_hung_in_their_order_and_go_on_over_days():
    one, two = JobCard(title="one"), JobCard(title="two", state=CardState.HELD)
    days = [TODAY, TODAY + dt.timedelta(days=2)]
    pegs, over = hang(days, Decimal(4), [(one, Decimal(5)), (two, Decimal(6))], TODAY)
    assert [[(tag.card.title, tag.hours, tag.waits, tag.goes_on) for tag in peg.tags] for peg in pegs] == [
        [("one", 4, False, True)],
        [("one", 1, False, False), ("two", 3, True, True)],
    ]
    assert [(peg.is_today, peg.wanted) for peg in pegs] == [(True, 4), (False, 4)]
    assert over == [(two, Decimal(3))]


def test_one_opening_saves_what_the_others_would_pay_again(db):
    access = Access.objects.create(name="pack lift", open_hours=7, close_hours=9, persons=2)
    cards = [CardFactory(access=access, hours_best=b, hours_usual=u, hours_bad=w, persons=n) for b, u, w, n in [
        (3, 5, 9, 2), (4, 6, 10, 2), (2, 4, 9, 1), ("1.5", 3, 5, 2), (2, 4, 7, 1),
    ]]  # fmt: skip
    JobCard.objects.update(vehicle=cards[0].vehicle)
    (one,) = shared_openings(JobCard.objects.select_related("access", "vehicle"))
    assert (one.count_words, one.opening, one.saves) == ("Five", 32, 128)
    assert (round(one.apart), round(one.together)) == (198, 70)
    assert not one.grouped


def test_jobs_of_two_vehicles_share_nothing(db):
    access = Access.objects.create(name="pit", open_hours=1, close_hours=1)
    CardFactory(access=access)
    CardFactory(access=access)
    assert shared_openings(JobCard.objects.select_related("access")) == []


@pytest.mark.django_db
def test_the_freeze_is_asked_of_the_app_above_and_the_nearer_one_counts(freeze):
    freeze(FREEZE)
    freeze(FREEZE + dt.timedelta(days=7))
    freeze(None)
    assert freeze_after(TODAY) == FREEZE


@pytest.fixture
def page(shed, cast, login, freeze):
    freeze(timezone.now() + dt.timedelta(days=30))
    return lambda role="lead": login(getattr(cast, role)).get(reverse("maintenance:workshop"))


def test_the_page_says_what_is_over_in_words(page, shed, cast):
    said = text(page())
    assert "4.2 h asked, 0.0 h likely there" in said
    assert "over by 4.2 h" in said


def test_a_job_without_a_name_is_told(page, shed):
    CardFactory(vehicle=shed.vehicle, title="Whose is this", state="booked in")
    assert "Whose is this" in text(page()).split("No one has it", 1)[1].split("Held", 1)[0]


def test_held_says_what_for_and_since_when(page, shed, cast, login):
    login(cast.lead).post(
        reverse("maintenance:card_act", args=[shed.card.pk, "hold"]), {"reason": "part", "note": "linings"}
    )
    said = text(page()).split(" Held ", 1)[1]
    today = timezone.localdate()
    assert "Waits for: part, linings" in said
    assert f"since {today:%a} {today.day} {today:%B}" in said


def test_half_stripped_and_untouched_speaks_up(page, shed, museum):
    JobCard.objects.filter(pk=shed.card.pk).update(
        opened_at=timezone.now() - dt.timedelta(days=60),
        touched_at=timezone.now() - dt.timedelta(days=museum.untouched_days + 1),
    )
    assert "nobody has touched it" in text(page())
    JobCard.objects.filter(pk=shed.card.pk).update(
        touched_at=timezone.now() - dt.timedelta(days=museum.untouched_days - 1)
    )
    assert "nobody has touched it" not in text(page())


def test_put_off_and_tools_away_stand_below(page):
    said = text(page())
    assert "not above 20 km/h" in said
    assert "the yard next door has it" in said
    assert "overdue" in said


def test_a_person_puts_jobs_in_one_group(page, shed, cast, login):
    other = CardFactory(vehicle=shed.vehicle, access=shed.access, title="Mounts")
    assert "One opening for several jobs" in text(page())
    url, data = reverse("maintenance:workshop_share"), {"card": [str(shed.card.pk), str(other.pk)]}
    for role in ("driver", "manager", "curator"):
        assert login(getattr(cast, role)).post(url, data).status_code == 403
    assert login(cast.lead).post(url, data).status_code == 302
    words = set(JobCard.objects.filter(access=shed.access).values_list("access_group", flat=True))
    assert words == {f"pack lift {min(shed.card.serial, other.serial)}"}
    assert "shared already" in text(page())


@pytest.mark.parametrize("count", [0, 1])
def test_one_alone_shares_nothing(page, shed, cast, login, count):
    answer = login(cast.lead).post(
        reverse("maintenance:workshop_share"), {"card": [str(shed.card.pk)] * count}, follow=True
    )
    assert "shares nothing" in text(answer)
    shed.card.refresh_from_db()
    assert shed.card.access_group == ""


def test_only_one_vehicles_jobs_share(page, shed, cast, login):
    other = CardFactory(access=shed.access)
    answer = login(cast.lead).post(
        reverse("maintenance:workshop_share"), {"card": [str(shed.card.pk), str(other.pk)]}, follow=True
    )
    assert "Only jobs on one vehicle" in text(answer)


def test_two_hand_ins_stand_on_the_workshop_page_until_settled(cast, login, vehicle, museum):
    card = CardFactory(vehicle=vehicle)
    page = lambda: login(cast.lead).get(reverse("maintenance:workshop")).content.decode()  # noqa: E731
    assert "Handed in twice" not in page()
    told = {
        "subject_kind": "maintenance.jobcard",
        "subject_id": str(card.pk),
        "subject_label": "x",
        "by": cast.lead,
    }
    Act.objects.create(act="card.second_hand_in", **told)
    assert "Handed in twice" in page()
    Act.objects.create(act="card.hand_ins_settled", **told)
    assert "Handed in twice" not in page()
