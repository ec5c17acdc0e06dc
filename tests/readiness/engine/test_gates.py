"""Gates, hand-worked on both sides of each edge. Rules of the trade are *common practice*; the ladder is the museum's."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from readiness.engine import gates, state
from tests.readiness.engine.cases import (
    FAR,
    T,
    at,
    codes,
    day,
    defect,
    deferral,
    entry,
    event,
    inspections,
    job,
    judge,
    limit,
    museum,
    slot,
    vehicle,
)  # fmt: skip


def test_everything_in_order_is_fit() -> None:
    verdict = judge(vehicle())
    assert (verdict.standing, verdict.reasons) == ("fit", ())


@pytest.mark.parametrize(
    ("role", "function", "effect", "standing"),
    [
        ("arena", "ROLL", "lost", "open"), ("arena", "ROLL", "reduced", "open"), ("arena", "ROLL", "watch", "fit"),
        ("arena", "STOP", "reduced", "open"), ("static", "STOP", "lost", "fit"), ("arena", "SHOW", "lost", "fit"),
        ("road", "SHOW", "reduced", "open"), ("rides", "CARRY", "watch", "fit"), ("static", "FUEL", "reduced", "open"),
        ("arena", "POWER", "lost", "fit"), ("road", "POWER", "lost", "open"), ("static", "LOOK", "lost", "fit"),
    ],
)  # fmt: skip
def test_role_table(role: str, function: str, effect: str, standing: str) -> None:
    found = defect(effect, function, jobs=("J1",))
    verdict = judge(vehicle(defects=(found,), jobs=(job(functions=frozenset()),)), entry(slot(role)))
    assert verdict.standing == standing


def test_open_names_the_job_that_clears_it() -> None:
    verdict = judge(vehicle(defects=(defect("lost", jobs=("J1",)),), jobs=(job(),)))
    assert (verdict.needs, verdict.impossible) == (("J1",), False)


def test_reduced_under_a_signed_limit_passes_R_and_shows_in_every_slot() -> None:
    carried = defect("reduced", "ROLL", deferrals=(deferral(limit("arena only")),))
    assert judge(vehicle(defects=(carried,))).standing == "limits"
    elsewhere = defect("reduced", "SHOW", deferrals=(deferral(limit("daylight only")),))
    assert judge(vehicle(defects=(elsewhere,))).standing == "limits"  # even where the role does not ask


def test_a_limit_never_satisfies_an_exclamation_mark() -> None:
    carried = defect("reduced", "STOP", deferrals=(deferral(limit("arena only")),))
    verdict = judge(vehicle(defects=(carried,)))
    assert (verdict.standing, codes(verdict, "barred")) == ("barred", ["carried-forward-on-need"])


def test_carried_forward_on_need_is_open_while_work_lifts_it() -> None:
    carried = defect("reduced", "STOP", deferrals=(deferral(limit("arena only")),), jobs=("J1",))
    assert judge(vehicle(defects=(carried,), jobs=(job(),))).standing == "open"
    put_off = job(state="carried forward")
    assert judge(vehicle(defects=(carried,), jobs=(put_off,))).standing == "barred"
    later = job(before_event=False)
    assert judge(vehicle(defects=(carried,), jobs=(later,))).standing == "barred"


def test_no_card_and_no_deferral_is_open_and_impossible() -> None:
    verdict = judge(vehicle(defects=(defect("reduced"),)))
    assert (verdict.standing, verdict.impossible, codes(verdict, "open")) == (
        "open",
        True,
        ["no-work-before-freeze"],
    )
    assert gates.with_chance(verdict, 0) == "unlikely"


@pytest.mark.parametrize(("ends", "standing"), [(0, "limits"), (-1, "open")])
def test_deferral_is_valid_through_its_last_day(ends: int, standing: str) -> None:
    carried = defect("reduced", deferrals=(deferral(limit("arena only"), ends_on=day(ends)),))
    assert judge(vehicle(defects=(carried,))).standing == standing


def test_lapsed_deferral_of_a_function_not_asked_does_not_block_but_is_said() -> None:
    carried = defect("reduced", "SHOW", deferrals=(deferral(limit("daylight only"), ends_on=day(-1)),))
    verdict = judge(vehicle(defects=(carried,)))
    assert (verdict.standing, codes(verdict)) == ("fit", ["defect-not-asked"])


@pytest.mark.parametrize(
    ("without", "signers", "standing"),
    [
        ("2C", (("P1", "lead"),), "open"),  # Serious: the manager is missing
        ("2C", (("P1", "lead"), ("P2", "manager")), "limits"),
        ("2C", (("P1", "lead"), ("P1", "manager")), "open"),  # one person is not two signers
        ("3C", (("P1", "lead"),), "limits"), ("3C", (("P1", "mechanic"),), "open"), ("3C", (), "open"),
        ("4C", (("P1", "mechanic"),), "limits"), ("4C", (("P1", "lead"),), "limits"),
        ("1C", (("P1", "lead"), ("P2", "manager")), "open"),  # High is refused whoever signs
    ],
)  # fmt: skip
def test_too_few_signers_is_no_deferral(
    without: str, signers: tuple[tuple[str, str], ...], standing: str
) -> None:
    """Levels by MIL-STD-882E Table III; who signs is the museum's own ladder."""
    put_off = deferral(
        limit("arena only"), severity_without=int(without[0]), probability_without=without[1], severity_with=int(without[0]),
        probability_with="E", signers=signers,
    )  # fmt: skip
    carried = defect("reduced", deferrals=(put_off,), severity=int(without[0]), probability=without[1])
    assert judge(vehicle(defects=(carried,))).standing == standing


