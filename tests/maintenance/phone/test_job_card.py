"""Each act of a job card from a phone: done once, refused with a reason, told where somebody was first."""

from __future__ import annotations

import datetime as dt
import json
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.models import Act, Photo
from fleet.services.proof import pin_hash
from maintenance.models import Defect, JobCard, JobSignature, Reading, StripItem, Submission, Tag
from maintenance.services import bench, cards
from tests.maintenance.phone.conftest import picture

pytestmark = pytest.mark.django_db


def fresh(card: JobCard) -> JobCard:
    return JobCard.objects.get(pk=card.pk)


def test_take_and_hand_back(phone, job, mechanic):
    hand = phone(mechanic, job)
    assert "No one has it" in hand.look()
    answer = hand.press("take")
    assert answer.status_code == 302
    assert answer.url.startswith(f"/jobs/{job.pk}/?taken=")
    assert fresh(job).taken_by == mechanic
    assert "Asta Finch has it" in hand.look()
    assert hand.press("hand_back", note="Springs are in tray 2").status_code == 302
    assert fresh(job).taken_by is None


def test_one_key_is_one_effect(phone, job, mechanic):
    """Counted by what is on the job, not by the keys."""
    bench.cautions_read(card=job, by=mechanic)
    hand = phone(mechanic, job)
    for _ in range(3):
        assert (
            hand.press("off", key="11111111-aaaa-bbbb-cccc-000000000001", what="Drum", count="1").status_code
            == 302
        )
    assert [item.what for item in job.strip_items.all()] == ["Drum"]
    hand.press("hours", key="11111111-aaaa-bbbb-cccc-000000000002", hours="1,5")
    hand.press("hours", key="11111111-aaaa-bbbb-cccc-000000000002", hours="1,5")
    assert [log.hours for log in job.hours.all()] == [Decimal("1.50")]


def test_one_key_with_other_words_is_told_and_kept(phone, job, mechanic):
    bench.cautions_read(card=job, by=mechanic)
    hand = phone(mechanic, job)
    key = "22222222-aaaa-bbbb-cccc-000000000001"
    hand.press("off", key=key, what="Drum", count="1")
    answer = hand.press("off", key=key, what="Anchor pin", count="1")
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "taken before with other content" in page
    assert 'value="Anchor pin"' in page
    assert f'value="{key}"' not in page  # the next press is an act of its own
    assert StripItem.objects.count() == 1


def test_a_proof_leaves_no_trace_in_the_kept_answers(phone, ready, mechanic, inspector):
    inspector.pin = pin_hash("418273")
    inspector.save()
    phone(mechanic, ready.card).press("sign", signer=inspector.pk, proof="418273")
    kept = json.dumps(list(Submission.objects.values("act", "digest", "answer")))
    assert JobSignature.objects.filter(person=inspector).count() == 1
    assert "418273" not in kept
    from maintenance.services.submissions import digest_of

    base = {"card": ready.card.pk, "photo": ""}
    with_proof = {"act": ["sign"], "signer": [str(inspector.pk)], "proof": ["418273"]}
    assert digest_of("phone.sign", {**base, "typed": with_proof}) not in kept


def test_cautions_come_before_the_first_tick(phone, job, mechanic):
    hand, step = phone(mechanic, job), job.steps.first()
    page = hand.look()
    assert page.index("Before you touch it") < page.index("Chock both front wheels.")
    answer = hand.press("step", target=step.pk, done="1")
    assert answer.status_code == 422
    assert "Read the cautions first" in answer.content.decode()
    assert fresh(job).steps.first().done_at is None
    assert hand.press("off", what="Drum", count="1").status_code == 422
    assert not job.strip_items.exists()
    hand.press("cautions")
    hand.press("step", target=step.pk, done="1")
    assert fresh(job).steps.first().done_by == mechanic
    assert "You have read these today" in hand.look()


