"""My jobs: whose, in which order, and at what cost."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.models import Skill
from maintenance.models import JobCard
from maintenance.phone.mine import my_jobs
from maintenance.services import bench, cards, closing
from tests.factories import CardFactory, CompetenceFactory, DefectFactory

pytestmark = pytest.mark.django_db


def titles(rows) -> list[str]:
    return [row.card.title for row in rows]


def test_what_is_mine_what_nobody_has_and_what_is_another_s(museum, vehicle, mechanic, lead):
    brakes, wood = Skill.objects.create(name="brakes"), Skill.objects.create(name="wood")
    mechanic.skills.add(brakes)
    CardFactory(vehicle=vehicle, title="Mine", taken_by=mechanic, state="in hand")
    CardFactory(vehicle=vehicle, title="Planned for me", suits=mechanic)
    CardFactory(vehicle=vehicle, title="My skill").skills.add(brakes)
    CardFactory(vehicle=vehicle, title="Any skill")
    CardFactory(vehicle=vehicle, title="Another skill").skills.add(wood)
    CardFactory(vehicle=vehicle, title="Planned for the lead", suits=lead)
    CardFactory(vehicle=vehicle, title="The lead has it", taken_by=lead, state="in hand")
    CardFactory(vehicle=vehicle, title="Passed", state="passed", taken_by=mechanic)
    CardFactory(vehicle=vehicle, title="Not due", state="not due", suits=mechanic)
    CardFactory(vehicle=vehicle, title="Later", timing="post", suits=mechanic)
    CardFactory(vehicle=vehicle, title="Stuck", state="held", held_for="part", suits=mechanic)
    mine = my_jobs(mechanic)
    assert titles(mine.have) == ["Mine"]
    assert sorted(titles(mine.free)) == ["Any skill", "My skill", "Planned for me"]
    assert titles(mine.held) == ["Stuck"]
    assert titles(mine.after) == ["Later"]
    assert mine.held[0].why == "Held for: part."


def test_what_holds_the_freeze_most_stands_first(museum, vehicle, mechanic):
    grave = DefectFactory(vehicle=vehicle, effects={"STOP": "lost"}, severity=1, probability="D")
    mild = DefectFactory(vehicle=vehicle, effects={"LOOK": "watch"}, severity=4, probability="D")
    CardFactory(vehicle=vehicle, title="Mild", defects=[mild], hours_usual=Decimal(9))
    CardFactory(vehicle=vehicle, title="Short", hours_usual=Decimal(1))
    CardFactory(vehicle=vehicle, title="Long", hours_usual=Decimal(8))
    CardFactory(vehicle=vehicle, title="Grave", defects=[grave])
    assert titles(my_jobs(mechanic).free) == ["Grave", "Mild", "Long", "Short"]


def test_only_who_may_have_it_is_offered_it(museum, vehicle, mechanic, driver, login):
    CardFactory(vehicle=vehicle, title="Needs a yes", needs_consent=True)
    CardFactory(vehicle=vehicle, title="Plain")
    assert {row.card.title: row.may_take for row in my_jobs(mechanic).free} == {
        "Needs a yes": False,
        "Plain": True,
    }
    mechanic.is_trainee = True
    mechanic.save()
    assert not any(row.may_take for row in my_jobs(mechanic).free)
    assert my_jobs(driver).free == ()
    assert (
        "Nothing for you at the moment" in login(driver).get(reverse("maintenance:my_jobs")).content.decode()
    )


def test_take_it_from_the_list(museum, vehicle, mechanic, login):
    card = CardFactory(vehicle=vehicle, title="Plain")
    browser = login(mechanic)
    page = browser.get(reverse("maintenance:my_jobs")).content.decode()
    sent = dict(re.findall(r'name="(act|key|version)" value="([^"]+)"', page))
    browser.post(reverse("maintenance:card", args=[card.pk]), sent)
    assert JobCard.objects.get(pk=card.pk).taken_by == mechanic


def test_what_waits_for_my_signature(ready, mechanic, inspector, lead, vehicle):
    CompetenceFactory(person=mechanic, area="brakes")
    CompetenceFactory(person=lead, area="steering")
    assert titles(my_jobs(inspector).to_sign) == ["Reline the rear shoes"]
    assert my_jobs(mechanic).to_sign == ()  # whoever did it
    assert my_jobs(lead).to_sign == ()  # authorised for another area
    item = bench.strip_add(card=ready.card, by=mechanic, what="Shoe")
    assert my_jobs(inspector).to_sign == ()  # in pieces again
    bench.strip_back(item=item, by=mechanic)
    bench.refit_done(card=ready.card, by=mechanic)
    closing.card_close(card=ready.card, by=mechanic, outcome="done", words="Relined")
    assert titles(my_jobs(inspector).to_sign) == ["Reline the rear shoes"]
    competence = inspector.competences.get(area="brakes")
    competence.valid_through = "2020-01-01"
    competence.save()
    assert my_jobs(inspector).to_sign == ()


def test_a_signature_wanted_links_to_where_it_is_given(ready, inspector, login):
    page = login(inspector).get(reverse("maintenance:my_jobs")).content.decode()
    assert f'href="/jobs/{ready.card.pk}/#h-si"' in page


def queries(browser, url: str) -> int:
    with CaptureQueriesContext(connection) as seen:
        assert browser.get(url).status_code == 200
    assert [
        q["sql"] for q in seen if q["sql"].lstrip().upper().startswith(("INSERT", "UPDATE", "DELETE"))
    ] == []
    return len(seen)


def test_the_list_costs_the_same_with_one_and_with_three(museum, vehicle, mechanic, inspector, lead, login):
    mechanic.is_driver = True
    mechanic.save()
    CompetenceFactory(person=mechanic, area="brakes")

    def more(place: int) -> None:
        defect = DefectFactory(vehicle=vehicle, effects={"START": "reduced"})
        CardFactory(vehicle=vehicle, title=f"Free {place}", defects=[defect]).skills.add(
            Skill.objects.get_or_create(name="brakes")[0]
        )
        CardFactory(vehicle=vehicle, title=f"Mine {place}", taken_by=mechanic, state="in hand")
        card = cards.card_open(
            by=lead,
            vehicle=vehicle,
            title=f"Sign {place}",
            subsystem=vehicle.subsystems.get(code="BRK"),
            steps=["One"],
        )
        cards.card_take(card=card, by=lead)
        bench.cautions_read(card=card, by=lead)
        bench.step_done(step=card.steps.get(), by=lead)
        item = bench.strip_add(card=card, by=lead, what="Drum")
        bench.strip_back(item=item, by=lead)
        bench.refit_done(card=card, by=lead)

    url = reverse("maintenance:my_jobs")
    more(0)
    mechanic.skills.add(Skill.objects.get(name="brakes"))
    browser = login(mechanic)
    browser.get(url)
    first = queries(browser, url)
    more(1)
    more(2)
    assert len(my_jobs(mechanic).to_sign) == 3
    assert queries(browser, url) == first
    assert first <= 22


def test_a_card_costs_the_same_with_one_and_with_three_of_each(ready, mechanic, login):
    url = reverse("maintenance:card", args=[ready.card.pk])
    browser = login(mechanic)
    browser.get(url)
    first = queries(browser, url)
    for place in range(3):
        bench.hours_add(card=ready.card, by=mechanic, hours="1")
        bench.left_safe(
            card=ready.card, by=mechanic, state_of_strip=f"a {place}", parts_where="b", next_step="c"
        )
        closing.test_record(card=ready.card, by=mechanic, kind="bench", passed=True)
        bench.strip_back(item=bench.strip_add(card=ready.card, by=mechanic, what=f"Pin {place}"), by=mechanic)
        bench.card_steps_set(card=ready.card, by=mechanic, steps=[f"Step {place}"])
    assert queries(browser, url) == first
    assert first <= 2 + 6  # session and user, and six for the page