def test_a_term_longer_than_the_ladder_ends_where_the_ladder_says() -> None:
    """Medium with the limit: 90 days from signing, 180 when static only or locked."""
    signed = day(-91)
    plain = deferral(limit("arena only"), signed_on=signed, ends_on=day(100))
    assert judge(vehicle(defects=(defect("reduced", deferrals=(plain,)),))).standing == "open"
    just = deferral(limit("arena only"), signed_on=day(-90), ends_on=day(100))
    assert judge(vehicle(defects=(defect("reduced", deferrals=(just,)),))).standing == "limits"
    locked = deferral(limit("equipment locked"), signed_on=signed, ends_on=day(100))
    ticked = entry(ticks=frozenset({"L1"}))
    assert judge(vehicle(defects=(defect("reduced", deferrals=(locked,)),)), ticked).standing == "limits"


@pytest.mark.parametrize(
    ("kind", "value", "role", "change", "state_of"),
    [
        ("static only", None, "static", {}, "limits"), ("static only", None, "running", {}, "barred"),
        ("arena only", None, "running", {}, "limits"), ("arena only", None, "road", {}, "barred"),
        ("no arena", None, "arena", {}, "barred"), ("no road", None, "road", {}, "barred"),
        ("no passengers", None, "rides", {}, "barred"),
        ("max speed", "20", "arena", {"speed_kmh": Decimal(20)}, "limits"),
        ("max speed", "20", "arena", {"speed_kmh": Decimal("20.1")}, "barred"),
        ("max speed", "20", "arena", {}, "limits"),
        ("minutes per outing", "60", "arena", {}, "limits"), ("minutes per outing", "59", "arena", {}, "barred"),
        ("km per outing", "18", "road", {"km": Decimal(18)}, "limits"),
        ("km per outing", "18", "road", {"km": Decimal("18.01")}, "barred"),
        ("daylight only", None, "road", {"ends": at(0, "20:40")}, "limits"),
        ("daylight only", None, "road", {"ends": at(0, "20:41")}, "barred"),
        ("daylight only", None, "road", {"starts": at(0, "04:59")}, "barred"),
        ("daylight only", None, "road", {"sunset": None}, "unjudged"),
        ("daylight only", None, "static", {"ends": at(0, "23:00")}, "limits"),
    ],
)  # fmt: skip
def test_limit_against_slot(
    kind: str, value: str | None, role: str, change: dict[str, object], state_of: str
) -> None:
    carried = defect("reduced", "TELL", deferrals=(deferral(limit(kind, value)),))
    verdict = judge(vehicle(defects=(carried,)), entry(slot(role, **change)))
    assert verdict.standing == state_of