def test_cautions_are_read_anew_the_next_day_and_by_each_person(phone, job, mechanic, lead, time_machine):
    time_machine.move_to(dt.datetime(2026, 6, 3, 9, 0, tzinfo=dt.UTC))
    hand = phone(mechanic, job)
    hand.press("cautions")
    assert hand.press("step", target=job.steps.first().pk, done="1").status_code == 302
    assert phone(lead, job).press("step", target=job.steps.last().pk, done="1").status_code == 422
    time_machine.move_to(dt.datetime(2026, 6, 4, 9, 0, tzinfo=dt.UTC))
    assert hand.press("step", target=job.steps.last().pk, done="1").status_code == 422
    assert job.steps.last().done_at is None


def test_a_step_is_undone(phone, job, mechanic):
    hand, step = phone(mechanic, job), job.steps.first()
    hand.press("cautions")
    hand.press("step", target=step.pk, done="1")
    hand.press("step", target=step.pk)
    assert job.steps.first().done_at is None


def test_a_reading_is_judged_and_kept(phone, job, mechanic):
    hand, measure = phone(mechanic, job), job.measures.get()
    hand.press("reading", target=measure.pk, value_0="2,6", moment="as found")
    row = Reading.objects.get()
    assert (row.values, row.verdict, row.verdict_words, row.card, row.by) == (
        ["2.6"], "past", "Past the limit by 0.4 mm", job, mechanic,
    )  # fmt: skip
    page = hand.look()
    assert "by 0.4 mm" in page
    assert "1 past limit" in page


@pytest.mark.parametrize("typed", ["tight", "1e400000", "NaN", "", "3..4", "Infinity", "-" * 20])
def test_a_reading_that_is_no_number_is_refused_and_kept_as_typed(phone, job, mechanic, typed):
    measure = job.measures.get()
    answer = phone(mechanic, job).press("reading", target=measure.pk, value_0=typed, moment="as found")
    assert answer.status_code == 422
    assert f'value="{typed}"' in answer.content.decode()
    assert not Reading.objects.exists()


def test_the_verdict_is_worked_out_without_writing(phone, job, mechanic, client):
    measure = job.measures.get()
    url = reverse("maintenance:verdict", args=[job.pk, measure.pk])
    hand = phone(mechanic, job)
    said = {
        text: hand.client.get(url, {"value_0": text}).content.decode()
        for text in ("2.6", "3", "3,4", "", "tight")
    }
    assert "<b>Past the limit</b> by 0.4 mm" in said["2.6"]
    assert "At the limit, which passes" in said["3"]
    assert "<b>Within the limit</b> 0.4 mm to spare" in said["3,4"]
    assert "Not read yet" in said[""]
    assert "Not sure" in said["tight"]
    assert f'id="v-{measure.pk}"' in said["2.6"]
    assert not Reading.objects.exists()
    assert client.get(url, headers={"HX-Request": "true"}).status_code == 401


def test_off_and_on_again(phone, job, mechanic):
    hand = phone(mechanic, job)
    hand.press("cautions")
    hand.press("off", what="Drum", count="1", tray="Bench 2", marks="Punch mark on top")
    hand.press("off", what="Pull-off springs", count="2", photo=picture())
    page = hand.look()
    assert "3 off, 0 back" in page
    assert page.index("Drum") < page.index("Pull-off springs")
    refused = hand.press("refit")
    assert refused.status_code == 422
    assert "Not back on yet: 1 Drum; 2 Pull-off springs" in refused.content.decode()
    first, second = job.strip_items.all()
    assert second.photos.get().moment == "as found"
    hand.press("back", target=second.pk)
    page = hand.look()
    assert "3 off, 2 back" in page
    assert page.index("<b>Pull-off springs</b>") < page.index("<b>Drum</b>")  # last off, first on
    hand.press("stays_off", target=first.pk, reason="Renewed")
    assert hand.press("refit").status_code == 302
    assert fresh(job).refit_at is not None


def test_a_missing_number_is_said_at_close(phone, job, mechanic):
    hand = phone(mechanic, job)
    hand.press("cautions")
    hand.press("off", what="Drum", count="1")
    hand.press("off", what="Springs", count="1", number="3")
    assert "Number 2 is missing from the off-and-on list" in hand.look()


