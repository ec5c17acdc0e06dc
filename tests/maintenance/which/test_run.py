"""The scripted brake run through the services, in any order of entry; steps taken back; how a sheet ends."""

import random

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from fleet.errors import Conflict
from fleet.models import Act
from maintenance.enums import NeedState
from maintenance.fault_sheet import NOT_TODAY
from maintenance.models import JobPhoto, WhichResult, WhichState
from maintenance.queries.which_part import which_detail
from maintenance.queries.which_part_page import which_page
from maintenance.services.which_part import (
    which_finish,
    which_open,
    which_overrule,
    which_reopen,
    which_result,
    which_typed_back,
    which_undo,
)
from tests.fleet.test_photos import picture
from tests.maintenance.which.conftest import RUN

pytestmark = pytest.mark.django_db

# Causes C1 to C6 after each step of the run, worked out independently of this program.
STEPS = [
    (0.10, 0.20, 0.18, 0.16, 0.07, 0.09),
    (0.11, 0.22, 0.20, 0.18, 0.08, 0.10),
    (0.12, 0.29, 0.25, 0.21, 0.08, 0.01),
    (0.12, 0.29, 0.25, 0.21, 0.08, 0.01),
    (0.16, 0.34, 0.33, 0.02, 0.10, 0.00),
    (0.03, 0.43, 0.39, 0.02, 0.12, 0.00),
    (0.01, 0.10, 0.06, 0.01, 0.82, 0.00),
    (0.00, 0.01, 0.00, 0.00, 0.99, 0.00),
]


def chances(sheet):
    """Chances of the causes as the page has them, not rounded."""
    from maintenance.fault_finding import posterior
    from maintenance.which_state import as_it_stands, corrected_facts, standing

    row = which_detail(sheet.pk)
    return posterior(as_it_stands(row, corrected_facts(row)), standing(row.results.all()))


def fill(by, sheet, run):
    for test, result in run:
        which_result(by=by, sheet=sheet, test=test, result=result)


def test_the_scripted_run_step_by_step(brakes, cast):
    done = list(RUN.items())
    for step, expected in enumerate(STEPS):
        if step:
            fill(cast.mechanic, brakes.sheet, [done[step - 1]])
        found = chances(brakes.sheet)
        assert [found[f"C{n}"] for n in range(1, 7)] == pytest.approx(expected, abs=0.01)
    page = which_page(which_detail(brakes.sheet.pk))
    assert (page.code, page.offered) == ("found", "C5")
    assert page.verdict == (
        "Offside drum oversize with a standard lining: 99%. Stop testing, and prove it by the repair."
    )
    assert [bar.text for bar in page.bars][4] == "99%"


@pytest.mark.parametrize("seed", range(8))
def test_the_order_of_entry_changes_nothing(brakes, cast, seed):
    order = list(RUN.items())
    random.Random(seed).shuffle(order)
    fill(cast.mechanic, brakes.sheet, order)
    found = chances(brakes.sheet)
    assert [found[f"C{n}"] for n in range(1, 7)] == pytest.approx(STEPS[-1], abs=0.01)


@pytest.mark.parametrize("seed", range(4))
def test_a_result_taken_back_leaves_no_trace_in_the_chances(brakes, cast, seed):
    dice = random.Random(seed)
    before = chances(brakes.sheet)
    rows = []
    for test, result in dice.sample(list(RUN.items()), 5):
        rows.append(which_result(by=cast.mechanic, sheet=brakes.sheet, test=test, result=result))
    dice.shuffle(rows)
    for row in rows:
        which_undo(by=cast.lead, result=row)
    assert chances(brakes.sheet) == before
    steps = which_page(which_detail(brakes.sheet.pk)).steps
    assert len(steps) == 5
    assert {step.row.undone_by for step in steps} == {cast.lead}
    assert {step.row.by for step in steps} == {cast.mechanic}