def test_limit_per_day_fails_the_slot_that_passes_the_total_and_those_after() -> None:
    carried = defect("reduced", deferrals=(deferral(limit("minutes per day", "105")),))
    first = entry(slot(start="10:00", end="11:00", uid="a"), uid="Ea")
    second = entry(slot(start="12:00", end="12:45", uid="b"), uid="Eb")
    third = entry(slot(start="14:00", end="14:10", uid="c"), uid="Ec")
    v = vehicle(defects=(carried,))
    assert judge(v, first, others=(second, third)).standing == "limits"
    assert judge(v, second, others=(first, third)).standing == "limits"  # 105 of 105: equal passes
    assert judge(v, third, others=(first, second)).standing == "barred"


def test_free_text_waits_for_a_tick() -> None:
    carried = defect("reduced", deferrals=(deferral(limit("free text", words="drip tray")),))
    v = vehicle(defects=(carried,))
    verdict = judge(v)
    assert (verdict.standing, verdict.impossible, codes(verdict, "open")) == (
        "open",
        True,
        ["limit-not-ticked"],
    )
    assert judge(v, entry(ticks=frozenset({"L1"}))).standing == "limits"


def test_unassessed_defect_is_not_judged_only_where_it_touches() -> None:
    unsure = defect(assessed=False, effects=(), touches=frozenset({"STOP"}))
    assert judge(vehicle(defects=(unsure,))).standing == "unjudged"
    assert judge(vehicle(defects=(unsure,)), entry(slot("static"))).standing == "fit"
    anywhere = defect(assessed=False, effects=(), touches=frozenset(), unsure=True)
    assert judge(vehicle(defects=(anywhere,)), entry(slot("static"))).standing == "unjudged"


def test_high_gates_by_itself() -> None:
    """1C is High in MIL-STD-882E Table III; a watch effect would not block otherwise."""
    high = defect("watch", severity=1, probability="C", jobs=("J1",))
    verdict = judge(vehicle(defects=(high,), jobs=(job(),)))
    assert codes(verdict, "open") == ["risk-high"]
    assert judge(vehicle(defects=(high,)), entry(slot("static"))).standing == "fit"
    serious = defect("watch", severity=2, probability="C")
    assert judge(vehicle(defects=(serious,))).standing == "fit"


@pytest.mark.parametrize(
    ("tag", "jobs", "role", "standing"),
    [
        (state.TagState(uid="t", job="J1"), (job(),), "arena", "open"),
        (state.TagState(uid="t", job="J1"), (job(state="carried forward"),), "arena", "down"),
        (state.TagState(uid="t"), (), "arena", "down"), (state.TagState(uid="t"), (), "static", "limits"),
        (state.TagState(uid="t", job="J1", job_done=True), (), "arena", "open"),
    ],
)  # fmt: skip
def test_do_not_run(tag: state.TagState, jobs: tuple[state.Job, ...], role: str, standing: str) -> None:
    verdict = judge(vehicle(tag=tag, jobs=jobs), entry(slot(role)))
    assert verdict.standing == standing


def test_withdrawn_stands_down_in_every_role() -> None:
    assert judge(vehicle(status="laid up"), entry(slot("static"))).standing == "down"


@pytest.mark.parametrize(("through", "standing"), [(0, "fit"), (-1, "open")])
def test_inspection_is_valid_through_its_day(through: int, standing: str) -> None:
    rows = (replace(inspections()[0], valid_through=day(through)), *inspections()[1:])
    verdict = judge(vehicle(inspections=rows))
    assert verdict.standing == standing
    assert verdict.needs == (("inspection:I-brake reading",) if standing == "open" else ())


def test_a_slot_past_midnight_asks_for_the_day_it_ends() -> None:
    rows = (replace(inspections()[0], valid_through=T), *inspections()[1:])
    late = slot(start="23:00", ends=at(1, "00:30"))
    assert judge(vehicle(inspections=rows), entry(late)).standing == "open"


@pytest.mark.parametrize(("left", "standing"), [("1.0", "fit"), ("0.9", "open")])
def test_meter_equal_to_the_limit_passes(left: str, standing: str) -> None:
    oil = state.Inspection(
        uid="oil", kind="service", name="oil", meter="hours", valid_meter=Decimal(100) + Decimal(left)
    )
    meter = state.MeterState(kind="hours", total=Decimal(100), read_at=at(-35, "07:00"))
    verdict = judge(vehicle(inspections=(*inspections(), oil), meters=(meter,)))
    assert verdict.standing == standing