def test_leave_it_safe_before_handing_back_a_job_in_pieces(phone, job, mechanic):
    hand = phone(mechanic, job)
    hand.press("take")
    hand.press("cautions")
    hand.press("off", what="Drum", count="1")
    refused = hand.press("hand_back", note="until Saturday")
    assert refused.status_code == 422
    assert 'value="until Saturday"' in refused.content.decode()
    assert fresh(job).taken_by == mechanic
    hand.press("safe", state_of_strip="On stands, drum off", parts_where="Tray 2", next_step="Measure")
    assert hand.press("hand_back").status_code == 302
    assert "On stands, drum off" in hand.look()


def test_held_says_for_what_and_is_let_go(phone, job, mechanic):
    hand = phone(mechanic, job)
    hand.press("hold", reason="part", until="2026-12-01", note="Hose shop")
    assert "Held for: part, until 1 December. Hose shop" in hand.look()
    hand.press("release")
    assert fresh(job).held_for == ""


def test_photographs_go_with_the_job_once(phone, job, mechanic):
    hand = phone(mechanic, job)
    for _ in range(2):
        hand.press(
            "photo",
            key="33333333-aaaa-bbbb-cccc-000000000001",
            photo=picture(),
            moment="as found",
            shows="Wheel box",
        )
    assert [(one.moment, one.photo.shows) for one in job.card_photos.all()] == [("as found", "Wheel box")]
    assert Photo.objects.count() == 1


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("shell.jpg", b"<script>alert(1)</script>"),
        ("drawing.svg", b"<svg xmlns='http://www.w3.org/2000/svg' onload='x()'/>"),
        ("page.jpg", b"%PDF-1.7 ..."),
        ("cut.jpg", picture().read()[:60]),
        ("empty.jpg", b""),
    ],
)
def test_hostile_uploads_are_refused_and_nothing_is_kept(phone, job, mechanic, name, data):
    from django.core.files.uploadedfile import SimpleUploadedFile

    hand = phone(mechanic, job)
    answer = hand.press("found", words="Crack in the web", photo=SimpleUploadedFile(name, data, "image/jpeg"))
    assert answer.status_code == 422
    assert "Crack in the web" in answer.content.decode()
    assert (Photo.objects.count(), Defect.objects.count()) == (0, 0)


def test_a_driver_sends_no_photograph_to_a_job(phone, job, driver):
    answer = phone(driver, job).press("photo", photo=picture())
    assert answer.status_code == 403
    assert Photo.objects.count() == 0


def test_found_on_this_job_becomes_a_fault_of_its_own(phone, job, mechanic):
    phone(mechanic, job).press("found", words="Wheel cylinder weeps", photo=picture())
    row = Defect.objects.get()
    assert (row.found_on, row.source, row.subsystem, row.photos.count()) == (
        job,
        "discovery",
        job.subsystem,
        1,
    )


def test_a_part_is_asked_for(phone, job, mechanic):
    hand = phone(mechanic, job)
    hand.press("part", name="Pull-off springs", quantity="2", note="Long one")
    assert [(part.name, part.quantity) for part in job.parts.all()] == [("Pull-off springs", 2)]
    assert "Pull-off springs, 2" in hand.look()


def test_an_original_is_kept_with_label_and_shelf(phone, job, mechanic, lead):
    cards.card_plan(card=job, by=lead, removes_original=True)
    hand = phone(mechanic, job)
    hand.press("original", label="K 41", shelf="Store 2")
    assert "label K 41, shelf Store 2" in hand.look()


def test_close_waits_and_says_for_what(phone, job, mechanic):
    hand = phone(mechanic, job)
    hand.press("take")
    page = hand.look()
    assert 'aria-disabled="true" aria-describedby="why-close"' in page
    answer = hand.press("close", outcome="done", words="Relined, both shoes")
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "The cautions have not been read." in text
    assert "Relined, both shoes" in text
    assert fresh(job).outcome == ""
    assert not JobSignature.objects.exists()


def test_must_not_run_is_taken_at_once_and_hangs_a_tag(phone, job, mechanic):
    hand = phone(mechanic, job)
    hand.press("take")
    assert hand.press("close", outcome="not run", words="Drum cracked right through").status_code == 302
    assert Tag.objects.get().reason == "Drum cracked right through"
    assert "Do not run." in hand.look()