def test_taken_back_twice_is_taken_back_once(brakes, cast):
    row = which_result(by=cast.mechanic, sheet=brakes.sheet, test="T1", result="unequal")
    first = which_undo(by=cast.mechanic, result=row)
    again = which_undo(by=cast.lead, result=row)
    assert (again.undone_by, again.undone_at) == (cast.mechanic, first.undone_at)
    assert Act.objects.filter(act="which.undo").count() == 1
    with pytest.raises(PermissionDenied, match="never rubbed out"):
        row.delete()


def test_two_results_for_one_test_the_second_is_told_who_was_first(brakes, cast):
    which_result(by=cast.mechanic, sheet=brakes.sheet, test="T1", result="alike")
    with pytest.raises(Conflict, match="Asta Finch wrote “alike” for it"):
        which_result(by=cast.lead, sheet=brakes.sheet, test="T1", result="unequal")
    which_result(by=cast.lead, sheet=brakes.sheet, test="T4", result="firm")  # another test goes in beside it
    assert set(brakes.sheet.results.values_list("test", "result")) == {("T1", "alike"), ("T4", "firm")}


def test_not_possible_today_is_no_evidence(brakes, cast):
    before = chances(brakes.sheet)
    which_result(by=cast.mechanic, sheet=brakes.sheet, test="T1", result=NOT_TODAY)
    assert chances(brakes.sheet) == before
    page = which_page(which_detail(brakes.sheet.pk))
    assert "T1" not in {one.key for one in page.ahead}
    assert [bar.cells[0].word for bar in page.bars] == [""] * 9


@pytest.mark.parametrize(
    ("raw", "result"),
    [("0.5", "alike within 0.5 mm"), ("0,51", "more than 0.5 mm apart"), ("1.5", "more than 0.5 mm apart")],
)
def test_the_figure_decides_by_the_limit(brakes, cast, raw, result):
    row = which_result(by=cast.mechanic, sheet=brakes.sheet, test="T7", raw=raw)
    assert (row.result, row.unit, row.raw) == (result, "mm", raw.replace(",", "."))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"test": "T7", "raw": "1.5", "result": "alike within 0.5 mm"}, "means “more than 0.5 mm apart”"),
        ({"test": "T7", "raw": "wide"}, "is not a number"),
        ({"test": "T1", "result": "sometimes"}, "has no result"),
        ({"test": "T1"}, "Choose what it gave"),
        ({"test": "T9", "result": "alike"}, "has no test"),
    ],
)
def test_what_cannot_be_taken_is_refused(brakes, cast, words, said):
    with pytest.raises(ValidationError, match=said):
        which_result(by=cast.mechanic, sheet=brakes.sheet, **words)
    assert not WhichResult.objects.exists()


def test_only_the_workshop_fills_a_sheet(brakes, cast):
    for role in ("driver", "coordinator", "manager", "curator", "administrator"):
        with pytest.raises(PermissionDenied):
            which_result(by=getattr(cast, role), sheet=brakes.sheet, test="T1", result="alike")


def test_a_trainee_fills_and_does_not_end(brakes, cast):
    cast.mechanic.is_trainee = True
    cast.mechanic.save()
    which_result(by=cast.mechanic, sheet=brakes.sheet, test="T1", result="alike")
    with pytest.raises(PermissionDenied, match="does not end it"):
        which_finish(by=cast.mechanic, sheet=brakes.sheet, cause="C2")


def test_a_finished_sheet_writes_the_job(brakes, cast):
    from fleet.services.photos import photo_add

    photo = photo_add(by=cast.mechanic, upload=picture(), vehicle=brakes.vehicle)
    which_result(by=cast.mechanic, sheet=brakes.sheet, test="T6", result="narrow contact band", photo=photo)
    which_result(by=cast.mechanic, sheet=brakes.sheet, test="T7", raw="1.5")
    which_result(by=cast.mechanic, sheet=brakes.sheet, test="T1", result=NOT_TODAY)
    which_finish(
        by=cast.mechanic, sheet=brakes.sheet, cause="C5", words="measured", parts=["oversize lining set", " "]
    )
    brakes.card.refresh_from_db()
    assert brakes.card.outcome_words.splitlines() == [
        "Cause found: Offside drum oversize with a standard lining. Fit lining to suit the drum, or another drum; "
        "pair by axle. Check what is written about the drum.",
        "As found, by Brakes pull to the nearside: Offside drum off, look: narrow contact band; Measure the drum bore on "
        "both sides, two axes: more than 0.5 mm apart (1.5 mm).",
    ]
    assert [(part.name, part.state) for part in brakes.card.parts.all()] == [
        ("oversize lining set", NeedState.NOT_ORDERED)
    ]
    assert JobPhoto.objects.get(card=brakes.card).moment == "as found"
    brakes.sheet.refresh_from_db()
    assert (brakes.sheet.state, brakes.sheet.cause) == (WhichState.FOUND, "C5")
    with pytest.raises(Conflict, match="has ended"):
        which_result(by=cast.mechanic, sheet=brakes.sheet, test="T2", result="alike")