def test_unread_meter_is_not_judged() -> None:
    oil = state.Inspection(uid="oil", kind="service", name="oil", meter="hours", valid_meter=Decimal(100))
    verdict = judge(vehicle(inspections=(*inspections(), oil)))
    assert codes(verdict, "unjudged") == ["meter-not-read"]


def test_interval_that_the_table_does_not_name_gates_moving_roles_only() -> None:
    gun = state.Inspection(uid="gun", kind="weapon", name="gun", valid_through=day(-1))
    v = vehicle(inspections=(*inspections(), gun))
    assert judge(v, entry(slot("arena"))).standing == "open"
    verdict = judge(v, entry(slot("running")))
    assert (verdict.standing, codes(verdict)) == ("fit", ["interval-noted"])


def test_a_repair_voids_what_it_touches() -> None:
    brakes = job(voids=frozenset({"brake reading"}))
    verdict = judge(vehicle(defects=(defect("reduced", "STOP", jobs=("J1",)),), jobs=(brakes,)))
    assert verdict.needs == ("J1", "inspection:I-brake reading")
    static = judge(
        vehicle(defects=(defect("reduced", "FUEL", jobs=("J1",)),), jobs=(brakes,)), entry(slot("static"))
    )
    assert static.needs == ("J1",)  # static display asks for no brake reading


def test_voided_inspection_is_open_until_repeated() -> None:
    rows = (replace(inspections()[0], voided=True), *inspections()[1:])
    verdict = judge(vehicle(inspections=rows))
    assert codes(verdict, "open") == ["inspection-voided"]


def test_outside_visit_not_booked_clears_nothing() -> None:
    rows = (replace(inspections()[0], valid_through=day(-1), outside=True), *inspections()[1:])
    assert judge(vehicle(inspections=rows)).impossible is True
    booked = (replace(rows[0], booked_on=day(-5)), *rows[1:])
    assert judge(vehicle(inspections=booked)).impossible is False


def test_inspection_never_done_and_none_on_file_are_not_judged() -> None:
    never = (replace(inspections()[0], valid_through=None, unknown=True), *inspections()[1:])
    assert codes(judge(vehicle(inspections=never)), "unjudged") == ["inspection-not-known"]
    assert judge(vehicle(inspections=inspections()[1:])).standing == "unjudged"


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"stripped": True}, "stripped-not-refitted"),
        ({"refit_done": True, "tests_missing": ("road test",)}, "test-missing"),
        ({"refit_done": True, "signature_missing": "brakes"}, "second-signature-missing"),
    ],
)
def test_unfinished_card_gates_where_its_function_is_asked(change: dict[str, object], code: str) -> None:
    v = vehicle(jobs=(job(**change),))
    assert codes(judge(v), "open") == [code]
    asked_not = judge(v, entry(slot("static")))
    assert (asked_not.standing, codes(asked_not, "note")) == ("fit", [code])


def test_part_need_not_known_and_consent() -> None:
    v = vehicle(defects=(defect("lost", jobs=("J1",)),), jobs=(job(unknown_parts=(("PT1", "needle"),)),))
    verdict = judge(v)
    assert (verdict.is_open, verdict.is_unjudged) == (True, True)
    assert gates.with_chance(verdict, 90) == "unjudged"  # the worse of Likely and Not judged
    assert gates.with_chance(verdict, 10) == "unlikely"
    asked = vehicle(defects=(defect("lost", jobs=("J1",)),), jobs=(job(consent="wanted"),))
    assert "consent-outstanding" in codes(judge(asked), "open")
    aside = vehicle(jobs=(job(consent="wanted"),))
    assert judge(aside).standing == "fit"  # consent blocks only through a card that gates


def test_a_lent_vehicle_needs_its_owners_consent() -> None:
    mine = (("driver card", FAR), ("risk assessment", FAR))
    assert judge(vehicle(papers=mine)).standing == "fit"
    assert "paper-not-known" in {str(r.code.value) for r in judge(vehicle(papers=mine, lent=True)).reasons}
    assert judge(vehicle(papers=mine, lent=True)).standing == "unjudged"
    assert judge(vehicle(papers=(*mine, ("owner consent", T)), lent=True)).standing == "fit"
    assert judge(vehicle(papers=(*mine, ("owner consent", None)), lent=True)).standing == "fit"
    assert judge(vehicle(papers=(*mine, ("owner consent", day(-1))), lent=True)).standing == "open"