def test_put_back_as_found_goes_after_the_event(phone, job, mechanic):
    hand = phone(mechanic, job)
    hand.press("take")
    hand.press("close", outcome="as found", words="No time before the freeze")
    assert (fresh(job).timing, fresh(job).taken_by) == ("post", None)


def test_from_hand_in_to_return_to_service(phone, ready, mechanic, lead, inspector):
    """Handed in by one, tested, signed by another on the same phone, returned by the lead."""
    hand = phone(mechanic, ready.card)
    page = hand.look()
    assert "why-close" not in page  # nothing of the bench is left
    hand.press("close", outcome="done", words="Relined and bedded in")
    assert "It waits for:" in hand.look()
    hand.press("test", kind="functional", result="passed")
    hand.press("test", kind="road", result="passed", words="Three stops, straight")
    inspector.pin = pin_hash("418273")
    inspector.save()
    wrong = hand.press("sign", signer=inspector.pk, proof="000000")
    assert wrong.status_code == 422
    assert "000000" not in wrong.content.decode()
    assert hand.press("sign", signer=inspector.pk, proof="418273").status_code == 302
    assert fresh(ready.card).state == "passed"
    assert "The workshop lead signs the return to service." in hand.look()
    assert hand.press("return").status_code == 403
    boss = phone(lead, ready.card)
    assert boss.press("return", words="Good").status_code == 302
    assert JobSignature.objects.filter(kind="return to service", person=lead).count() == 1
    assert "Berit Holm" in boss.look()


def test_whoever_did_it_never_signs_as_the_second(phone, ready, mechanic, lead, password):
    from tests.factories import CompetenceFactory

    CompetenceFactory(person=mechanic, area="brakes")
    hand = phone(lead, ready.card)
    assert f'<option value="{mechanic.pk}">' not in hand.look()
    answer = hand.press("sign", signer=mechanic.pk, proof=password)
    assert answer.status_code == 403
    assert not JobSignature.objects.filter(kind="inspector").exists()


def test_without_an_authorisation_nobody_signs(phone, ready, mechanic, driver, password):
    answer = phone(mechanic, ready.card).press("sign", signer=driver.pk, proof=password)
    assert answer.status_code == 403
    assert "Rufus Penn is not authorised to pass brakes" in answer.content.decode()


def test_a_failed_test_sends_it_back(phone, ready, mechanic):
    hand = phone(mechanic, ready.card)
    assert hand.press("test", kind="road", result="failed").status_code == 422
    hand.press("test", kind="road", result="failed", words="Pulls left")
    assert fresh(ready.card).state == "in hand"
    assert "Road test: failed" in hand.look()


def test_two_phones_the_second_is_told_what_the_first_did(phone, ready, mechanic, lead):
    bench.cautions_read(card=ready.card, by=lead)
    seen = fresh(ready.card).version
    phone(lead, ready.card).press("close", seen=seen, outcome="done", words="Closed by the lead")
    answer = phone(mechanic, ready.card).press("close", seen=seen, outcome="limit", words="My own words")
    page = phone(mechanic, ready.card).look()
    assert answer.status_code == 302
    assert "Asta Finch handed it in as well. Done, a limit is needed." in page
    assert "My own words" in page
    assert fresh(ready.card).outcome_words == "Closed by the lead"
    assert Act.objects.filter(act="card.close").count() == 1
    assert Act.objects.get(act="card.second_hand_in").detail["words"] == "My own words"


def test_what_another_did_meanwhile_is_told_without_refusing(phone, job, mechanic, lead):
    hand = phone(mechanic, job)
    hand.press("cautions")
    seen = fresh(job).version
    bench.hours_add(card=job, by=lead, hours="1")
    answer = hand.press("step", htmx=True, seen=seen, target=job.steps.first().pk, done="1")
    assert answer.status_code == 200
    assert "Another was at this job meanwhile" in answer.content.decode()
    assert "card-version" not in json.loads(answer.headers["HX-Trigger"])
    assert job.steps.first().done_at is not None