def test_ending_without_a_cause_wants_words(brakes, cast):
    with pytest.raises(ValidationError, match="Write how it ended"):
        which_finish(by=cast.mechanic, sheet=brakes.sheet, cause="")
    with pytest.raises(ValidationError, match="no such cause"):
        which_finish(by=cast.mechanic, sheet=brakes.sheet, cause="C99")
    which_finish(by=cast.mechanic, sheet=brakes.sheet, cause="", words="Drove straight at last.")
    brakes.card.refresh_from_db()
    assert brakes.card.outcome_words == "Cause not found: Drove straight at last."


def test_opened_again_with_a_reason(brakes, cast):
    which_finish(by=cast.mechanic, sheet=brakes.sheet, cause="C2")
    with pytest.raises(ValidationError, match="Write why"):
        which_reopen(by=cast.lead, sheet=brakes.sheet, why=" ")
    row = which_reopen(by=cast.lead, sheet=brakes.sheet, why="pulled again on the way home")
    assert (row.state, row.cause) == (WhichState.OPEN, "")
    line = Act.objects.filter(act="which.reopen").latest("pk")
    assert line.detail["cause"] == "Offside wheel cylinder stuck"


def test_one_open_sheet_a_job_and_complaint(brakes, cast):
    with pytest.raises(ValidationError, match="is being worked for job"):
        which_open(by=cast.lead, vehicle=brakes.vehicle, template="brakes-pull", card=brakes.card)
    which_open(by=cast.lead, vehicle=brakes.vehicle, template="steering-wander", card=brakes.card)


def test_parts_want_a_job(vehicle, cast):
    sheet = which_open(by=cast.mechanic, vehicle=vehicle, template="charging")
    with pytest.raises(ValidationError, match="No job stands"):
        which_finish(by=cast.mechanic, sheet=sheet, cause="belt", parts=["belt"])


def test_paper_typed_back_all_or_nothing(brakes, cast):
    good = {"test": "T1", "result": "alike", "raw": "", "words": "cold"}
    bad = {"test": "T7", "result": "", "raw": "wide", "words": ""}
    with pytest.raises(ValidationError, match="Measure the drum bore on both sides, two axes: “wide”"):
        which_typed_back(by=cast.mechanic, sheet=brakes.sheet, rows=[good, bad])
    assert not WhichResult.objects.exists()
    which_typed_back(by=cast.mechanic, sheet=brakes.sheet, rows=[good, {**bad, "raw": "0.2"}])
    assert set(WhichResult.objects.values_list("test", "result", "in_version")) == {
        ("T1", "alike", 2),
        ("T7", "alike within 0.5 mm", 2),
    }


def test_results_that_fit_nothing_raise_a_doubt(brakes, cast):
    fill(
        cast.mechanic, brakes.sheet,
        [("T1", "unequal"), ("T2", "nearside hot"), ("T3", "offside slack"), ("T4", "moves"), ("T5", "bubbles")],
    )  # fmt: skip
    page = which_page(which_detail(brakes.sheet.pk))
    assert (page.code, page.must_not_run) == ("doubt", True)
    assert "more than one fault" in page.verdict
    assert page.odd.startswith("test ")
    with pytest.raises(ValidationError, match="no such thing"):
        which_overrule(by=cast.mechanic, sheet=brakes.sheet, lean=0)