def test_papers() -> None:
    few = vehicle(papers=(("driver card", FAR),))
    assert judge(few).standing == "unjudged"
    ended = vehicle(papers=(("driver card", FAR), ("risk assessment", day(-1))))
    verdict = judge(ended)
    assert (verdict.standing, verdict.impossible) == ("open", True)
    assert judge(vehicle(papers=(("driver card", None), ("risk assessment", T)))).standing == "fit"


@pytest.mark.parametrize(("days_before", "asked"), [(8, False), (7, True), (0, True)])
def test_event_checks_are_asked_from_seven_days_before(days_before: int, asked: bool) -> None:
    verdict = judge(vehicle(), now=at(-days_before, "08:00"))
    assert (verdict.standing == "open") is asked
    assert verdict.impossible is False
    done = frozenset({("event", T), ("condition before", T), ("first parade", T)})
    assert judge(vehicle(checks_done=done), now=at(-days_before, "08:00")).standing == "fit"


def test_overdue_after_use_check_holds_every_later_slot() -> None:
    v = vehicle(overdue_after_use=day(-3))
    assert codes(judge(v), "open") == ["after-use-overdue"]
    assert judge(v, entry(slot("static"))).standing == "open"


def test_closed_crew_space_asks_for_a_carbon_monoxide_check() -> None:
    v = vehicle(closed=True)
    assert judge(v).standing == "unjudged"
    assert judge(v, entry(slot("running"), crewed_inside=False)).standing == "fit"
    assert judge(v, entry(slot("running"))).standing == "unjudged"


def test_standby_is_judged_by_what_it_covers() -> None:
    other = vehicle(uid="V2", name="Other")
    covered = entry(slot("road", uid="road"), uid="E2", vehicle="V2")
    stand = slot("standby", "09:00", "17:00", uid="stand")
    mine = entry(stand, covers="V2", ready_minutes=20)
    bad = vehicle(defects=(defect("reduced", "SHOW", jobs=("J1",)),), jobs=(job(),))
    ev = event(mine, covered)
    whole = museum(bad, other, the_event=ev)
    assert gates.judge(whole, ev, mine).standing == "open"  # road asks for SHOW
    nothing = entry(stand, covers="V9", ready_minutes=20)
    assert (
        gates.judge(museum(bad, other, the_event=event(nothing)), event(nothing), nothing).standing
        == "unjudged"
    )


def test_swapping_a_vehicle_forecasts_its_own_meter() -> None:
    annual = state.Inspection(uid="km", kind="service", name="km", meter="km", valid_meter=Decimal(140))
    meter = state.MeterState(kind="km", total=Decimal(0), read_at=at(-35, "07:00"))
    v = vehicle(inspections=(*inspections(), annual), meters=(meter,))
    one = entry(slot("road", km=Decimal(96)))
    assert judge(v, one).standing == "fit"
    more = entry(slot("road", km=Decimal(192), runs=16))
    verdict = judge(v, more)
    assert verdict.standing == "open"
    assert "run 12" in verdict.reasons[0].words  # 140 km at 12 km a run: the twelfth run passes it


def test_order_of_rows_never_matters() -> None:
    faults = (
        defect("lost", uid="D1", jobs=("J1",)),
        defect("watch", "COOL", uid="D2"),
        defect("reduced", "TELL", uid="D3"),
    )
    one = judge(vehicle(defects=faults, jobs=(job(), job(uid="J2"))))
    other = judge(vehicle(defects=faults[::-1], jobs=(job(uid="J2"), job()), inspections=inspections()[::-1]))
    assert one == other


def test_chance_is_classified_by_the_whole_number_shown() -> None:
    verdict = judge(vehicle(defects=(defect("lost", jobs=("J1",)),), jobs=(job(),)))
    assert [gates.with_chance(verdict, p) for p in (100, 75, 74, 25, 24, 0)] == [
        "likely", "likely", "doubtful", "doubtful", "unlikely", "unlikely",
    ]  # fmt: skip


def test_worst_standing_first() -> None:
    assert gates.worst(["fit", "likely", "unjudged", "doubtful"]) == "doubtful"
    assert gates.worst(["barred", "down", "unlikely"]) == "down"