def test_a_press_with_script_changes_only_its_part(phone, job, mechanic):
    hand = phone(mechanic, job)
    hand.press("cautions")
    key = "44444444-aaaa-bbbb-cccc-000000000001"
    answer = hand.press(
        "step", htmx=True, key=key, seen=fresh(job).version, target=job.steps.first().pk, done="1"
    )
    page = answer.content.decode()
    told = json.loads(answer.headers["HX-Trigger"])
    assert page.lstrip().startswith('<section id="sec-steps"')
    assert page.count("<section") == 1
    assert 'id="job-waits" hx-swap-oob="true"' in page
    assert 'id="job-foot" class="jfoot onpaint" hx-swap-oob="true"' in page
    assert told == {"say": "Step 1 done.", "taken": key, "card-version": fresh(job).version}


def test_an_act_that_changes_everything_shows_the_page_anew(phone, job, mechanic):
    answer = phone(mechanic, job).press("take", htmx=True)
    assert answer.status_code == 204
    assert answer.headers["HX-Redirect"].startswith(f"/jobs/{job.pk}/?taken=")


def test_a_refusal_with_script_keeps_what_was_typed(phone, job, mechanic):
    answer = phone(mechanic, job).press(
        "safe", htmx=True, state_of_strip="On stands", parts_where="", next_step="Measure"
    )
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "On stands" in page
    assert 'value="Measure"' in page
    assert "Not taken yet" in page


def test_an_ended_sign_in_is_told_and_nothing_is_done(client, job):
    url = reverse("maintenance:card", args=[job.pk])
    answer = client.post(url, {"act": "take"}, headers={"HX-Request": "true"})
    assert answer.status_code == 401
    assert "nothing you typed is lost" in answer.content.decode()
    assert client.post(url, {"act": "take"}).url.startswith("/sign-in/")
    assert fresh(job).taken_by is None


def test_what_is_gone_is_told(phone, job, mechanic):
    hand = phone(mechanic, job)
    hand.press("cautions")
    assert hand.press("step", target="999999", done="1").status_code == 409
    assert hand.press("step", target="x", done="1").status_code == 409
    assert hand.press("step", done="1").status_code == 409
    assert hand.press("nonsense").status_code == 404
    assert hand.client.get("/jobs/999999/").status_code == 404


def test_a_step_of_another_job_is_not_reached_through_this_one(phone, job, mechanic, lead):
    other = cards.card_open(by=lead, vehicle=job.vehicle, title="Other", steps=["Only here"])
    hand = phone(mechanic, job)
    hand.press("cautions")
    assert hand.press("step", target=other.steps.get().pk, done="1").status_code == 409
    assert other.steps.get().done_at is None


WORK = ("take", "cautions", "step", "off", "safe", "hours", "hold")
MAY = {
    "mechanic": {*WORK, "reading", "test", "close", "part", "found"},
    "lead": {*WORK, "reading", "test", "close", "part", "found"},
    "driver": {"test", "found"},
    "coordinator": {"hold", "part", "found"},
    "manager": {"found"},
    "curator": {"reading", "found"},
    "administrator": {"found"},
}
TYPED = {
    "step": {"done": "1"}, "off": {"what": "Drum", "count": "1"}, "hours": {"hours": "1"},
    "safe": {"state_of_strip": "a", "parts_where": "b", "next_step": "c"}, "hold": {"reason": "part"},
    "reading": {"value_0": "3.4", "moment": "as found"}, "test": {"kind": "bench", "result": "passed"},
    "close": {"outcome": "not run", "words": "Cracked through"}, "part": {"name": "Spring", "quantity": "1"},
    "found": {"words": "Weeps"},
}  # fmt: skip


@pytest.mark.parametrize("role", sorted(MAY))
@pytest.mark.parametrize("act", sorted({*WORK, "reading", "test", "close", "part", "found"}))
def test_who_may_do_what(phone, job, cast, role, act):
    person = getattr(cast, role)
    if act in {"step", "off"} and role in {"mechanic", "lead"}:
        bench.cautions_read(card=job, by=person)
    typed = dict(TYPED.get(act, {}))
    if act == "step":
        typed["target"] = job.steps.first().pk
    if act == "reading":
        typed["target"] = job.measures.get().pk
    before = Act.objects.count()
    status = phone(person, job).press(act, **typed).status_code
    if act in MAY[role]:
        assert status == 302
    else:
        assert status in {403, 422}
        assert Act.objects.count() == before


def test_get_never_writes(phone, job, cast):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    for role in vars(cast).values():
        hand = phone(role, job)
        with CaptureQueriesContext(connection) as seen:
            assert hand.client.get(hand.url).status_code == 200
        assert [
            q["sql"]
            for q in seen
            if not q["sql"].lstrip().upper().startswith(("SELECT", "SAVEPOINT", "RELEASE"))
        ] == []


def test_same_fault_again_is_said_from_the_third(phone, job, mechanic, lead):
    from tests.factories import CardFactory

    hand = phone(mechanic, job)
    for place in range(3):
        assert "Same fault again" not in hand.look()
        CardFactory(
            vehicle=job.vehicle, subsystem=job.subsystem, state="passed", title=f"Adjusted {place}", ended_at=timezone.now(),
            outcome_words="Adjusted, went away",
        )  # fmt: skip
    page = hand.look()
    assert "Same fault again" in page
    assert "Adjusted 2" in page
    CardFactory(
        vehicle=job.vehicle,
        subsystem=job.subsystem,
        state="passed",
        created_at=timezone.now() - dt.timedelta(days=800),
    )
    assert "3 jobs on this system in 24 months" in hand.look()


def test_what_shares_the_way_in_is_offered_with_the_hours_saved(phone, job, mechanic, lead):
    from maintenance.models import Access

    way = Access.objects.create(name="wheel and drum", open_hours="0.5", close_hours="0.7", persons=2)
    cards.card_plan(card=job, by=lead, access=way)
    for title in ("Hub seal", "Cylinder"):
        cards.card_open(by=lead, vehicle=job.vehicle, title=title, access=way)
    page = phone(mechanic, job).look()
    assert "2 more behind it, 4.8 person-hours saved by one opening" in page


def test_tools_say_where_they_are(phone, job, mechanic, lead):
    from maintenance.models import SpecialTool

    away = SpecialTool.objects.create(
        name="Drum puller", keeper=lead, on_loan_to="the next shed", back_on=dt.date(2099, 1, 2)
    )
    cards.card_plan(card=job, by=lead, tools=[away])
    page = phone(mechanic, job).look()
    assert "with the next shed, back Fri 2 January" in page
    assert "Keeper: Berit Holm" in page


def test_a_fact_that_was_corrected_is_shown_ruled_through(phone, job, mechanic, lead):
    from fleet.services.facts import fact_add, fact_correct
    from maintenance.services.facts import fact_use_add

    fact = fact_add(
        by=lead, vehicle=job.vehicle, subsystem=job.subsystem, about="Drum", value="Standard", source="Told"
    )
    fact_use_add(fact=fact, by=lead, card=job)
    fact_correct(by=lead, fact=fact, value="Second oversize", source="Measured", reason="The stamp misled us")
    page = phone(mechanic, job).look()
    assert "Corrected since this job was planned" in page
    assert "<del>Standard</del> and is <ins>Second oversize</ins>" in page


def test_words_of_others_are_never_markup(phone, job, mechanic, lead):
    cards.card_plan(card=job, by=lead, title="<script>x</script>", why="<img src=x onerror=y>")
    page = phone(mechanic, job).look()
    assert "<script>x" not in page
    assert "<img src=x" not in page


def test_closing_is_said_in_words():
    from maintenance.phone.acts import said_at_close

    assert "do-not-run tag" in said_at_close("not run", [])
    assert said_at_close("done", []) == "Handed in and passed."
    assert (
        said_at_close("done", ["Road test not passed yet."])
        == "Handed in. It still waits: Road test not passed yet."
    )


@pytest.mark.parametrize(
    "state", ["assessed", "held", "passed", "not needed", "carried forward", "no fault found"]
)
def test_a_bare_job_in_any_state_has_a_page(phone, museum, vehicle, cast, state):
    """No system, no way in, no second signature, no steps: nothing to list, and it is said."""
    from tests.factories import CardFactory

    card = CardFactory(vehicle=vehicle, state=state, held_for="tool" if state == "held" else "")
    for person in vars(cast).values():
        hand = phone(person, card)
        page = hand.client.get(hand.url)
        assert page.status_code == 200
        assert "No caution is on file for this system." in page.content.decode()
